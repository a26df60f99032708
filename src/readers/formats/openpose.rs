//! OpenPose `--write_json`: a folder with one file for each frame, or one file with a list of frames.
//!
//! `people[].pose_keypoints_2d` is x, y, c for each point, `pose_keypoints_3d` x, y, z, c. A point with c = 0
//! is missing. Order of people means nothing. The frame number is the last run of digits of the file's name;
//! `_keypoints_1` after it means a further camera. Programs that imitate the format leave keys out, group the
//! numbers by points, add the size of their canvas, or put hands and faces beside the people: all of it is read.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::clip::{Clip, whole_triples};
use crate::readers::id::last_number;
use crate::readers::json::{self, Flat, Number};
use crate::readers::{Fit, Probe, ReadOptions, Reader, Source, stream};
use crate::track::{Detection, PictureSize, Recording, Scale};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Score below which a point is not drawn by the program itself, its default (from memory, not verified).
const LEAST_SCORE: f64 = 0.05;
/// Layouts by count. A second 25-point order exists and cannot be told by its length.
const USUAL: [&str; 3] = ["body-25", "coco-18", "mpi-15"];

/// The reader.
pub struct Openpose;

#[derive(Deserialize)]
struct Frame {
    #[serde(default)]
    people: Option<Vec<Person>>,
    #[serde(default)]
    canvas_width: Number,
    #[serde(default)]
    canvas_height: Number,
    #[serde(default, alias = "frame_id", alias = "frame_number")]
    frame: Number,
}

#[derive(Deserialize)]
struct Person {
    #[serde(default)]
    person_id: Flat,
    #[serde(default, alias = "pose_keypoints")]
    pose_keypoints_2d: Flat,
    #[serde(default, alias = "body_keypoints_3d")]
    pose_keypoints_3d: Flat,
}

impl Reader for Openpose {
    fn id(&self) -> &'static str {
        "openpose"
    }

    fn title(&self) -> &'static str {
        "OpenPose JSON, a folder with one file for each frame"
    }

    fn about(&self) -> &'static str {
        "Reads the folder that --write_json makes (one JSON file a frame, sorted by the last number in the \
         name), or one file with a list of frames. 25, 18 or 15 points by their count; the other 25-point \
         order, BODY_25B, needs --layout body-25b. Of several cameras in one folder the first is read. The files have no frame rate and no picture size: state --fps, and --size if the \
         coordinates were scaled to 0..1. A point with score 0 is missing."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        let frames = match json.has("people") {
            true => std::slice::from_ref(json),
            false => json.items(),
        };
        let people: Vec<_> = frames
            .iter()
            .filter_map(|frame| frame.get("people"))
            .collect();
        let keys = ["pose_keypoints_2d", "pose_keypoints", "pose_keypoints_3d"];
        if people.iter().any(|list| list.any_item_has(&keys)) {
            Fit::certain("`people` with `pose_keypoints_2d`")
        } else if people.iter().any(|list| !list.is_empty()) {
            Fit::no("`people` without `pose_keypoints_2d`")
        } else if !people.is_empty() {
            Fit::certain("`people`, empty in the frames looked at")
        } else {
            Fit::no("no key `people`")
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let mut clip = Clip::new(options, models, &USUAL);
        clip.expect_in_space(&USUAL);
        let mut notes = Vec::new();
        let mut votes = Votes::default();
        let size = match source.is_folder() {
            true => add_folder(source, &mut clip, &mut votes, &mut notes)?,
            false => add_file(source, &mut clip, &mut votes)?,
        };
        if options.layout.is_none() && votes.head_first > votes.head_late {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "in {} of {} detections the first points of 25 are a head, as in BODY_25B, and not neck and \
                     arm, as in BODY_25",
                    votes.head_first,
                    votes.head_first + votes.head_late
                ),
                Place::file(source.name()),
                "--layout body-25b or --layout body-25",
            ));
        }
        let mut recording = Recording {
            measured_depth: true,
            least_score: LEAST_SCORE,
            size,
            ..clip.finish(self.id(), Place::file(source.name()))?
        };
        unscale(&mut recording, &mut notes);
        recording.notes.extend(notes);
        Ok(recording)
    }
}

