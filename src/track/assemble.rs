//! From a recording to a track: one person, the program's axes, a checked time line.
//!
//! In: a [`Recording`] in the file's own axes. Out: a [`Track`] and notes of what was assumed. This is the one
//! place where y is turned up, units become metres, a mirrored picture is turned back and scores become
//! presence; readers only parse. Nothing is filled or smoothed.

use super::axes::{self, Up};
use super::choose;
use super::people::Person;
use super::{
    DepthKind, Detection, Frames, Layer, PictureSize, Presence, Recording, Scale, Track, clock,
};
use crate::body::Joint;
use crate::geom::Sides;
use crate::note::{Fault, FaultKind, Note, Place};
use nalgebra::Vector3;

/// What the user states about a clip.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AssembleOptions {
    /// Frames a second, used if the file does not tell.
    pub fps: Option<f64>,
    /// Size of the picture, used if the file does not tell.
    pub size: Option<PictureSize>,
    /// Id or number of the person.
    pub person: Option<String>,
    /// Whether the picture is a mirror image (a selfie video).
    pub mirrored: bool,
    /// Upward axis of world coordinates, used if the format does not fix it.
    pub up: Option<Up>,
}

/// A track with what is worth telling about how it came to be.
#[derive(Debug, Clone)]
pub struct Assembled {
    /// The track.
    pub track: Track,
    /// People found, by first appearance.
    pub people: Vec<Person>,
    /// What was assumed or left out, in order.
    pub notes: Vec<Note>,
}

/// Fewest frames that can hold a repetition: a third of a second at 30 frames a second
/// (common practice, no source).
const LEAST_FRAMES: usize = 10;

/// How far outside the picture a point may lie and still count as seen, as a share of the picture: the
/// point's own spread (stated choice).
const MARGIN: f64 = 0.05;

/// Coordinates up to this size are shares of the picture, not pixels: extrapolated points reach 2.4 in open
/// clips, and no picture is three pixels wide.
const NORMALISED_UP_TO: f64 = 3.0;

/// Largest picture side in pixels; beyond it a size is a slip.
const LARGEST_SIDE: f64 = 100_000.0;

/// Makes a track.
///
/// # Errors
/// A rate or size that is none, nobody or too few frames in the recording, a picture of unknown size in
/// normalised coordinates, or world coordinates whose axes or unit cannot be told.
pub fn assemble(mut recording: Recording, options: &AssembleOptions) -> Result<Assembled, Fault> {
    check_options(options)?;
    let mut notes = std::mem::take(&mut recording.notes);
    if !recording.frames.any(|frame| !frame.people.is_empty()) {
        return Err(choose::nobody());
    }
    let timeline = clock::set(
        &mut recording.frames,
        recording.rate_hz,
        options.fps,
        &mut notes,
    )?;
    enough(recording.frames.len(), "frames are in the clip")?;
    let chosen = choose::choose(
        &recording.frames,
        &recording.joints,
        recording.least_score,
        options.person.as_deref(),
    )?;
    notes.extend(chosen.notes);
    enough(
        chosen.picks.iter().flatten().count(),
        "frames show the person who is measured",
    )?;
    let person = Picked {
        frames: &recording.frames,
        picks: &chosen.picks,
    };
    let size = agreed_size(&recording, options, &mut notes);
    let mirrored = options.mirrored || recording.mirrored;
    if mirrored {
        notes.push(Note::new(
            "read/mirrored",
            "The picture is a mirror image: left and right were exchanged and the picture was turned back.",
        ));
    }
    let normalised = is_normalised(&recording, &person);
    let picture = Picture {
        normalised,
        size,
        bounds: bounds(normalised, size).filter(|_| recording.extrapolates),
    };
    let mut notes_on_space = Vec::new();
    let (picture, space) = rayon::join(
        || picture_layer(&recording, &person, &picture, mirrored, &mut notes),
        || {
            let (up, notes) = (options.up, &mut notes_on_space);
            space_layer(&recording, &person, picture.bounds, up, mirrored, notes)
        },
    );
    let (picture, space) = (picture?, space?);
    notes.extend(notes_on_space);
    let depth = match (&space, recording.measured_depth) {
        (None, _) => DepthKind::None,
        (Some(_), true) => DepthKind::Measured,
        (Some(_), false) => DepthKind::Guessed,
    };
    if picture.is_none() && space.is_none() {
        return Err(choose::nobody());
    }
    let joints = match mirrored {
        true => recording
            .joints
            .iter()
            .map(|joint| joint.mirrored())
            .collect(),
        false => recording.joints,
    };
    let person = chosen
        .people
        .get(chosen.chosen)
        .map(|one| one.label.clone());
    Ok(Assembled {
        track: Track {
            layout: recording.layout,
            joints,
            timeline,
            picture,
            space,
            size,
            person: person.unwrap_or_default(),
            depth,
        },
        people: chosen.people,
        notes,
    })
}

