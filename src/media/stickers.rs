//! Coloured dots on the back followed through a clip, and added to its track.

use super::colour::Bgr;
use super::confidence::{LEAST_CONFIDENCE, confidences};
use super::dots::Dot;
use super::footage::{Footage, Picture};
use super::identity::{Scene, follow};
use super::learn::{Arrangement, Learned, arrange, learn, most_area, usual_width};
use super::register::Register;
use super::spots::{Spot, spots};
use super::trunk::{Trunk, share_from_behind, trunks};
use super::{Watch, broken, fault};
use crate::body::Side;
use crate::geom::median;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::{DepthKind, Layer, Presence, Timeline, Timing, Track};
use nalgebra::Vector2;
use opencv::core::Mat;
use opencv::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;

/// How the dots are told.
#[derive(Debug, Clone)]
pub enum Told {
    /// Each dot's place in one picture, pixels from the top left of the upright picture, and that picture's time in
    /// seconds from the first.
    Marked(Vec<(Dot, Vector2<f64>)>, f64),
    /// Each dot's colour.
    Stated(Vec<(Dot, Bgr)>),
}

/// What is asked.
#[derive(Debug, Clone)]
pub struct Asked {
    /// How the dots are told.
    pub told: Told,
    /// Side of the dots of which no side is said.
    pub side: Side,
    /// Whether the track was turned back from a mirrored picture.
    pub mirrored: bool,
}

/// How well one dot was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct DotSeen {
    /// The dot.
    pub dot: Dot,
    /// Share of the track's frames in which it was seen, 0..1.
    pub seen: f64,
    /// Median confidence where seen.
    pub confidence: f64,
    /// Longest time out of sight, seconds.
    pub longest_gap_s: f64,
}

/// Place and confidence by picture and dot; `None` where a dot was not found.
pub type Places = Vec<Vec<Option<(Vector2<f64>, f64)>>>;

/// The track with the dots.
#[derive(Debug)]
pub struct Stickers {
    /// The track; what was not in the picture is left out.
    pub track: Track,
    /// How well each dot was seen.
    pub dots: Vec<DotSeen>,
    /// Place and confidence of each dot in each picture of the video, whatever the confidence.
    pub places: Places,
    /// Seconds of each picture.
    pub times_s: Vec<f64>,
    /// What was assumed.
    pub notes: Vec<Note>,
}

/// Pictures among which the first arrangement is looked for, and every how many.
const LOOKED_THROUGH: (usize, usize) = (300, 5);
/// Arrangements among which the best is chosen: at 30 a second they span some three seconds of a person who stands still
/// (stated choice).
const ENOUGH: usize = 16;
/// Most pictures from which the dots are tried to be learned; so many are kept.
const TRIED: usize = 4;
/// Share of the pictures in which the back must be seen.
const FROM_BEHIND: f64 = 0.6;

/// Follows the dots.
///
/// # Errors
/// The video cannot be read, the track is not its, or the dots are not found.
pub fn stickers(
    video: &Path,
    track: Track,
    asked: &Asked,
    watch: &dyn Watch,
) -> Result<Stickers, Fault> {
    let footage = Footage::open(video)?;
    let expected_s = footage.expected_times_s();
    let register = Register::new(&track, asked.mirrored, &expected_s, footage.size())?;
    let trunks = trunks(&track, &register, expected_s.len()).ok_or_else(no_trunk)?;
    if share_from_behind(&trunks) < FROM_BEHIND {
        return Err(from_the_front());
    }
    let sides = sides(&asked.told);
    let part = |picture: usize| trunks.get(picture).map(|trunk| trunk.part(&sides));
    let (marked, learned) = first_look(video, &trunks, &expected_s, asked, &sides, watch)?;

    watch.begin(expected_s.len());
    let mut seen: Vec<Vec<Spot>> = Vec::new();
    let mut stopped = false;
    let played = footage.play(|picture: &mut Picture| {
        let mut here = Vec::new();
        if let (Some(part), Some(trunk)) = (part(picture.number), trunks.get(picture.number)) {
            for (index, colour) in learned.colours.iter().enumerate() {
                here.extend(spots(&picture.mat, part, colour, index, most_area(trunk))?);
            }
        }
        seen.push(here);
        watch.step();
        stopped = watch.is_over();
        Ok(!stopped)
    })?;
    if stopped {
        return Err(super::stopped());
    }
    watch.end();

    let (times_s, times_note) = played.times()?;
    let scene = Scene {
        spots: &seen,
        trunks: &trunks,
        times_s: &times_s,
    };
    let found = follow(&scene, &learned.cast, marked, &learned.start);
    let places = places(&found, learned.cast.len(), &times_s);
    let register = Register::new(&track, asked.mirrored, &times_s, register.size())?;
    let mut notes: Vec<Note> = times_note.into_iter().collect();
    let dots: Vec<Dot> = learned.cast.iter().map(|(dot, _)| *dot).collect();
    let (track, dots) = added(track, &register, &dots, &places, &times_s, &mut notes);
    Ok(Stickers {
        track,
        dots,
        places,
        times_s,
        notes,
    })
}

