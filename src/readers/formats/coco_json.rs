//! COCO keypoints: results (a list of `{image_id, category_id, keypoints, score}`) and annotations (an object
//! with `images`, `annotations` and `categories`).
//!
//! `keypoints` is x, y and a third number for each point: visibility 0, 1, 2 in annotations, a score in
//! results. Names in `categories` come before the count. In results, frames without people are absent. Lists
//! with `idx` or `box` are of another estimator and are not claimed here.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::json::{self, Flat, Number};
use crate::readers::layout::Known;
use crate::readers::{Fit, Layout, Probe, ReadOptions, Reader, Sketch, Source, gather, limits};
use crate::track::{Detection, PictureSize, Recording, RecordingFrame, Scale};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::collections::BTreeMap;
use std::fmt;

/// Score below which a point counts as not seen, where the third number is a score (common practice,
/// no source).
const LEAST_SCORE: f64 = 0.3;
/// Layouts by count.
const USUAL: [&str; 5] = [
    "coco-17",
    "halpe-26",
    "wholebody-133",
    "spine-37",
    "synth-52",
];

/// The reader.
pub struct CocoJson;

impl Reader for CocoJson {
    fn id(&self) -> &'static str {
        "coco-json"
    }

    fn title(&self) -> &'static str {
        "COCO keypoint results or annotations, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads a list of detections with image_id and keypoints, or an annotation object with images and \
         annotations. The image_id is the frame number. Names in `categories` decide the layout, else the \
         number of points, which is checked: 17 points are not always COCO's. No frame rate is in such files: \
         state --fps. Annotations hold the picture's size, results do not."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json().filter(|_| !probe.folder) else {
            return Fit::no("not one JSON file");
        };
        let list = |list: &Sketch| {
            list.items()
                .iter()
                .find(|item| item.has("image_id"))
                .cloned()
        };
        let (entry, whole) = match json.get("annotations") {
            Some(annotations) if json.has_any(&["images", "categories"]) => {
                (list(annotations), true)
            }
            _ => (list(json), false),
        };
        let Some(entry) = entry else {
            return Fit::no("no entry with `image_id`");
        };
        if !entry.has("keypoints") {
            return Fit::no("detections without `keypoints`");
        }
        if entry.has_any(&["idx", "box"]) {
            return Fit::no("entries have `idx` or `box`, which COCO has not");
        }
        match (whole, entry.get("image_id").and_then(Sketch::text)) {
            (true, _) => Fit::certain("`images` and `annotations` with `keypoints`"),
            (false, None) => Fit::certain("a list with `image_id` and `keypoints`"),
            (false, Some(_)) => Fit::possible("a list with `keypoints`, its `image_id` a text"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let document: Document = json::parse(member)?;
        let place = member.place();
        let first = document
            .annotations
            .iter()
            .find(|entry| !entry.keypoints.0.is_empty());
        let Some(first) = first else {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/no-person",
                format!(
                    "none of {} entries has keypoints",
                    document.annotations.len()
                ),
                place,
                "exporting keypoints, not boxes",
            ));
        };
        let names = document
            .categories
            .iter()
            .find(|category| category.fits(first))
            .and_then(|category| category.keypoints.as_deref());
        let count = first.keypoints.0.len() / 3;
        let names = names.filter(|names| names.len() == count);
        let known = Known {
            names,
            count,
            stated: options.layout.as_deref(),
            usual: &USUAL,
        };
        let layout = Layout::settle(known, models, &place.clone().field("keypoints"))?;
        let thirds = document
            .annotations
            .iter()
            .flat_map(|entry| entry.keypoints.0.iter().skip(2).step_by(3));
        let flags = thirds.clone().all(|third| [0.0, 1.0, 2.0].contains(third));
        let mut recording = Recording {
            layout_by_count: layout.by_count,
            scale: if document.annotated {
                Scale::Pixels
            } else {
                Scale::Unknown
            },
            size: document.size(),
            least_score: if flags { 0.0 } else { LEAST_SCORE },
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        recording.frames = document.frames(&layout, &place)?;
        Ok(recording)
    }
}

/// Both forms; a list of results has annotations only.
#[derive(Default)]
struct Document {
    images: Vec<Image>,
    annotations: Vec<Entry>,
    categories: Vec<Category>,
    annotated: bool,
}

#[derive(serde::Deserialize)]
struct Image {
    #[serde(default)]
    id: Id,
    #[serde(default)]
    frame_id: Number,
    #[serde(default)]
    width: Number,
    #[serde(default)]
    height: Number,
}

#[derive(serde::Deserialize)]
struct Entry {
    #[serde(default)]
    image_id: Id,
    #[serde(default)]
    category_id: Number,
    #[serde(default)]
    keypoints: Flat,
    #[serde(default)]
    track_id: Id,
}

#[derive(serde::Deserialize)]
struct Category {
    #[serde(default)]
    id: Number,
    #[serde(default)]
    keypoints: Option<Vec<String>>,
}

impl Category {
    fn fits(&self, entry: &Entry) -> bool {
        self.keypoints.is_some()
            && match (self.id.get(), entry.category_id.get()) {
                (Some(a), Some(b)) => a == b,
                _ => true,
            }
    }
}

/// A number, or a text such as a file name.
#[derive(Debug, Clone, Default, PartialEq)]
enum Id {
    #[default]
    None,
    Number(i64),
    Text(String),
}