fn check_options(options: &AssembleOptions) -> Result<(), Fault> {
    let bad = |field: &str, what: String, remedy: &str| {
        Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            what,
            Place::default().field(field),
            remedy,
        ))
    };
    if let Some(fps) = options.fps
        && !(fps.is_finite() && fps > 0.0)
    {
        return bad(
            "--fps",
            format!("{fps} frames a second is no rate"),
            "the rate of the video, such as --fps 30",
        );
    }
    if let Some(size) = options.size
        && !sensible(size)
    {
        return bad(
            "--size",
            format!("{} x {} pixels is no picture", size.width, size.height),
            "width and height of the video, such as --size 1080x1920",
        );
    }
    Ok(())
}

fn sensible(size: PictureSize) -> bool {
    [size.width, size.height]
        .iter()
        .all(|side| (1.0..=LARGEST_SIDE).contains(side))
}

fn enough(frames: usize, what: &str) -> Result<(), Fault> {
    if frames >= LEAST_FRAMES {
        return Ok(());
    }
    Err(Fault::new(
        FaultKind::Malformed,
        "read/too-few-frames",
        format!("{frames} {what}; at least {LEAST_FRAMES} are needed"),
        Place::default(),
        "giving the whole clip, one entry for each video frame",
    ))
}

fn agreed_size(
    recording: &Recording,
    options: &AssembleOptions,
    notes: &mut Vec<Note>,
) -> Option<PictureSize> {
    let from_file = recording.size.filter(|size| sensible(*size));
    if let (Some(file), Some(stated)) = (from_file, options.size)
        && file != stated
    {
        notes.push(Note::new(
            "read/size-ignored",
            format!(
                "The stated size was not used: the file says {} x {}.",
                file.width, file.height
            ),
        ));
    }
    from_file.or(options.size)
}

/// Whether a score says that a point was seen; 0 and not-a-number never do.
fn counts(score: f32, least: f64) -> bool {
    score > 0.0 && f64::from(score) >= least
}

/// Whether picture coordinates are shares of the picture.
fn is_normalised(recording: &Recording, person: &Picked<'_>) -> bool {
    match recording.scale {
        Scale::Normalised => true,
        Scale::Pixels => false,
        Scale::Unknown => {
            let mut sizes = Sides::of(NORMALISED_UP_TO);
            person.each(|one| {
                for [x, y, score] in &one.picture {
                    if counts(*score, recording.least_score) {
                        sizes.add(f64::from(*x).abs());
                        sizes.add(f64::from(*y).abs());
                    }
                }
            });
            sizes.median_is_at_most() == Some(true)
        }
    }
}

/// What is known of the picture.
struct Picture {
    /// Whether coordinates are shares of it.
    normalised: bool,
    size: Option<PictureSize>,
    /// Where it ends, in the file's unit, if points outside were guessed.
    bounds: Option<[f64; 2]>,
}

/// The chosen person.
struct Picked<'a> {
    frames: &'a Frames,
    /// By frame, which of its people it is.
    picks: &'a [Option<usize>],
}

