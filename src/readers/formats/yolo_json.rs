//! YOLO pose results as JSON: for each picture a list of `{name, class, confidence, box, keypoints}`.
//!
//! `keypoints` is an object of lists x, y and visible, which is the points' score. No picture's list says which
//! frame it is: a folder holds one file for each picture, numbered in its name, or one file holds a list with
//! one list for each frame. A point at 0, 0 is missing.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::clip::{Clip, USUAL};
use crate::readers::id::{Id, last_number};
use crate::readers::json::Flat;
use crate::readers::{Fit, Probe, ReadOptions, Reader, Sketch, Source, stream};
use crate::track::{Detection, Recording};
use serde::Deserialize;
use serde::de::{self, Deserializer, Visitor};
use std::fmt;

/// Score below which a point counts as not seen (common practice, no source).
const LEAST_SCORE: f64 = 0.3;

/// The reader.
pub struct YoloJson;

impl Reader for YoloJson {
    fn id(&self) -> &'static str {
        "yolo-json"
    }

    fn title(&self) -> &'static str {
        "YOLO pose results, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads the lists of results that YOLO pose models give as JSON (name, class, confidence, box, keypoints \
         with lists x, y, visible): a folder with one file for each picture, its number in the name, or one \
         list with a list for each frame. Pixels, or shares of the picture if they were normalised: then state \
         --size. No frame rate is in such files: state --fps."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        let is_result = |item: &Sketch| {
            let points = item.get("keypoints");
            points.is_some_and(|points| ["x", "y"].iter().all(|key| is_list(points, key)))
        };
        let mut people = json
            .items()
            .iter()
            .chain(json.items().iter().flat_map(|frame| frame.items().iter()));
        match people.any(is_result) {
            true => Fit::certain("`keypoints` with lists `x` and `y`"),
            false => Fit::no("no `keypoints` with lists `x` and `y`"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let mut clip = Clip::new(options, models, &USUAL);
        if source.is_folder() {
            for member in source.members() {
                let place = member.place();
                let number = last_number(member.name()).ok_or_else(|| {
                    Fault::new(
                        FaultKind::Malformed,
                        "read/number",
                        "the name of the file holds no frame number",
                        place.clone(),
                        "numbering the files in the order of the clip",
                    )
                })?;
                clip.frame(number, &place)?;
                stream::elements(member, &[], |_, element: Element| match element {
                    Element::One(person) => person.add(number, &place, &mut clip),
                    Element::Frame(_) => Err(Fault::new(
                        FaultKind::Unsupported,
                        "read/folder",
                        "this file of the folder holds a list for each frame of a clip",
                        place.clone(),
                        "giving that file itself",
                    )),
                })?;
            }
        } else {
            let member = source.single()?;
            let place = member.place();
            stream::elements(member, &[], |index, element: Element| match element {
                Element::Frame(people) => {
                    let number = index as i64;
                    clip.frame(number, &place)?;
                    people
                        .into_iter()
                        .try_for_each(|person| person.add(number, &place, &mut clip))
                }
                Element::One(_) => Err(Fault::new(
                    FaultKind::Malformed,
                    "read/too-few-frames",
                    "these are the results of one picture, not of a clip",
                    place.clone(),
                    "giving the folder with one file for each picture, or one list with a list for each frame",
                )),
            })?;
        }
        let recording = clip.finish(self.id(), Place::file(source.name()))?;
        Ok(Recording {
            least_score: LEAST_SCORE,
            ..recording
        })
    }
}

/// Whether a key holds a list.
fn is_list(points: &Sketch, key: &str) -> bool {
    matches!(points.get(key), Some(Sketch::List(..)))
}

#[derive(Deserialize)]
struct Person {
    #[serde(default)]
    keypoints: Option<Points>,
    #[serde(default)]
    track_id: Id,
}

#[derive(Deserialize)]
struct Points {
    #[serde(default)]
    x: Flat,
    #[serde(default)]
    y: Flat,
    #[serde(default)]
    visible: Flat,
}

impl Person {
    fn add(self, number: i64, place: &Place, clip: &mut Clip<'_>) -> Result<(), Fault> {
        let Some(points) = self.keypoints else {
            return Ok(());
        };
        let (x, y, visible) = (points.x.0, points.y.0, points.visible.0);
        let scored = visible.is_empty() || visible.len() == x.len();
        if x.len() != y.len() || !scored {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!(
                    "{} x, {} y and {} visible do not go together",
                    x.len(),
                    y.len(),
                    visible.len()
                ),
                place.clone().frame(number).field("keypoints"),
                "exporting again; every point needs x, y and a score",
            ));
        }
        let score = |index: usize| visible.get(index).copied().unwrap_or(1.0);
        let picture =
            x.iter()
                .zip(&y)
                .enumerate()
                .map(|(index, (x, y))| match *x == 0.0 && *y == 0.0 {
                    true => [f32::NAN, f32::NAN, 0.0],
                    false => [*x, *y, score(index)],
                });
        let one = Detection {
            id: self.track_id.label(),
            picture: picture.collect(),
            space: Vec::new(),
        };
        clip.person(number, one, place)
    }
}

/// A person, or all people of a frame.
enum Element {
    One(Box<Person>),
    Frame(Vec<Person>),
}

impl<'de> Deserialize<'de> for Element {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Element;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a result, or a list of results")
            }
            fn visit_unit<E>(self) -> Result<Element, E> {
                Ok(Element::Frame(Vec::new()))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Element, A::Error> {
                let person = Person::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Element::One(Box::new(person)))
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Element, A::Error> {
                let mut people = Vec::new();
                while let Some(person) = seq.next_element()? {
                    people.push(person);
                }
                Ok(Element::Frame(people))
            }
        }
        deserializer.deserialize_any(Either)
    }
}