/// One frame, or a list of them, numbered by themselves or by their order.
fn add_file(
    source: &Source,
    clip: &mut Clip<'_>,
    votes: &mut Votes,
) -> Result<Option<PictureSize>, Fault> {
    let member = source.single()?;
    let place = member.place();
    if stream::is_object(member)? {
        let frame: Frame = json::parse(member)?;
        let size = size_of(&frame);
        add(frame, 0, &place, clip, votes)?;
        return Ok(size);
    }
    let (mut size, mut numbered) = (None, true);
    stream::elements(member, &[], |_, head: Numbered| {
        numbered &= head.frame.get().is_some();
        Ok(())
    })?;
    stream::elements(member, &[], |index, frame: Frame| {
        let own = frame.frame.get().filter(|_| numbered);
        let number = own.map_or(index as i64, |own| own as i64);
        size = size.or_else(|| size_of(&frame));
        add(frame, number, &place, clip, votes)
    })?;
    Ok(size)
}

/// A frame without its people.
#[derive(Deserialize)]
struct Numbered {
    #[serde(default, alias = "frame_id", alias = "frame_number")]
    frame: Number,
}

fn add_folder(
    source: &Source,
    clip: &mut Clip<'_>,
    votes: &mut Votes,
    notes: &mut Vec<Note>,
) -> Result<Option<PictureSize>, Fault> {
    let view = first_view(source);
    let mut seen: BTreeMap<i64, &str> = BTreeMap::new();
    let (mut size, mut other_views) = (None, 0_usize);
    for (index, member) in source.members().iter().enumerate() {
        let (number, of_view) = number_of(member.name());
        if of_view != view {
            other_views += 1;
            continue;
        }
        let number = number.unwrap_or(index as i64);
        let frame: Frame = json::parse(member).map_err(|mut fault| {
            fault.place.frame = Some(number);
            fault
        })?;
        size = size.or_else(|| size_of(&frame));
        if let Some(earlier) = seen.insert(number, member.name()) {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/mixed-folder",
                format!(
                    "`{earlier}` and `{}` are both frame {number}",
                    member.name()
                ),
                Place::file(source.name()).frame(number),
                "giving each clip a folder of its own",
            ));
        }
        add(frame, number, &member.place(), clip, votes)?;
    }
    if other_views > 0 {
        notes.push(Note::new(
            "read/other-views",
            format!("{other_views} files of further cameras were left out."),
        ));
    }
    Ok(size)
}

/// The camera that is read: the one without a number, else the one with the lowest.
fn first_view(source: &Source) -> Option<u32> {
    let views = source
        .members()
        .iter()
        .map(|member| number_of(member.name()).1);
    views.min().flatten()
}

/// Frame number, and the number of a further camera (`..._keypoints_1.json`).
fn number_of(name: &str) -> (Option<i64>, Option<u32>) {
    let lower = name.to_ascii_lowercase();
    let stem = lower.trim_end_matches(".gz").trim_end_matches(".json");
    let parted = stem
        .rsplit_once("_keypoints_")
        .and_then(|(frame, view)| Some((last_number(frame)?, view.parse().ok()?)));
    match parted {
        Some((frame, view)) => (Some(frame), Some(view)),
        None => (last_number(&lower), None),
    }
}

fn size_of(frame: &Frame) -> Option<PictureSize> {
    let (width, height) = (frame.canvas_width.get()?, frame.canvas_height.get()?);
    Some(PictureSize { width, height })
}

fn add(
    frame: Frame,
    number: i64,
    place: &Place,
    clip: &mut Clip<'_>,
    votes: &mut Votes,
) -> Result<(), Fault> {
    clip.frame(number, place)?;
    let at = place.clone().frame(number);
    for person in frame.people.unwrap_or_default() {
        let one = detection(person, &at)?;
        votes.count(&one.picture);
        clip.person(number, one, place)?;
    }
    Ok(())
}