impl Picked<'_> {
    fn frames(&self) -> usize {
        self.picks.len()
    }

    /// Looks at the person in a frame, if the person is there.
    fn look<T>(&self, frame: usize, of: impl FnOnce(&Detection) -> T) -> Option<T> {
        let pick = (*self.picks.get(frame)?)?;
        self.frames
            .look(frame, |frame| frame.people.get(pick).map(of))?
    }

    /// Looks at the person in each frame.
    fn each(&self, mut see: impl FnMut(&Detection)) {
        for frame in 0..self.frames() {
            self.look(frame, &mut see);
        }
    }

    /// The layer in which each joint is seen where `place` finds it, with its score.
    fn layer<const N: usize>(
        &self,
        joints: usize,
        place: impl Fn(&Detection, usize) -> Option<([f64; N], f64)> + Sync,
    ) -> Layer {
        Layer::made(self.frames(), joints, N, |frames, joint, course| {
            for (at, frame) in frames.enumerate() {
                let found = self.look(frame, |one| place(one, joint)).flatten();
                if let Some((place, score)) = found {
                    course.set(at, &place, score, Presence::Seen);
                }
            }
        })
    }

    /// Whether it is so of the person in any frame.
    fn any(&self, mut so: impl FnMut(&Detection) -> bool) -> bool {
        (0..self.frames()).any(|frame| self.look(frame, &mut so) == Some(true))
    }
}

/// Width and height of the picture in the file's picture unit, if they can be known.
fn bounds(normalised: bool, size: Option<PictureSize>) -> Option<[f64; 2]> {
    match normalised {
        true => Some([1.0, 1.0]),
        false => size.map(|size| [size.width, size.height]),
    }
}

/// Whether a point of an extrapolating estimator lies outside the picture, where nothing was seen.
fn outside(point: &[f32; 3], [width, height]: [f64; 2]) -> bool {
    [(point[0], width), (point[1], height)]
        .iter()
        .any(|(at, side)| !(-MARGIN * side..=(1.0 + MARGIN) * side).contains(&f64::from(*at)))
}

/// Columns that must lie in the picture for a joint to be seen: its own, and for the middle of the hips
/// those of both hips, of which an extrapolating estimator makes it.
fn rests_on(joints: &[Joint]) -> Vec<Vec<usize>> {
    let is_hip = |joint: &Joint| matches!(joint, Joint::Hip(_));
    joints
        .iter()
        .enumerate()
        .map(|(own, joint)| {
            let others = joints.iter().enumerate();
            let hips = others.filter(|(_, other)| *joint == Joint::MidHip && is_hip(other));
            std::iter::once(own)
                .chain(hips.map(|(column, _)| column))
                .collect()
        })
        .collect()
}

fn any_outside(one: &Detection, columns: Option<&Vec<usize>>, bounds: Option<[f64; 2]>) -> bool {
    // Without bounds nothing is outside, whatever a joint rests on.
    let Some(bounds) = bounds else {
        return false;
    };
    columns.into_iter().flatten().any(|column| {
        let point = one.picture.get(*column);
        point.is_some_and(|point| outside(point, bounds))
    })
}