/// The picture that tells colours and first places.
fn first_look(
    video: &Path,
    trunks: &[Trunk],
    times_s: &[f64],
    asked: &Asked,
    sides: &[Side],
    watch: &dyn Watch,
) -> Result<(usize, Learned), Fault> {
    match &asked.told {
        Told::Marked(marks, at_s) => {
            super::is_within(times_s, *at_s)?;
            let marked = nearest(times_s, *at_s).ok_or_else(no_trunk)?;
            let learned = with_picture(
                video,
                marked,
                |picture, trunk| learn(&picture.mat, trunk, marks, trunk.part(sides)),
                trunks,
                watch,
            )?;
            Ok((marked, learned))
        }
        Told::Stated(dots) => {
            let (candidates, missing) = candidates(video, trunks, dots, asked.side, sides, watch)?;
            let mut failed = not_found(dots, &missing, trunks, asked.side);
            for Candidate {
                number,
                arrangement,
                picture,
            } in candidates
            {
                let Some(trunk) = trunks.get(number) else {
                    continue;
                };
                let learned = learn(&picture, trunk, &arrangement.marks, trunk.part(sides));
                match learned {
                    Ok(learned) => return Ok((number, learned)),
                    // What is wrong in the best picture is the most telling.
                    Err(fault) if failed.code == "stickers/not-found" => failed = fault,
                    Err(_) => {}
                }
            }
            Err(failed)
        }
    }
}

/// A picture in which the dots are arranged as on a back.
struct Candidate {
    number: usize,
    arrangement: Arrangement,
    picture: Mat,
}

/// The pictures of the beginning in which the dots are arranged best, the best first; and how often each dot was missing.
fn candidates(
    video: &Path,
    trunks: &[Trunk],
    dots: &[(Dot, Bgr)],
    side: Side,
    sides: &[Side],
    watch: &dyn Watch,
) -> Result<(Vec<Candidate>, BTreeMap<Dot, usize>), Fault> {
    let mut best: Vec<Candidate> = Vec::new();
    let mut missing = BTreeMap::new();
    let mut found = 0;
    let (most, step) = LOOKED_THROUGH;
    Footage::open(video)?.play(|picture| {
        if watch.is_over() {
            return Err(super::stopped());
        }
        let number = picture.number;
        let Some(trunk) = trunks.get(number).filter(|_| number < most) else {
            return Ok(false);
        };
        if !number.is_multiple_of(step) {
            return Ok(true);
        }
        let here = arrange(&picture.mat, trunk, dots, side, trunk.part(sides))?;
        let arrangement = match here {
            Ok(arrangement) => arrangement,
            Err(dots) => {
                dots.iter()
                    .for_each(|dot| *missing.entry(*dot).or_default() += 1);
                return Ok(true);
            }
        };
        found += 1;
        let place = best.partition_point(|other| other.arrangement.cost <= arrangement.cost);
        if place < TRIED {
            let picture = picture.mat.try_clone().map_err(broken)?;
            let candidate = Candidate {
                number,
                arrangement,
                picture,
            };
            best.insert(place, candidate);
            best.truncate(TRIED);
        }
        Ok(found < ENOUGH)
    })?;
    Ok((best, missing))
}