impl Id {
    /// The number, or the last run of digits of the text.
    fn number(&self) -> Option<i64> {
        match self {
            Id::None => None,
            Id::Number(number) => Some(*number),
            Id::Text(text) => {
                let tail = text.trim_end_matches(|c: char| !c.is_ascii_digit());
                let start = tail.trim_end_matches(|c: char| c.is_ascii_digit()).len();
                tail.get(start..)?.parse().ok()
            }
        }
    }
}

impl<'de> Deserialize<'de> for Id {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct IdVisitor;
        impl<'de> Visitor<'de> for IdVisitor {
            type Value = Id;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number or a text")
            }
            fn visit_i64<E>(self, value: i64) -> Result<Id, E> {
                Ok(Id::Number(value))
            }
            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Id, E> {
                i64::try_from(value)
                    .map(Id::Number)
                    .map_err(|_| E::custom("the number is too large"))
            }
            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Id, E> {
                match value.fract() == 0.0 && value.abs() < 9e15 {
                    true => Ok(Id::Number(value as i64)),
                    false => Err(E::custom("an id has no fraction")),
                }
            }
            fn visit_str<E>(self, text: &str) -> Result<Id, E> {
                Ok(Id::Text(text.to_string()))
            }
            fn visit_unit<E>(self) -> Result<Id, E> {
                Ok(Id::None)
            }
        }
        deserializer.deserialize_any(IdVisitor)
    }
}

impl<'de> Deserialize<'de> for Document {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(serde::Deserialize)]
        struct Whole {
            #[serde(default)]
            images: Vec<Image>,
            annotations: Vec<Entry>,
            #[serde(default)]
            categories: Vec<Category>,
        }
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Document;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of results or an object with `annotations`")
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Document, A::Error> {
                let whole = Whole::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Document {
                    images: whole.images,
                    annotations: whole.annotations,
                    categories: whole.categories,
                    annotated: true,
                })
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Document, A::Error> {
                let mut document = Document::default();
                while let Some(entry) = seq.next_element()? {
                    document.annotations.push(entry);
                }
                Ok(document)
            }
        }
        deserializer.deserialize_any(Either)
    }
}

impl Document {
    /// The size that all images share.
    fn size(&self) -> Option<PictureSize> {
        let mut sizes = self
            .images
            .iter()
            .map(|image| Some([image.width.get()?, image.height.get()?]));
        let first = sizes.next()??;
        let [width, height] = sizes.all(|size| size == Some(first)).then_some(first)?;
        Some(PictureSize { width, height })
    }

    fn frames(&self, layout: &Layout, place: &Place) -> Result<Vec<RecordingFrame>, Fault> {
        let mut frames: BTreeMap<i64, Vec<Detection>> = BTreeMap::new();
        let unknown = |what: String, field: &str| {
            Fault::new(
                FaultKind::Malformed,
                "read/number",
                what,
                place.clone().field(field),
                "numbering the images in the order of the clip",
            )
        };
        // An image may be renumbered by its frame in the video.
        let mut of_image: BTreeMap<i64, i64> = BTreeMap::new();
        for (index, image) in self.images.iter().enumerate() {
            let id = image.id.number().ok_or_else(|| {
                unknown(
                    "an image has no number".into(),
                    &format!("images[{index}].id"),
                )
            })?;
            let number = image.frame_id.get().map_or(id, |number| number as i64);
            of_image.insert(id, number);
            frames.entry(number).or_default();
        }
        for (index, entry) in self.annotations.iter().enumerate() {
            let field = format!("entry {index}");
            let id = entry.image_id.number().ok_or_else(|| {
                unknown(
                    format!("`image_id` {:?} holds no number", entry.image_id),
                    &field,
                )
            })?;
            let number = of_image.get(&id).copied().unwrap_or(id);
            let people = frames.entry(number).or_default();
            let numbers = &entry.keypoints.0;
            if numbers.is_empty() {
                continue;
            }
            if numbers.len() != 3 * layout.keypoints {
                return Err(Fault::new(
                    FaultKind::Malformed,
                    "read/length",
                    format!(
                        "{} numbers where {} were expected",
                        numbers.len(),
                        3 * layout.keypoints
                    ),
                    place
                        .clone()
                        .field(format!("{field}, keypoints"))
                        .frame(number),
                    "exporting again; every detection needs the same points",
                ));
            }
            let picture = numbers
                .chunks_exact(3)
                .filter_map(|chunk| <[f32; 3]>::try_from(chunk).ok())
                .map(|point| if point[2] > 0.0 { point } else { [f32::NAN; 3] })
                .collect();
            let id = match &entry.track_id {
                Id::None => None,
                Id::Number(number) => Some(number.to_string()),
                Id::Text(text) => Some(text.clone()),
            };
            let raw = Detection {
                id,
                picture,
                space: Vec::new(),
            };
            if people.len() < limits::PEOPLE {
                people.extend(gather::joints(raw, layout));
            }
        }
        if frames.len() > limits::FRAMES {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!("there are more than {} frames", limits::FRAMES),
                place.clone(),
                "cutting the clip into shorter ones",
            ));
        }
        Ok(frames
            .into_iter()
            .map(|(number, people)| RecordingFrame {
                number,
                stamp_s: None,
                people,
            })
            .collect())
    }
}
