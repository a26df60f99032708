//! OpenPose `--write_json`: a folder with one file for each frame, or one file with a list of frames.
//!
//! `people[].pose_keypoints_2d` is x, y, c for each point, `pose_keypoints_3d` x, y, z, c. A point with c = 0
//! is missing. Order of people means nothing. The frame number is the last run of digits of the file's name.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::json::{self, Flat, Number};
use crate::readers::layout::Known;
use crate::readers::{Fit, Layout, Probe, ReadOptions, Reader, Source, gather, limits};
use crate::track::{Detection, PictureSize, Recording, RecordingFrame, Scale};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::collections::BTreeMap;
use std::fmt;

/// Score below which a point is not drawn by the program itself, its default (from memory, not verified).
const LEAST_SCORE: f64 = 0.05;
/// Layouts by count. A second 25-point order exists and cannot be told by its length.
const USUAL: [&str; 3] = ["body-25", "coco-18", "mpi-15"];

/// The reader.
pub struct Openpose;

#[derive(serde::Deserialize)]
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

#[derive(serde::Deserialize)]
struct Person {
    #[serde(default)]
    person_id: Flat,
    #[serde(default, alias = "pose_keypoints")]
    pose_keypoints_2d: Flat,
    #[serde(default, alias = "body_keypoints_3d")]
    pose_keypoints_3d: Flat,
}

/// One file holds one frame or a list of them.
struct Document(Vec<Frame>);

impl<'de> Deserialize<'de> for Document {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Document;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a frame with `people`, or a list of them")
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Document, A::Error> {
                let frame = Frame::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Document(vec![frame]))
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Document, A::Error> {
                let mut frames = Vec::new();
                while let Some(frame) = seq.next_element()? {
                    frames.push(frame);
                }
                Ok(Document(frames))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

/// Keypoints of one frame before the layout is settled.
struct Raw {
    number: i64,
    place: Place,
    people: Vec<Person>,
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
         name), or one file with a list of frames. 25, 18 or 15 points by their count; another 25-point order \
         needs --layout. The files have no frame rate and no picture size: state --fps, and --size if the \
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
        let mut notes = Vec::new();
        let (raw, size) = match source.is_folder() {
            true => of_folder(source, &mut notes)?,
            false => of_file(source)?,
        };
        let layout = layout_of(&raw, options, models)?;
        let Some(layout) = layout else {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/no-person",
                format!("none of {} frames holds a person", raw.len()),
                Place::file(source.name()),
                "filming with the whole upper body in the picture, or running the estimator again",
            ));
        };
        let mut recording = Recording {
            layout_by_count: layout.by_count,
            measured_depth: true,
            least_score: LEAST_SCORE,
            size,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        for frame in raw {
            let mut people = Vec::with_capacity(frame.people.len());
            for person in &frame.people {
                people.extend(detection(person, &layout, &frame.place)?);
            }
            recording.frames.push(RecordingFrame {
                number: frame.number,
                stamp_s: None,
                people,
            });
        }
        unscale(&mut recording, &mut notes);
        recording.notes = notes;
        Ok(recording)
    }
}

fn of_file(source: &Source) -> Result<(Vec<Raw>, Option<PictureSize>), Fault> {
    let member = source.single()?;
    let Document(frames) = json::parse(member)?;
    within(frames.len(), limits::FRAMES, "frames", member.place())?;
    let size = frames.iter().find_map(size_of);
    let numbered = frames.iter().all(|frame| frame.frame.get().is_some());
    let raw = frames
        .into_iter()
        .enumerate()
        .map(|(index, frame)| {
            let number = frame
                .frame
                .get()
                .filter(|_| numbered)
                .map_or(index as i64, |n| n as i64);
            Raw {
                number,
                place: member.place().frame(number),
                people: frame.people.unwrap_or_default(),
            }
        })
        .collect();
    Ok((raw, size))
}

fn of_folder(
    source: &Source,
    notes: &mut Vec<Note>,
) -> Result<(Vec<Raw>, Option<PictureSize>), Fault> {
    let mut frames: BTreeMap<i64, Raw> = BTreeMap::new();
    let (mut size, mut other_views) = (None, 0_usize);
    for (index, member) in source.members().iter().enumerate() {
        let (number, view) = number_of(member.name());
        if view {
            other_views += 1;
            continue;
        }
        let number = number.unwrap_or(index as i64);
        let frame: Frame = json::parse(member).map_err(|mut fault| {
            fault.place.frame = Some(number);
            fault
        })?;
        size = size.or_else(|| size_of(&frame));
        let raw = Raw {
            number,
            place: member.place().frame(number),
            people: frame.people.unwrap_or_default(),
        };
        if let Some(earlier) = frames.insert(number, raw) {
            let earlier = earlier.place.file.unwrap_or_default();
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
    }
    if other_views > 0 {
        notes.push(Note::new(
            "read/other-views",
            format!("{other_views} files of further cameras were left out."),
        ));
    }
    Ok((frames.into_values().collect(), size))
}

/// Frame number, and whether the file is of a further camera (`..._keypoints_1.json`).
fn number_of(name: &str) -> (Option<i64>, bool) {
    let lower = name.to_ascii_lowercase();
    let stem = lower.trim_end_matches(".gz").trim_end_matches(".json");
    let view = stem.rsplit_once("_keypoints_").is_some_and(|(_, view)| {
        !view.is_empty() && view.bytes().all(|byte| byte.is_ascii_digit())
    });
    let end = stem.rfind(|c: char| c.is_ascii_digit()).map(|at| at + 1);
    let digits = end.and_then(|end| stem.get(..end)).map(|head| {
        let start = head.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |at| {
            at + head
                .get(at..)
                .and_then(|rest| rest.chars().next())
                .map_or(1, char::len_utf8)
        });
        head.get(start..).unwrap_or_default()
    });
    (digits.and_then(|digits| digits.parse().ok()), view)
}

