//! A clip as it grows while a file is read: people come in keypoints and stay in joints.
//!
//! In: detections in any order of frames, each with all its keypoints, and what the file says of their names.
//! Out: a [`Recording`]. The layout is settled by the first person who has points; of everybody only the joints
//! are kept. Coordinates, axes and units stay the file's.

use super::growing::Growing;
use super::layout::{Known, Layout};
use super::{ReadOptions, gather, limits};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::{Detection, Frames, Recording};

/// Orders of keypoints that estimators of whole pictures share, told apart by their number.
pub const USUAL: [&str; 7] = [
    "coco-17",
    "halpe-26",
    "wholebody-133",
    "halpe-136",
    "halpe-68",
    "spine-37",
    "synth-52",
];

/// A growing clip.
pub struct Clip<'a> {
    options: &'a ReadOptions,
    models: &'a Models,
    usual: &'a [&'a str],
    usual_in_space: &'a [&'a str],
    names: Option<Vec<String>>,
    layout: Option<Layout>,
    frames: Growing,
    scores: Scores,
}

/// The third numbers of the points so far.
struct Scores {
    highest: f32,
    /// Whether every one was 0, 1 or 2, which are marks of an annotator and no scores.
    only_flags: bool,
}

impl Scores {
    /// Looks at a point's score; a point without one is missing.
    fn weigh<const N: usize>(&mut self, point: &mut [f32; N]) {
        let score = point.last().copied().unwrap_or(f32::NAN);
        self.only_flags &= [0.0, 1.0, 2.0].contains(&score);
        if score > 0.0 {
            self.highest = self.highest.max(score);
        } else {
            *point = [f32::NAN; N];
        }
    }
}

impl<'a> Clip<'a> {
    /// An empty clip of a format with these usual layouts.
    pub fn new(options: &'a ReadOptions, models: &'a Models, usual: &'a [&'a str]) -> Clip<'a> {
        Clip {
            options,
            models,
            usual,
            usual_in_space: usual,
            names: None,
            layout: None,
            frames: Growing::default(),
            scores: Scores {
                highest: 0.0,
                only_flags: true,
            },
        }
    }

    /// States other usual layouts, as long as none is settled.
    pub fn expect(&mut self, usual: &'a [&'a str]) {
        self.usual = usual;
    }

    /// States the usual layouts of points that have a place in space only.
    pub fn expect_in_space(&mut self, usual: &'a [&'a str]) {
        self.usual_in_space = usual;
    }

    /// States the names of the keypoints in the file's order; they count if there are as many as points.
    pub fn name(&mut self, names: Vec<String>) {
        self.names = Some(names);
    }

    /// Settles the layout as one whose points the format names by their place.
    ///
    /// # Errors
    /// There is no such layout.
    pub fn settle_as(&mut self, layout: &str, place: &Place) -> Result<(), Fault> {
        let count = self
            .models
            .skeleton(layout)
            .map_or(0, |skeleton| skeleton.keypoints.len());
        let known = Known {
            names: None,
            count,
            stated: Some(layout),
            usual: &[],
        };
        self.layout = Some(Layout::settle(known, self.models, place)?);
        Ok(())
    }

    /// Id of the layout, once it is settled.
    pub fn layout_id(&self) -> Option<&str> {
        self.layout.as_ref().map(|layout| layout.id.as_str())
    }

    /// Keeps the people's ids if every one of them is one, else none.
    pub fn keep_ids_if_all(&mut self, is_id: fn(&str) -> bool) {
        let is_none = |one: &Detection| one.id.as_deref().is_some_and(|id| !is_id(id));
        if self.frames.any_person(is_none) {
            self.frames.change_people(|one| one.id = None);
        }
    }

    /// Whether every third number so far is the mark of an annotator and no score.
    pub fn has_only_flags(&self) -> bool {
        self.scores.only_flags
    }

    /// A frame, if it is not there yet: nobody may be in it.
    ///
    /// # Errors
    /// More frames than the limit.
    pub fn frame(&mut self, number: i64, place: &Place) -> Result<(), Fault> {
        self.people(number, place).map(|_| ())
    }

    fn people(&mut self, number: i64, place: &Place) -> Result<&mut Vec<Detection>, Fault> {
        if self.frames.len() >= limits::FRAMES && !self.frames.knows(number) {
            return Err(limits::frames(place.clone()));
        }
        Ok(self.frames.people(number))
    }

    /// A person of a frame in keypoints. A point whose score is not above 0 is missing; a person without
    /// points only makes the frame.
    ///
    /// # Errors
    /// Another number of keypoints than before, or one that no layout has.
    pub fn person(&mut self, number: i64, mut one: Detection, place: &Place) -> Result<(), Fault> {
        let counts = [one.picture.len(), one.space.len()];
        let count = counts.into_iter().max().unwrap_or_default();
        if count == 0 {
            return self.frame(number, place);
        }
        let layout = match &mut self.layout {
            Some(layout) => layout,
            unsettled => {
                let usual = match one.picture.is_empty() {
                    true => self.usual_in_space,
                    false => self.usual,
                };
                let names = self.names.as_deref();
                let known = Known {
                    names: names.filter(|names| names.len() == count),
                    count,
                    stated: self.options.layout.as_deref(),
                    usual,
                };
                let place = place.clone().frame(number).field("keypoints");
                unsettled.insert(Layout::settle(known, self.models, &place)?)
            }
        };
        let wrong = counts
            .into_iter()
            .find(|count| *count != 0 && *count != layout.keypoints);
        if let Some(wrong) = wrong {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("{wrong} keypoints where {} were expected", layout.keypoints),
                place.clone().frame(number),
                "exporting again; every person needs the same points",
            ));
        }
        let scores = &mut self.scores;
        one.picture.iter_mut().for_each(|point| scores.weigh(point));
        one.space.iter_mut().for_each(|point| scores.weigh(point));
        let joints = gather::joints(one, layout);
        let people = self.people(number, place)?;
        if people.len() < limits::PEOPLE {
            // One person is the rule, and a list that grows by itself begins with room for four.
            if people.is_empty() {
                people.reserve_exact(1);
            }
            people.extend(joints);
        }
        Ok(())
    }

    /// The recording, with what is the same for every format.
    ///
    /// # Errors
    /// Nobody was in any frame.
    pub fn finish(mut self, reader: &'static str, place: Place) -> Result<Recording, Fault> {
        let mut frames = std::mem::take(&mut self.frames).finish();
        let anybody = frames.any(|frame| !frame.people.is_empty());
        let Some(layout) = self.layout.take().filter(|_| anybody) else {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/no-person",
                format!("none of {} frames holds a person", frames.len()),
                place,
                "filming with the whole upper body in the picture, or exporting keypoints and not boxes",
            ));
        };
        let mut recording = Recording {
            layout_by_count: layout.by_count,
            ..Recording::new(reader, layout.id.clone(), layout.joints.clone())
        };
        if self.scores.highest > 1.0 && !self.scores.only_flags {
            recording.notes.push(Note::new(
                "read/score-over-one",
                format!("Scores reach {:.2}.", self.scores.highest),
            ));
        }
        drop_shared_ids(&mut frames, &mut recording.notes);
        recording.frames = frames;
        Ok(recording)
    }
}

