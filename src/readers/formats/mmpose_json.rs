//! MMPose results: the file of its demo scripts (`meta_info` and `instance_info`) and that of its inferencer
//! (a list of `{frame_id, instances}`).
//!
//! An instance has `keypoints` (x, y or x, y, z for each point) and `keypoint_scores`. Names stand in
//! `meta_info` only. Three-dimensional points have z up; the file's axes are those of the camera as
//! (-x, z, -y), which the axes here undo. A result for one picture has instances without `frame_id`.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::readers::clip::{Clip, USUAL};
use crate::readers::id::{Id, last_number};
use crate::readers::json::{self, Flat, Number};
use crate::readers::source::Member;
use crate::readers::{Fit, Probe, ReadOptions, Reader, Source, stream};
use crate::track::{Detection, Recording, SpaceAxes};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Score below which the estimator's own scripts do not draw a point (their default, from memory, not
/// verified).
const LEAST_SCORE: f64 = 0.3;
/// The order of the lifted points.
const USUAL_LIFTED: [&str; 1] = ["h36m-17"];
/// Undoes (-x, z, -y) of camera axes with x right, y down, z away: right = -x, up = z, toward the camera = -y.
const LIFTED_AXES: SpaceAxes =
    SpaceAxes::Known([[-1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]);

/// The reader.
pub struct MmposeJson;

impl Reader for MmposeJson {
    fn id(&self) -> &'static str {
        "mmpose-json"
    }

    fn title(&self) -> &'static str {
        "MMPose results, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads what MMPose's demo scripts save (meta_info and instance_info, frames from 1), what its inferencer \
         saves for a video (a list of frames with instances, from 0), and a folder of its results for single \
         pictures. Names in meta_info decide the layout, else the number of points. Lifted, three-dimensional \
         results are read with z up; their size is not trustworthy and is told by the body. No frame rate and \
         no picture size is in such files: state --fps. Scores may exceed 1."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json() else {
            return Fit::no("not JSON");
        };
        if json.has("instance_info") {
            return Fit::certain("`instance_info`");
        }
        let has = |keys: [&str; 2]| {
            json.items()
                .iter()
                .any(|item| keys.iter().all(|key| item.has(key)))
        };
        if has(["frame_id", "instances"]) {
            Fit::certain("a list of frames with `frame_id` and `instances`")
        } else if has(["keypoints", "keypoint_scores"]) {
            Fit::certain("a list with `keypoints` and `keypoint_scores`")
        } else {
            Fit::no("neither `instance_info` nor `instances` nor `keypoint_scores`")
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let mut clip = Clip::new(options, models, &USUAL);
        clip.expect_in_space(&USUAL_LIFTED);
        for member in source.members() {
            if let Some(names) = names_of(member)? {
                clip.name(names);
            }
            match source.is_folder() {
                true => add_picture(member, &mut clip)?,
                false => add_video(member, &mut clip)?,
            }
        }
        let recording = clip.finish(self.id(), Place::file(source.name()))?;
        Ok(Recording {
            least_score: LEAST_SCORE,
            axes: LIFTED_AXES,
            ..recording
        })
    }
}

/// A frame, or in the result for one picture an instance.
#[derive(Deserialize)]
struct Element {
    #[serde(default)]
    frame_id: Number,
    #[serde(default)]
    instances: Option<Vec<Instance>>,
    #[serde(flatten)]
    own: Instance,
}

#[derive(Deserialize, Default)]
struct Instance {
    #[serde(default)]
    keypoints: Option<Vec<Flat>>,
    #[serde(default)]
    keypoint_scores: Flat,
    #[serde(default)]
    track_id: Id,
}

impl Instance {
    fn detection(self, place: &Place) -> Result<Detection, Fault> {
        let points = self.keypoints.unwrap_or_default();
        let scores = self.keypoint_scores.0;
        let wrong = |what: String| {
            Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                what,
                place.clone().field("instances[].keypoints"),
                "exporting again; every point needs x, y (and z) and one score",
            ))
        };
        if !scores.is_empty() && scores.len() != points.len() {
            return wrong(format!(
                "{} scores for {} keypoints",
                scores.len(),
                points.len()
            ));
        }
        let mut one = Detection {
            id: self.track_id.label(),
            ..Detection::default()
        };
        for (index, point) in points.iter().enumerate() {
            let score = scores.get(index).copied().unwrap_or(1.0);
            match *point.0.as_slice() {
                [x, y] if one.space.is_empty() => one.picture.push([x, y, score]),
                [x, y, z] if one.picture.is_empty() => one.space.push([x, y, z, score]),
                _ => return wrong(format!("point {index} has {} numbers", point.0.len())),
            }
        }
        Ok(one)
    }
}

fn add_video(member: &Member, clip: &mut Clip<'_>) -> Result<(), Fault> {
    let mut instances = 0_usize;
    let place = member.place();
    stream::elements(member, &["instance_info"], |index, element: Element| {
        let number = element.frame_id.get().map_or(index as i64, |id| id as i64);
        let Some(people) = element.instances else {
            instances += 1;
            return Ok(());
        };
        clip.frame(number, &place)?;
        for person in people {
            let at = place.clone().frame(number);
            clip.person(number, person.detection(&at)?, &place)?;
        }
        Ok(())
    })?;
    match instances {
        0 => Ok(()),
        count => Err(Fault::new(
            FaultKind::Malformed,
            "read/too-few-frames",
            format!("this is the result for one picture, with {count} people and no frames"),
            place,
            "running the estimator on the video, or giving the folder with one result for each picture",
        )),
    }
}

/// A file of a folder is one frame; its number is in its name.
fn add_picture(member: &Member, clip: &mut Clip<'_>) -> Result<(), Fault> {
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
    stream::elements(member, &["instance_info"], |_, element: Element| {
        if element.instances.is_some() {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/folder",
                "this file of the folder is the result for a whole video",
                place.clone(),
                "giving that file itself",
            ));
        }
        let at = place.clone().frame(number);
        clip.person(number, element.own.detection(&at)?, &place)
    })
}

#[derive(Deserialize)]
struct Head {
    #[serde(default)]
    meta_info: Option<Meta>,
}

#[derive(Deserialize)]
struct Meta {
    #[serde(default)]
    keypoint_id2name: Option<BTreeMap<String, String>>,
}

/// Names by number, if the file has as many as its highest number says.
fn names_of(member: &Member) -> Result<Option<Vec<String>>, Fault> {
    if !stream::is_object(member)? {
        return Ok(None);
    }
    let head: Head = json::parse(member)?;
    let Some(names) = head.meta_info.and_then(|meta| meta.keypoint_id2name) else {
        return Ok(None);
    };
    let mut numbered: Vec<(usize, String)> = names
        .into_iter()
        .filter_map(|(number, name)| Some((number.parse().ok()?, name)))
        .collect();
    numbered.sort();
    let complete = numbered
        .iter()
        .enumerate()
        .all(|(index, (number, _))| index == *number);
    Ok(complete.then(|| numbered.into_iter().map(|(_, name)| name).collect()))
}
