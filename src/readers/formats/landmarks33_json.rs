//! The 33-landmark body model as JSON: an object with `frames`, or a list with one result for each frame.
//!
//! Landmarks are objects with x, y, z, visibility or lists of those numbers, in one list or in a list for each
//! person; keys are snake or camel case. World landmarks are metres about the middle of the hips, y down, z
//! away from the camera. Picture coordinates are shares of the picture and not clipped to it.

use crate::models::Models;
use crate::note::{Fault, FaultKind};
use crate::readers::json::{self, Number};
use crate::readers::landmarks_nodes::{Point, Poses, Wanted};
use crate::readers::stamps::{self, Unit};
use crate::readers::{
    Fit, Layout, Member, Probe, ReadOptions, Reader, Sketch, Source, gather, landmarks, limits,
    parts,
};
use crate::track::{Detection, Frames, PictureSize, Recording, RecordingFrame};
use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, Visitor};
use std::fmt;

const PICTURE: [&str; 3] = ["landmarks", "pose_landmarks", "poseLandmarks"];
const WORLD: [&str; 5] = [
    "world_landmarks",
    "worldLandmarks",
    "pose_world_landmarks",
    "poseWorldLandmarks",
    "landmarks_world",
];

/// The reader.
pub struct Landmarks33Json;

impl Reader for Landmarks33Json {
    fn id(&self) -> &'static str {
        "landmarks33-json"
    }

    fn title(&self) -> &'static str {
        "33-landmark body model, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads an object with `frames`, or a list with one result a frame, each with `landmarks` and possibly \
         `worldLandmarks` (snake or camel case, one person or several). Time stamps in ms or s; width, height \
         and fps are taken from the head if they are there. Picture coordinates are shares of the picture and \
         need --size; world coordinates do not. Points with a visibility below 0.2, or outside the picture, \
         count as not seen."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        let keys: Vec<&str> = PICTURE.into_iter().chain(WORLD).collect();
        let frames = json.get("frames").unwrap_or(json);
        match (frames.any_item_has(&keys), json.has("frames")) {
            (true, true) => Fit::certain("`frames` with `landmarks`"),
            (true, false) => Fit::certain("a list of results with `landmarks`"),
            (false, _) if frames.items().iter().any(is_bare) => {
                Fit::certain("a list with a list of 33 landmarks for each frame")
            }
            (false, _) => Fit::no("no frame with `landmarks`"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let place = member.place();
        let default = landmarks::layout(
            models
                .skeleton(landmarks::LAYOUT)
                .map_or(0, |layout| layout.keypoints.len()),
            None,
            models,
            &place,
        )?;
        let layout = match options.layout.as_deref() {
            None => default,
            Some(stated) => {
                let count = models
                    .skeleton(stated)
                    .map_or(0, |layout| layout.keypoints.len());
                landmarks::layout(count, Some(stated), models, &place)?
            }
        };
        let mut clip = match gathered(member, &layout)? {
            Some(clip) => clip,
            None => {
                let mut clip = Clip::new(&layout);
                json::parse_seed(member, &mut clip)?;
                clip
            }
        };
        if let Some((frame, count)) = clip.wrong {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("{count} landmarks where {} were expected", layout.keypoints),
                place.frame(frame).field("landmarks"),
                "exporting all landmarks of the body; hands and faces have lists of other lengths",
            ));
        }
        let mut recording = landmarks::recording(self.id(), &layout);
        stamps::settle(&mut clip.frames, clip.unit, &mut recording.notes);
        recording.frames = clip.frames;
        recording.size = clip.head.size();
        recording.rate_hz = clip.head.rate.get();
        recording.mirrored = clip.head.mirrored;
        Ok(recording)
    }
}

/// A long clip, its frames parsed on all cores; `None` where that does not go and the file is parsed as a whole.
fn gathered<'a>(member: &Member, layout: &'a Layout) -> Result<Option<Clip<'a>>, Fault> {
    let mut clip = Clip::new(layout);
    let uses = layout.uses();
    let around = parts::elements(
        member,
        &["frames"],
        || FrameSeed {
            layout,
            uses: &uses,
        },
        parts::whole,
        |kept| {
            clip.add(kept);
            clip.frames.len() <= limits::FRAMES
        },
    )?;
    let whole = around.is_some_and(|(before, behind)| {
        json::parse_cleaned(&parts::around(before, &behind), &mut clip).is_ok()
    });
    Ok(whole.then_some(clip))
}