/// Decodes up to one picture and looks at it.
fn with_picture<T>(
    video: &Path,
    number: usize,
    mut look: impl FnMut(&Picture, &Trunk) -> Result<T, Fault>,
    trunks: &[Trunk],
    watch: &dyn Watch,
) -> Result<T, Fault> {
    let mut answer = None;
    Footage::open(video)?.play(|picture| {
        if watch.is_over() {
            return Err(super::stopped());
        }
        if picture.number < number {
            return Ok(true);
        }
        if let Some(trunk) = trunks.get(number) {
            answer = Some(look(picture, trunk)?);
        }
        Ok(false)
    })?;
    answer.ok_or_else(no_trunk)
}

fn nearest(times_s: &[f64], at_s: f64) -> Option<usize> {
    let distance = |number: &usize| {
        times_s
            .get(*number)
            .map_or(f64::MAX, |time| (time - at_s).abs())
    };
    (0..times_s.len()).min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

fn sides(told: &Told) -> Vec<Side> {
    let dots: Vec<Dot> = match told {
        Told::Marked(marks, _) => marks.iter().map(|(dot, _)| *dot).collect(),
        Told::Stated(dots) => dots.iter().map(|(dot, _)| *dot).collect(),
    };
    Side::BOTH
        .into_iter()
        .filter(|side| dots.iter().any(|dot| dot.side() == Some(*side)))
        .collect()
}

/// Places with their confidence, picture by picture.
fn places(found: &[Vec<Option<Spot>>], dots: usize, times_s: &[f64]) -> Places {
    let mut places = vec![vec![None; dots]; found.len()];
    for dot in 0..dots {
        let spots: Vec<Option<Spot>> = found
            .iter()
            .map(|row| row.get(dot).copied().flatten())
            .collect();
        let told = confidences(&spots, times_s);
        for ((row, spot), confidence) in places.iter_mut().zip(&spots).zip(told) {
            if let (Some(place), Some(spot), Some(confidence)) =
                (row.get_mut(dot), spot, confidence)
            {
                *place = Some((spot.at, confidence));
            }
        }
    }
    places
}

/// The track with the dots in its picture layer.
fn added(
    track: Track,
    register: &Register,
    dots: &[Dot],
    places: &Places,
    times_s: &[f64],
    notes: &mut Vec<Note>,
) -> (Track, Vec<DotSeen>) {
    let mut joints = track.joints.clone();
    joints.retain(|joint| !dots.iter().any(|dot| dot.joint() == *joint));
    let kept: Vec<Option<usize>> = joints.iter().map(|joint| track.column(*joint)).collect();
    let first_dot = joints.len();
    joints.extend(dots.iter().map(|dot| dot.joint()));
    let frames = track.frames();
    let mut layer = Layer::missing(frames, joints.len(), 2);
    if let Some(old) = &track.picture {
        for frame in 0..frames {
            for (column, from) in kept.iter().enumerate() {
                let Some(from) = *from else { continue };
                if let (Some(at), Some(score)) = (old.flat(frame, from), old.score(frame, from)) {
                    layer.set(
                        frame,
                        column,
                        &[at.x, at.y],
                        score,
                        old.presence(frame, from),
                    );
                }
            }
        }
    }
    let pictures = register.pictures(frames);
    let mut seen = Vec::new();
    for (dot, name) in dots.iter().enumerate() {
        let mut confident = Vec::new();
        for (frame, picture) in pictures.iter().enumerate() {
            let place =
                picture.and_then(|picture| places.get(picture)?.get(dot).copied().flatten());
            if let Some((at, confidence)) =
                place.filter(|(_, confidence)| *confidence >= LEAST_CONFIDENCE)
            {
                let at = register.to_track(at);
                layer.set(
                    frame,
                    first_dot + dot,
                    &[at.x, at.y],
                    confidence,
                    Presence::Seen,
                );
                confident.push((frame, confidence));
            }
        }
        seen.push(DotSeen {
            dot: *name,
            seen: confident.len() as f64 / frames.max(1) as f64,
            confidence: median(confident.iter().map(|(_, confidence)| *confidence)).unwrap_or(0.0),
            longest_gap_s: longest_gap_s(&confident, &pictures, times_s),
        });
    }
    let mut timeline = track.timeline.clone();
    if timeline.timing() != Timing::Stamped && register.is_one_to_one() {
        let numbers = (0..frames)
            .map(|frame| timeline.number(frame).unwrap_or(frame as i64))
            .collect();
        if let Some(stamped) = Timeline::new(times_s.to_vec(), numbers, Timing::Stamped) {
            timeline = stamped;
            notes.push(Note::new(
                "stickers/stamps",
                "The track had no time stamps of its own; those of the video were written into it.",
            ));
        }
    }
    if track.space.is_some() {
        notes.push(Note::new(
            "stickers/space-left-out",
            "The dots are points of the picture, so the track's world coordinates were left out: angles are lifted \
             from the picture.",
        ));
    }
    let track = Track {
        joints,
        timeline,
        picture: Some(layer),
        space: None,
        depth: DepthKind::None,
        ..track
    };
    (track, seen)
}

fn longest_gap_s(confident: &[(usize, f64)], pictures: &[Option<usize>], times_s: &[f64]) -> f64 {
    let time = |frame: usize| {
        pictures
            .get(frame)
            .copied()
            .flatten()
            .and_then(|picture| times_s.get(picture).copied())
    };
    let mut moments = vec![times_s.first().copied().unwrap_or(0.0)];
    moments.extend(confident.iter().filter_map(|(frame, _)| time(*frame)));
    moments.push(times_s.last().copied().unwrap_or(0.0));
    moments
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max)
}