/// An id that two people of one frame have tells nobody from another: some estimators write 0 for everybody when they
/// do not follow people.
fn drop_shared_ids(frames: &mut Frames, notes: &mut Vec<Note>) {
    let shared = |people: &[Detection]| {
        people.iter().enumerate().any(|(index, one)| {
            one.id.is_some() && people.iter().take(index).any(|other| other.id == one.id)
        })
    };
    let mut number = 0;
    let found = frames.any(|frame| {
        number = frame.number;
        shared(&frame.people)
    });
    if !found {
        return;
    }
    frames.change_people(|one| one.id = None);
    notes.push(
        Note::new(
            "read/ids-unusable",
            "Two people of one frame have the same id; people were told apart by their place.",
        )
        .at(Place::default().frame(number)),
    );
}

/// Triples x, y, score as points; what is left over is dropped, so the caller looks at the length first.
pub fn triples(numbers: &[f32]) -> Vec<[f32; 3]> {
    numbers
        .chunks_exact(3)
        .filter_map(|chunk| <[f32; 3]>::try_from(chunk).ok())
        .collect()
}

/// Triples x, y, score, if the numbers are whole triples.
///
/// # Errors
/// They are not.
pub fn whole_triples(numbers: Vec<f32>, place: impl Fn() -> Place) -> Result<Vec<[f32; 3]>, Fault> {
    if numbers.len().is_multiple_of(3) {
        // The list itself is taken over where its room is one of triples.
        let moved = bytemuck::allocation::try_cast_vec(numbers);
        return Ok(moved.unwrap_or_else(|(_, numbers)| triples(&numbers)));
    }
    Err(Fault::new(
        FaultKind::Malformed,
        "read/length",
        format!("{} numbers are no triples of x, y and score", numbers.len()),
        place(),
        "exporting again; every point needs x, y and a score",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(id: Option<&str>, count: usize, score: f32) -> Detection {
        Detection {
            id: id.map(str::to_string),
            picture: vec![[5.0, 6.0, score]; count],
            space: Vec::new(),
        }
    }

    #[test]
    fn only_joints_stay_and_shared_ids_go() {
        let (models, options) = (Models::embedded().unwrap(), ReadOptions::default());
        let mut clip = Clip::new(&options, &models, &USUAL);
        let place = Place::file("f");
        clip.person(3, person(Some("0"), 133, 1.2), &place).unwrap();
        clip.person(3, person(Some("0"), 133, 0.0), &place).unwrap();
        clip.person(4, person(Some("0"), 133, 0.5), &place).unwrap();
        clip.frame(9, &place).unwrap();
        let fault = clip.person(5, person(None, 17, 1.0), &place).unwrap_err();
        assert_eq!((fault.code, fault.place.frame), ("read/length", Some(5)));
        let clip = {
            let mut again = Clip::new(&options, &models, &USUAL);
            for _ in 0..2 {
                again
                    .person(3, person(Some("0"), 133, 1.2), &place)
                    .unwrap();
            }
            again.frame(9, &place).unwrap();
            again
        };
        let recording = clip.finish("t", place).unwrap();
        assert_eq!(recording.layout, "wholebody-133");
        assert_eq!(recording.frames.len(), 2);
        let first = recording.frames.look(0, |frame| frame.people.clone());
        let first = first.expect("a frame");
        assert_eq!(first.len(), 2);
        assert!(first.iter().all(|one| one.id.is_none()));
        assert_eq!(first[0].picture.len(), recording.joints.len());
        let codes: Vec<_> = recording
            .notes
            .iter()
            .map(|note| note.code.as_str())
            .collect();
        assert_eq!(codes, ["read/score-over-one", "read/ids-unusable"]);
    }

    #[test]
    fn nobody_is_an_error() {
        let (models, options) = (Models::embedded().unwrap(), ReadOptions::default());
        let mut clip = Clip::new(&options, &models, &USUAL);
        clip.frame(0, &Place::file("f")).unwrap();
        let fault = clip.finish("t", Place::file("f")).unwrap_err();
        assert_eq!(fault.code, "read/no-person");
    }
}
