//! AlphaPose results: one list of detections for the whole clip, or an object keyed by the picture's name.
//!
//! In a list, `image_id` is the picture's name and `keypoints` is x, y, c for each point; pictures without
//! people are absent. The keyed forms are `--format cmu` (`bodies[].joints`), `--format open`
//! (`people[].pose_keypoints_2d`), both in the 18-point order, and the file of its tracker (a list of
//! detections). A folder holds one such picture in each file.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::clip::{Clip, USUAL, whole_triples};
use crate::readers::id::{Id, last_number};
use crate::readers::json::{self, Flat};
use crate::readers::{Fit, Probe, ReadOptions, Reader, Sketch, Source, stream};
use crate::track::{Detection, Recording};
use serde::Deserialize;
use serde::de::{self, Deserializer, IgnoredAny, Visitor};
use std::fmt;

/// Score below which a point counts as not seen (common practice, no source): points are never left out, an
/// unseen one has a low score. Scores of some models reach 6.
const LEAST_SCORE: f64 = 0.3;
/// The order of the forms that imitate other programs.
const USUAL_KEYED: [&str; 1] = ["coco-18"];

/// The reader.
pub struct AlphaposeJson;

impl Reader for AlphaposeJson {
    fn id(&self) -> &'static str {
        "alphapose-json"
    }

    fn title(&self) -> &'static str {
        "AlphaPose results, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads alphapose-results.json: a list of detections whose image_id is the picture's name, with idx and \
         box; its cmu and open forms, keyed by the picture's name; and the file of its tracker. The last number \
         in the name is the frame. 17, 26, 68, 133 or 136 points by their count, 18 in the keyed forms. Frames \
         without people are absent. No frame rate and no picture size is in such files: state --fps. Points of \
         a body model in space (pred_xyz_jts) are left out."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        if has_bodies(json) {
            return match probe.folder {
                true => Fit::certain("`bodies` with `joints`"),
                false => Fit::possible("one picture with `bodies` and `joints`"),
            };
        }
        if probe.folder {
            return Fit::no("a folder without `bodies`");
        }
        let entry = json.items().iter().find(|item| item.has("image_id"));
        match entry {
            Some(entry) => fit_of_entry(entry),
            None => fit_of_object(json),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let mut clip = Clip::new(options, models, &USUAL);
        let mut in_space = 0_usize;
        if source.is_folder() {
            for member in source.members() {
                let place = member.place();
                let number = frame_of(member.name(), &place)?;
                let picture: Picture = json::parse(member)?;
                in_space += picture.add(number, &place, &mut clip)?;
            }
        } else {
            let member = source.single()?;
            let place = member.place();
            if !stream::is_object(member)? {
                stream::elements(member, &[], |index, entry: Entry| {
                    let field = place.clone().field(format!("entry {index}, image_id"));
                    let number = entry.image_id.number().ok_or_else(|| {
                        no_number(&format!("`image_id` {:?}", entry.image_id), &field)
                    })?;
                    in_space += usize::from(entry.pred_xyz_jts.is_some());
                    let at = place.clone().frame(number);
                    clip.person(number, entry.detection(&at)?, &place)
                })?;
            } else {
                stream::entries(member, |name, picture: Picture| {
                    if matches!(picture, Picture::Nothing) {
                        return Err(one_picture(&place));
                    }
                    let number = frame_of(&name, &place)?;
                    in_space += picture.add(number, &place, &mut clip)?;
                    Ok(())
                })?;
            }
        }
        let mut recording = clip.finish(self.id(), Place::file(source.name()))?;
        recording.least_score = LEAST_SCORE;
        if in_space > 0 {
            recording.notes.push(Note::new(
                "read/points-unused",
                format!(
                    "The points in space of {in_space} detections (pred_xyz_jts) were left out."
                ),
            ));
        }
        Ok(recording)
    }
}

fn fit_of_entry(entry: &Sketch) -> Fit {
    if !entry.has("keypoints") {
        return Fit::no("detections without `keypoints`");
    }
    if entry.has_any(&["idx", "box", "pred_xyz_jts"]) {
        return Fit::certain("a list with `image_id` and `idx` or `box`");
    }
    if entry.has_any(&["bbox", "id", "area", "num_keypoints"]) {
        return Fit::no("entries have what only COCO has");
    }
    match entry.get("image_id").and_then(Sketch::text) {
        Some(name) if names_a_picture(name) => {
            Fit::certain("a list with `keypoints`, its `image_id` a picture's name, without `bbox`")
        }
        Some(_) => Fit::possible("a list with `keypoints`, its `image_id` a text"),
        None => Fit::no("`image_id` is a number, without `idx` and `box`"),
    }
}