/// Where the head's points are among 25: BODY_25 has them at 15 to 18, BODY_25B at 1 to 4. The general test of a
/// body's shape does not tell: an arm that hangs puts a wrist where a hip may be.
#[derive(Default)]
struct Votes {
    head_first: usize,
    head_late: usize,
}

impl Votes {
    fn count(&mut self, points: &[[f32; 3]]) {
        let seen = |index: usize| points.get(index).filter(|point| point[2] > 0.0);
        let Some(nose) = seen(0).filter(|_| points.len() == 25) else {
            return;
        };
        let farthest = |indices: std::ops::RangeInclusive<usize>| {
            indices
                .filter_map(seen)
                .map(|point| (point[0] - nose[0]).hypot(point[1] - nose[1]))
                .max_by(f32::total_cmp)
        };
        if let (Some(first), Some(late)) = (farthest(1..=4), farthest(15..=18)) {
            match first < late {
                true => self.head_first += 1,
                false => self.head_late += 1,
            }
        }
    }
}

fn detection(person: Person, place: &Place) -> Result<Detection, Fault> {
    let field = |name: &str| place.clone().field(format!("people[].{name}"));
    let id = person
        .person_id
        .0
        .first()
        .filter(|id| **id >= 0.0)
        .map(|id| format!("{id}"));
    let space = &person.pose_keypoints_3d.0;
    if !space.len().is_multiple_of(4) {
        return Err(Fault::new(
            FaultKind::Malformed,
            "read/length",
            format!(
                "{} numbers are not x, y, z and score for each point",
                space.len()
            ),
            field("pose_keypoints_3d"),
            "exporting this frame again",
        ));
    }
    Ok(Detection {
        id,
        // Only the score tells what is missing: with coordinates scaled to -1..1, 0, 0 is the middle.
        picture: whole_triples(person.pose_keypoints_2d.0, || field("pose_keypoints_2d"))?,
        space: space
            .chunks_exact(4)
            .filter_map(|chunk| <[f32; 4]>::try_from(chunk).ok())
            .collect(),
    })
}

/// Brings coordinates scaled to -1..1 to 0..1, so that they are shares of the picture.
fn unscale(recording: &mut Recording, notes: &mut Vec<Note>) {
    let (mut most, mut negative, mut all) = (0.0_f32, 0_usize, 0_usize);
    recording.frames.each_person(|one| {
        for point in one.picture.iter().filter(|point| point[0].is_finite()) {
            most = most.max(point[0].abs()).max(point[1].abs());
            negative += usize::from(point[0] < 0.0 || point[1] < 0.0);
            all += 1;
        }
    });
    // Within one unit, with more than a fifth of the points left of or above the origin: -1..1.
    if all == 0 || most > 1.5 || 5 * negative <= all {
        return;
    }
    recording.frames.change_people(|one| {
        for point in &mut one.picture {
            if point[0].is_finite() && point[1].is_finite() {
                point[0] = (point[0] + 1.0) / 2.0;
                point[1] = (point[1] + 1.0) / 2.0;
            }
        }
    });
    recording.scale = Scale::Normalised;
    notes.push(Note::new(
        "read/scale-assumed",
        "Coordinates lie between -1 and 1 and were taken as measured from the picture's middle.",
    ));
}

#[cfg(test)]
mod tests {
    use super::number_of;

    #[test]
    fn the_last_digits_are_the_frame() {
        for (name, expected) in [
            ("Kick_10_000000000012_keypoints.json", (Some(12), None)),
            ("img7_keypoints.json.gz", (Some(7), None)),
            ("clip_000000000003_keypoints_1.json", (Some(3), Some(1))),
            ("clip_000000000003_keypoints_12.json", (Some(3), Some(12))),
            ("é5é.json", (Some(5), None)),
            ("take_keypoints_4.json", (Some(4), None)),
            ("pose.json", (None, None)),
        ] {
            assert_eq!(number_of(name), expected, "{name}");
        }
    }
}