fn size_of(frame: &Frame) -> Option<PictureSize> {
    let (width, height) = (frame.canvas_width.get()?, frame.canvas_height.get()?);
    Some(PictureSize { width, height })
}

fn within(count: usize, most: usize, what: &str, place: Place) -> Result<(), Fault> {
    if count <= most {
        return Ok(());
    }
    Err(Fault::new(
        FaultKind::Limit,
        "read/limit",
        format!("{count} {what}, more than {most}"),
        place,
        "cutting the clip into shorter ones",
    ))
}

/// The layout by the first person who has points; `None` if nobody has.
fn layout_of(raw: &[Raw], options: &ReadOptions, models: &Models) -> Result<Option<Layout>, Fault> {
    let first = raw.iter().find_map(|frame| {
        frame.people.iter().find_map(|one| {
            let count = match one.pose_keypoints_2d.0.len() {
                0 => one.pose_keypoints_3d.0.len() / 4,
                numbers => numbers / 3,
            };
            (count > 0).then_some((count, &frame.place))
        })
    });
    let Some((count, place)) = first else {
        return Ok(None);
    };
    let known = Known {
        names: None,
        count,
        stated: options.layout.as_deref(),
        usual: &USUAL,
    };
    Layout::settle(known, models, &place.clone().field("pose_keypoints_2d")).map(Some)
}

fn points<const N: usize>(
    numbers: &[f32],
    layout: &Layout,
    place: &Place,
    field: &str,
) -> Result<Vec<[f32; N]>, Fault> {
    if numbers.is_empty() {
        return Ok(Vec::new());
    }
    let expected = layout.keypoints * N;
    if numbers.len() != expected {
        return Err(Fault::new(
            FaultKind::Malformed,
            "read/length",
            format!("{} numbers where {expected} were expected", numbers.len()),
            place.clone().field(format!("people[].{field}")),
            format!(
                "exporting this frame again; {} keypoints need {N} numbers each",
                layout.keypoints
            ),
        ));
    }
    Ok(numbers
        .chunks_exact(N)
        .filter_map(|chunk| <[f32; N]>::try_from(chunk).ok())
        .map(|point| match point.last() {
            // Only the score tells: with coordinates scaled to -1..1, 0, 0 is the middle of the picture.
            Some(score) if *score > 0.0 => point,
            _ => [f32::NAN; N],
        })
        .collect())
}

fn detection(person: &Person, layout: &Layout, place: &Place) -> Result<Option<Detection>, Fault> {
    let id = person
        .person_id
        .0
        .first()
        .filter(|id| **id >= 0.0)
        .map(|id| format!("{id}"));
    let raw = Detection {
        id,
        picture: points(
            &person.pose_keypoints_2d.0,
            layout,
            place,
            "pose_keypoints_2d",
        )?,
        space: points(
            &person.pose_keypoints_3d.0,
            layout,
            place,
            "pose_keypoints_3d",
        )?,
    };
    Ok(gather::joints(raw, layout))
}

/// Brings coordinates scaled to -1..1 to 0..1, so that they are shares of the picture.
fn unscale(recording: &mut Recording, notes: &mut Vec<Note>) {
    let seen = |point: &&mut [f32; 3]| point[0].is_finite() && point[1].is_finite();
    let people = || recording.frames.iter().flat_map(|frame| &frame.people);
    let (mut most, mut negative, mut all) = (0.0_f32, 0_usize, 0_usize);
    for point in people()
        .flat_map(|one| &one.picture)
        .filter(|p| p[0].is_finite())
    {
        most = most.max(point[0].abs()).max(point[1].abs());
        negative += usize::from(point[0] < 0.0 || point[1] < 0.0);
        all += 1;
    }
    // Within one unit, with more than a fifth of the points left of or above the origin: -1..1.
    if all == 0 || most > 1.5 || 5 * negative <= all {
        return;
    }
    let points = recording
        .frames
        .iter_mut()
        .flat_map(|frame| &mut frame.people)
        .flat_map(|one| &mut one.picture)
        .filter(seen);
    for point in points {
        point[0] = (point[0] + 1.0) / 2.0;
        point[1] = (point[1] + 1.0) / 2.0;
    }
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
            ("Kick_10_000000000012_keypoints.json", (Some(12), false)),
            ("img7_keypoints.json.gz", (Some(7), false)),
            ("clip_000000000003_keypoints_1.json", (Some(1), true)),
            ("é5é.json", (Some(5), false)),
            ("pose.json", (None, false)),
        ] {
            assert_eq!(number_of(name), expected, "{name}");
        }
    }
}