/// COCO numbers pictures; this estimator writes the name that its own frames or the user's pictures have.
fn names_a_picture(name: &str) -> bool {
    let lower = name.to_ascii_lowercase();
    [".jpg", ".jpeg", ".png", ".bmp"]
        .iter()
        .any(|ending| lower.ends_with(ending))
}

fn fit_of_object(json: &Sketch) -> Fit {
    let values = |test: fn(&Sketch) -> bool| {
        json.keys()
            .iter()
            .filter(|key| last_number(key).is_some())
            .filter_map(|key| json.get(key))
            .any(test)
    };
    if values(has_bodies) {
        Fit::certain("`bodies` with `joints` under the names of pictures")
    } else if values(|value| value.has("people")) {
        Fit::certain("`people` under the names of pictures")
    } else if values(is_listed_picture) {
        Fit::certain("detections with `keypoints` under the names of pictures")
    } else {
        Fit::no("no picture's name with detections")
    }
}

fn has_bodies(json: &Sketch) -> bool {
    json.get("bodies")
        .is_some_and(|bodies| bodies.any_item_has(&["joints"]))
}

fn is_listed_picture(value: &Sketch) -> bool {
    value.items().iter().any(|item| {
        item.has_any(&["scores", "idx", "score"])
            && item.get("keypoints").is_some_and(|list| !list.is_empty())
    })
}

fn frame_of(name: &str, place: &Place) -> Result<i64, Fault> {
    last_number(name).ok_or_else(|| no_number(&format!("the picture's name `{name}`"), place))
}

fn one_picture(place: &Place) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/too-few-frames",
        "this is the result for one picture, not for a clip",
        place.clone(),
        "giving the file of the whole clip, or the folder with one result for each picture",
    )
}

fn no_number(what: &str, place: &Place) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/number",
        format!("{what} holds no number"),
        place.clone(),
        "numbering the pictures in the order of the clip",
    )
}

/// A detection of the list, or of the tracker's file.
#[derive(Deserialize)]
struct Entry {
    #[serde(default)]
    image_id: Id,
    #[serde(default)]
    keypoints: Flat,
    #[serde(default)]
    idx: Id,
    #[serde(default)]
    pred_xyz_jts: Option<IgnoredAny>,
}

impl Entry {
    fn detection(self, place: &Place) -> Result<Detection, Fault> {
        let at = place.clone().field("keypoints");
        Ok(Detection {
            id: self.idx.label(),
            picture: whole_triples(self.keypoints.0, || at.clone())?,
            space: Vec::new(),
        })
    }
}

#[derive(Deserialize)]
struct Body {
    #[serde(default, alias = "pose_keypoints_2d")]
    joints: Flat,
    #[serde(default, alias = "person_id")]
    idx: Id,
}

/// What stands under a picture's name.
enum Picture {
    Entries(Vec<Entry>),
    Bodies(Vec<Body>),
    /// A word: the file is itself one picture.
    Nothing,
}

impl Picture {
    /// Adds its people; how many had points in space.
    fn add(self, number: i64, place: &Place, clip: &mut Clip<'_>) -> Result<usize, Fault> {
        clip.frame(number, place)?;
        let at = place.clone().frame(number);
        let mut in_space = 0;
        match self {
            Picture::Nothing => {}
            Picture::Entries(entries) => {
                clip.expect(&USUAL);
                for entry in entries {
                    in_space += usize::from(entry.pred_xyz_jts.is_some());
                    clip.person(number, entry.detection(&at)?, place)?;
                }
            }
            Picture::Bodies(bodies) => {
                clip.expect(&USUAL_KEYED);
                for body in bodies {
                    let field = at.clone().field("joints");
                    let one = Detection {
                        // -1 stands for nobody in particular.
                        id: body.idx.label().filter(|id| !id.starts_with('-')),
                        picture: whole_triples(body.joints.0, || field.clone())?,
                        space: Vec::new(),
                    };
                    clip.person(number, one, place)?;
                }
            }
        }
        Ok(in_space)
    }
}

impl<'de> Deserialize<'de> for Picture {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        struct Keyed {
            #[serde(alias = "people")]
            bodies: Vec<Body>,
        }
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Picture;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of detections, or an object with `bodies` or `people`")
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Picture, A::Error> {
                let keyed = Keyed::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Picture::Bodies(keyed.bodies))
            }
            fn visit_str<E>(self, _: &str) -> Result<Picture, E> {
                Ok(Picture::Nothing)
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Picture, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = seq.next_element()? {
                    entries.push(entry);
                }
                Ok(Picture::Entries(entries))
            }
        }
        deserializer.deserialize_any(Either)
    }
}
