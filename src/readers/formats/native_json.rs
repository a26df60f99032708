//! The program's own track file, `scaplane.track/1`: what `convert` writes, read back.
//!
//! One person, joints by id, picture coordinates in pixels with y down from the top left, world coordinates in
//! metres in the program's axes. A point that is not there is null.

use crate::body::Joint;
use crate::models::Models;
use crate::note::{Fault, FaultKind};
use crate::readers::json::{self, Number};
use crate::readers::{Fit, Probe, ReadOptions, Reader, Sketch, Source};
use crate::track::{Detection, PictureSize, Recording, RecordingFrame, Scale, SpaceAxes};
use serde::Deserialize;

/// Format name and version.
pub const FORMAT: &str = "scaplane.track/1";

/// The reader.
pub struct NativeJson;

#[derive(Deserialize)]
struct File {
    layout: String,
    joints: Vec<String>,
    #[serde(default)]
    person: Option<String>,
    #[serde(default)]
    stamped: bool,
    #[serde(default)]
    rate_hz: Number,
    #[serde(default)]
    size: Option<[f64; 2]>,
    #[serde(default)]
    measured_depth: bool,
    frames: Vec<Frame>,
}

#[derive(Deserialize)]
struct Frame {
    number: i64,
    #[serde(default)]
    time_s: Number,
    #[serde(default)]
    picture: Vec<Option<[f32; 3]>>,
    #[serde(default)]
    space: Vec<Option<[f32; 4]>>,
}

impl Reader for NativeJson {
    fn id(&self) -> &'static str {
        "native-json"
    }

    fn title(&self) -> &'static str {
        "scaplane track, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads the file that `scaplane convert --to native` writes. Everything a track holds is in it: nothing \
         needs to be stated."
    }

    fn takes_names(&self) -> bool {
        false
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let format = probe
            .json()
            .and_then(|json| json.get("format"))
            .and_then(Sketch::text);
        match format {
            Some(FORMAT) => Fit::certain("`format` says so"),
            Some(other) if other.starts_with("scaplane.track/") => {
                Fit::possible("a track file of another version")
            }
            _ => Fit::no("no `format` that says so"),
        }
    }

    fn read(
        &self,
        source: &Source,
        _options: &ReadOptions,
        _models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let file: File = json::parse(member)?;
        let mut joints = Vec::with_capacity(file.joints.len());
        for id in &file.joints {
            joints.push(Joint::from_id(id).ok_or_else(|| {
                Fault::new(
                    FaultKind::Malformed,
                    "read/value",
                    format!("there is no joint `{id}`"),
                    member.place().field("joints"),
                    "writing the track again with this version of the program",
                )
            })?);
        }
        let count = joints.len();
        let mut recording = Recording {
            scale: Scale::Pixels,
            size: file
                .size
                .map(|[width, height]| PictureSize { width, height }),
            rate_hz: file.rate_hz.get(),
            metres_per_unit: Some(1.0),
            axes: SpaceAxes::OWN,
            measured_depth: file.measured_depth,
            ..Recording::new(self.id(), file.layout, joints)
        };
        for frame in file.frames {
            for length in [frame.picture.len(), frame.space.len()] {
                if length != 0 && length != count {
                    return Err(Fault::new(
                        FaultKind::Malformed,
                        "read/length",
                        format!("{length} points where {count} joints are named"),
                        member.place().frame(frame.number),
                        "writing the track again",
                    ));
                }
            }
            let picture = frame
                .picture
                .into_iter()
                .map(|p| p.unwrap_or([f32::NAN; 3]));
            let space = frame.space.into_iter().map(|p| p.unwrap_or([f32::NAN; 4]));
            let one = Detection {
                id: file.person.clone(),
                picture: picture.collect(),
                space: space.collect(),
            };
            let empty = one.picture.is_empty() && one.space.is_empty();
            recording.frames.push(RecordingFrame {
                number: frame.number,
                stamp_s: frame.time_s.get().filter(|_| file.stamped),
                people: if empty { Vec::new() } else { vec![one] },
            });
        }
        Ok(recording)
    }
}