/// What may stand once in a file.
#[derive(Default)]
struct Head {
    width: Number,
    height: Number,
    rate: Number,
    mirrored: bool,
}

impl Head {
    fn size(&self) -> Option<PictureSize> {
        Some(PictureSize {
            width: self.width.get()?,
            height: self.height.get()?,
        })
    }

    /// Takes the value of a key of the head; true if it was one.
    fn take<'de, A: de::MapAccess<'de>>(
        &mut self,
        key: &str,
        map: &mut A,
    ) -> Result<bool, A::Error> {
        match key {
            "width" | "image_width" | "imageWidth" | "video_width" | "frame_width" => {
                self.width = map.next_value()?;
            }
            "height" | "image_height" | "imageHeight" | "video_height" | "frame_height" => {
                self.height = map.next_value()?;
            }
            "fps" | "frame_rate" | "frameRate" | "rate_hz" => self.rate = map.next_value()?,
            "mirrored" => self.mirrored = map.next_value::<Number>()?.0 > 0.0,
            _ => return Ok(false),
        }
        Ok(true)
    }
}

/// The clip as it grows while the file is read; only joints are kept of each frame.
struct Clip<'a> {
    layout: &'a Layout,
    frames: Frames,
    head: Head,
    unit: Option<Unit>,
    /// First frame with another number of landmarks, and that number.
    wrong: Option<(i64, usize)>,
}

impl<'de> DeserializeSeed<'de> for &mut Clip<'_> {
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for &mut Clip<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object with `frames`, or a list of results")
    }

    fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        let uses = self.layout.uses();
        let seed = FrameSeed {
            layout: self.layout,
            uses: &uses,
        };
        while let Some(kept) = seq.next_element_seed(seed)? {
            if self.frames.len() >= limits::FRAMES {
                return Err(de::Error::custom(format!(
                    "more than {} frames",
                    limits::FRAMES
                )));
            }
            self.add(kept);
        }
        Ok(())
    }

    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        struct Nested<'a>(&'a mut Head);
        impl<'de> DeserializeSeed<'de> for Nested<'_> {
            type Value = ();
            fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
                deserializer.deserialize_map(self)
            }
        }
        impl<'de> Visitor<'de> for Nested<'_> {
            type Value = ();
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
                while let Some(key) = map.next_key::<String>()? {
                    if !self.0.take(&key, &mut map)? {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
                Ok(())
            }
        }
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "frames" => map.next_value_seed(&mut *self)?,
                "head" | "meta" => map.next_value_seed(Nested(&mut self.head))?,
                _ => {
                    if !self.head.take(&key, &mut map)? {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
            }
        }
        Ok(())
    }
}

impl<'a> Clip<'a> {
    fn new(layout: &'a Layout) -> Self {
        Clip {
            layout,
            frames: Frames::default(),
            head: Head::default(),
            unit: None,
            wrong: None,
        }
    }

    fn add(&mut self, kept: Kept) {
        let number = kept
            .number
            .get()
            .map_or(self.frames.len() as i64, |number| number as i64);
        self.unit = self.unit.or(kept.unit);
        self.wrong = self.wrong.or(kept.wrong.map(|count| (number, count)));
        self.frames.push(RecordingFrame {
            number,
            stamp_s: kept.stamp.get(),
            people: kept.people,
        });
    }
}

/// What is kept of a frame: of each person the joints.
struct Kept {
    number: Number,
    stamp: Number,
    unit: Option<Unit>,
    people: Vec<Detection>,
    /// A number of landmarks that is not the model's.
    wrong: Option<usize>,
}

impl Kept {
    fn of(frame: Frame, layout: &Layout) -> Kept {
        let lists = frame.picture.iter().chain(&frame.world);
        let wrong = |count: &usize| *count != layout.keypoints && *count > 0;
        let count = frame.picture.len().max(frame.world.len());
        let mut people = Vec::with_capacity(count.min(limits::PEOPLE));
        people.extend(
            (0..count)
                .filter_map(|at| {
                    let picture = frame.picture.get(at).map_or(&[][..], Vec::as_slice);
                    let world = frame.world.get(at).map_or(&[][..], Vec::as_slice);
                    person(picture, world)
                })
                .take(limits::PEOPLE)
                .filter_map(|one| gather::joints(one, layout)),
        );
        Kept {
            number: frame.number,
            stamp: frame.stamp,
            unit: frame.unit,
            wrong: lists.map(Vec::len).find(wrong),
            people,
        }
    }
}