fn picture_layer(
    recording: &Recording,
    person: &Picked<'_>,
    picture: &Picture,
    mirrored: bool,
    notes: &mut Vec<Note>,
) -> Result<Option<Layer>, Fault> {
    let Picture {
        normalised,
        size,
        bounds,
    } = *picture;
    if !person.any(|one| !one.picture.is_empty()) {
        return Ok(None);
    }
    let per_unit = match (normalised, size) {
        (false, _) => [1.0, 1.0],
        (true, Some(size)) => [size.width, size.height],
        (true, None) if person.any(|one| !one.space.is_empty()) => {
            notes.push(Note::new(
                "read/picture-left-out",
                "The picture coordinates are shares of a picture whose size is unknown and were left out; \
                 the world coordinates are used. State the size with --size.",
            ));
            return Ok(None);
        }
        (true, None) => {
            return Err(Fault::new(
                FaultKind::Usage,
                "read/size-needed",
                "x and y are shares of the picture's width and height, and its size is not in the file",
                Place::default().field("x and y"),
                "stating the size of the video, such as --size 1080x1920",
            ));
        }
    };
    let shows: Vec<Vec<usize>> = rests_on(&recording.joints);
    let [middle_x, middle_y] =
        size.map_or([0.0, 0.0], |size| [size.width / 2.0, size.height / 2.0]);
    let flip = if mirrored { -1.0 } else { 1.0 };
    let place = |one: &Detection, joint: usize| {
        let [x, y, score] = *one.picture.get(joint)?;
        let guessed = || any_outside(one, shows.get(joint), bounds);
        if !counts(score, recording.least_score) || guessed() {
            return None;
        }
        let x = flip * (f64::from(x) * per_unit[0] - middle_x);
        let y = middle_y - f64::from(y) * per_unit[1];
        Some(([x, y], f64::from(score)))
    };
    let stated = size.filter(|_| !normalised && !recording.extrapolates);
    let (layer, outside) = rayon::join(
        || person.layer(recording.joints.len(), place),
        || stated.and_then(|size| outside_note(person, recording.least_score, size)),
    );
    notes.extend(outside);
    Ok(Some(layer))
}

/// Share of points outside the picture above which its stated size is doubted (stated choice: an arm overhead
/// may leave the picture, a body does not).
const OUTSIDE_SHARE: f64 = 0.2;

fn outside_note(person: &Picked<'_>, least_score: f64, size: PictureSize) -> Option<Note> {
    let bounds = [size.width, size.height];
    let (mut all, mut out) = (0_usize, 0_usize);
    person.each(|one| {
        let points = one.picture.iter();
        for point in points.filter(|point| counts(point[2], least_score)) {
            all += 1;
            out += usize::from(outside(point, bounds));
        }
    });
    (out as f64 > OUTSIDE_SHARE * all as f64).then(|| {
        Note::new(
            "read/outside-picture",
            format!(
                "{:.0} % of the points lie outside a picture of {} x {}: the size or the coordinates are not those \
                 of the video, and every angle may be wrong.",
                100.0 * out as f64 / all as f64,
                size.width,
                size.height
            ),
        )
    })
}

fn space_layer(
    recording: &Recording,
    person: &Picked<'_>,
    picture_bounds: Option<[f64; 2]>,
    up: Option<Up>,
    mirrored: bool,
    notes: &mut Vec<Note>,
) -> Result<Option<Layer>, Fault> {
    if !person.any(|one| !one.space.is_empty()) {
        return Ok(None);
    }
    let shows: Vec<Vec<usize>> = rests_on(&recording.joints);
    // First in the file's own axes and unit, which the points then tell.
    let place = |one: &Detection, joint: usize| {
        let [x, y, z, score] = *one.space.get(joint)?;
        let in_picture = || !any_outside(one, shows.get(joint), picture_bounds);
        let seen = counts(score, recording.least_score) && in_picture();
        seen.then(|| ([x, y, z].map(f64::from), f64::from(score)))
    };
    let joints = &recording.joints;
    let mut layer = person.layer(joints.len(), place);
    let frames = layer.frames();
    let column = |joint: Joint| joints.iter().position(|candidate| *candidate == joint);
    let look = |frame: usize, joint: Joint| layer.point(frame, column(joint)?);
    let rotation = axes::rotation(recording.axes, up, frames, &look, notes)?;
    let unit = match recording
        .metres_per_unit
        .filter(|unit| unit.is_finite() && *unit > 0.0)
    {
        Some(unit) => axes::checked_unit(unit, frames, &look, notes),
        None => axes::metres_per_unit(frames, &look, notes)?,
    };
    let flip = if mirrored { -1.0 } else { 1.0 };
    layer.each_joint(|_, course| {
        course.move_points(|at| {
            let own = rotation * Vector3::from(at) * unit;
            [flip * own.x, own.y, own.z]
        });
    });
    Ok(Some(layer))
}

#[cfg(test)]
#[path = "assemble_tests.rs"]
mod tests;