fn no_trunk() -> Fault {
    fault(
        FaultKind::Unsupported,
        "stickers/no-trunk",
        "shoulders and hips are never seen together in the track, so nobody knows where to look for dots",
        Place::default().field("--track"),
        "a track with both shoulders and the hips in the picture",
    )
}

fn from_the_front() -> Fault {
    fault(
        FaultKind::Unsupported,
        "stickers/not-behind",
        "the person does not stand with the back to the phone",
        Place::default().field("--track"),
        "filming from behind; --mirrored if the video is a mirror image",
    )
}

/// Fewest pixels across a dot that is told (stated choice: the least spot that counts is 2.5 wide).
const LEAST_WIDTH: f64 = 3.0;

fn not_found(
    dots: &[(Dot, Bgr)],
    missing: &BTreeMap<Dot, usize>,
    trunks: &[Trunk],
    side: Side,
) -> Fault {
    let most = missing.values().copied().max().unwrap_or(0);
    let first = trunks.first();
    let lost: Vec<String> = missing
        .iter()
        .filter(|(_, times)| **times == most)
        .map(
            |(dot, _)| match first.map(|trunk| dot.usual_place(trunk, side)) {
                Some(at) => format!("{dot} (looked for around {:.0},{:.0})", at.x, at.y),
                None => dot.to_string(),
            },
        )
        .collect();
    let what = match lost.len() {
        0 => "in no picture of the first seconds does each dot have a spot of its own".to_string(),
        count if count == dots.len() => format!(
            "in no picture of the first seconds is anything of that colour where these dots may be: {}",
            lost.join("; ")
        ),
        _ => format!(
            "in no picture of the first seconds are all dots where they may be; missing most often: {}",
            lost.join("; ")
        ),
    };
    let width = first.map_or(f64::MAX, usual_width);
    let (what, remedy) = match width < LEAST_WIDTH {
        true => (
            format!(
                "{what}; a sticker of 15 mm is about {width:.1} pixels wide in this video, too small to be told"
            ),
            "filming nearer or at a higher resolution, or larger dots (4 pixels across and more)",
        ),
        false => (
            what,
            "marking each dot in one picture: --still FILE writes it, then --dot spine-root=X,Y for each and --at \
             SECONDS",
        ),
    };
    fault(
        FaultKind::Unsupported,
        "stickers/not-found",
        what,
        Place::default().field("--colour"),
        remedy,
    )
}