/// A person in keypoints; the score is the visibility, of the picture where the world has none, else 1.
fn person(picture: &[Point], world: &[Point]) -> Option<Detection> {
    let score_of = |point: Option<&Point>| point.map(|p| p.visibility).filter(|v| !v.is_nan());
    let score = |a: Option<&Point>, b: Option<&Point>| score_of(a).or(score_of(b)).unwrap_or(1.0);
    (!picture.is_empty() || !world.is_empty()).then(|| Detection {
        id: None,
        picture: picture
            .iter()
            .enumerate()
            .map(|(i, p)| [p.x, p.y, score(Some(p), world.get(i))])
            .collect(),
        space: world
            .iter()
            .enumerate()
            .map(|(i, p)| [p.x, p.y, p.z, score(Some(p), picture.get(i))])
            .collect(),
    })
}

/// Whether a frame is the landmarks alone: 33 objects with x and y, or 33 lists of three or four numbers.
fn is_bare(frame: &Sketch) -> bool {
    let is_point = |point: &Sketch| match point {
        Sketch::Object(_) => point.has("x") && point.has("y"),
        Sketch::List(numbers, count) => {
            (3..=4).contains(count) && numbers.iter().all(|n| matches!(n, Sketch::Number(_)))
        }
        _ => false,
    };
    frame.len() == 33 && frame.items().iter().all(is_point)
}

/// One frame of the file. All people's points are kept until the frame is added.
#[derive(Default)]
struct Frame {
    number: Number,
    stamp: Number,
    unit: Option<Unit>,
    picture: Poses,
    world: Poses,
}

/// What is kept of a frame, and which landmarks are read for it.
#[derive(Clone, Copy)]
struct FrameSeed<'a> {
    layout: &'a Layout,
    uses: &'a [bool],
}

impl<'a> FrameSeed<'a> {
    /// In the picture the third coordinate is not used.
    fn picture(self) -> Wanted<'a> {
        Wanted {
            uses: self.uses,
            depth: false,
        }
    }

    fn world(self) -> Wanted<'a> {
        Wanted {
            depth: true,
            ..self.picture()
        }
    }
}

impl<'de> DeserializeSeed<'de> for FrameSeed<'_> {
    type Value = Kept;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Kept, D::Error> {
        struct FrameVisitor<'a>(FrameSeed<'a>);
        impl<'de> Visitor<'de> for FrameVisitor<'_> {
            type Value = Frame;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a frame with `landmarks`")
            }
            fn visit_unit<E>(self) -> Result<Frame, E> {
                Ok(Frame::default())
            }
            fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Frame, A::Error> {
                let mut frame = Frame::default();
                while let Some(key) = map.next_key::<String>()? {
                    match key.as_str() {
                        "frame" | "frame_id" | "frameId" | "frame_number" | "frameNumber"
                        | "frame_index" | "frameIndex" | "index" => {
                            frame.number = map.next_value()?
                        }
                        key if key.starts_with("time") || key == "t" => {
                            frame.stamp = map.next_value()?;
                            frame.unit = Unit::of_key(key);
                        }
                        key if PICTURE.contains(&key) => {
                            frame.picture = map.next_value_seed(self.0.picture())?;
                        }
                        key if WORLD.contains(&key) => {
                            frame.world = map.next_value_seed(self.0.world())?;
                        }
                        _ => {
                            map.next_value::<IgnoredAny>()?;
                        }
                    }
                }
                Ok(frame)
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Frame, A::Error> {
                let list = de::value::SeqAccessDeserializer::new(seq);
                Ok(Frame {
                    picture: self.0.picture().deserialize(list)?,
                    ..Frame::default()
                })
            }
        }
        let frame = deserializer.deserialize_any(FrameVisitor(self))?;
        Ok(Kept::of(frame, self.layout))
    }
}
