//! Options that several commands share.

use crate::body::{Side, ViewName};
use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::readers::{AxisOrder, ReadOptions};
use crate::track::{PictureSize, Up};
use clap::{Args, ValueEnum};

/// How a file is to be read, where the file does not say.
#[derive(Args, Clone)]
pub struct Reading {
    /// Frames a second, for files without time stamps or rate.
    #[arg(long, allow_negative_numbers = true)]
    fps: Option<f64>,
    /// Picture size in pixels, such as 1080x1920.
    #[arg(long, value_parser = size)]
    size: Option<PictureSize>,
    /// Keypoint layout, for files without names.
    #[arg(long)]
    layout: Option<String>,
    /// File format, when the content fits two.
    #[arg(long)]
    format: Option<String>,
    /// Person to measure: an id of the file, or a number by first appearance.
    #[arg(long)]
    person: Option<String>,
    /// The video is a mirror image.
    #[arg(long)]
    mirrored: bool,
    /// Upward axis of world coordinates: x, y, z, -x, -y, -z.
    #[arg(long, value_parser = up, allow_hyphen_values = true)]
    up: Option<Up>,
    /// Which picture coordinate comes first in a dump without names: yx or xy.
    #[arg(long, value_parser = axis_order)]
    axis_order: Option<AxisOrder>,
    /// What a joint is called in the file, such as left_shoulder=LShldr; may be given several times.
    #[arg(long, value_name = "JOINT=NAME", value_parser = pair)]
    map: Vec<(String, String)>,
}

impl Reading {
    /// The readers' options.
    pub fn options(&self) -> ReadOptions {
        ReadOptions {
            fps: self.fps,
            size: self.size,
            layout: self.layout.clone(),
            format: self.format.clone(),
            person: self.person.clone(),
            mirrored: self.mirrored,
            up: self.up,
            axis_order: self.axis_order,
            map: self.map.clone(),
        }
    }
}

fn size(text: &str) -> Result<PictureSize, String> {
    PictureSize::from_text(text)
        .ok_or_else(|| "write width x height in pixels, such as 1080x1920".into())
}

fn pair(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((joint, name)) if !joint.trim().is_empty() && !name.trim().is_empty() => {
            Ok((joint.trim().into(), name.trim().into()))
        }
        _ => {
            Err("write the joint, = and the name in the file, such as left_shoulder=LShldr".into())
        }
    }
}

fn up(text: &str) -> Result<Up, String> {
    Up::from_id(text).ok_or_else(|| "write x, y, z, -x, -y or -z".into())
}

fn axis_order(text: &str) -> Result<AxisOrder, String> {
    AxisOrder::from_id(text).ok_or_else(|| "write yx or xy".into())
}

/// Side to measure.
#[derive(Clone, Copy, ValueEnum)]
pub enum SideChoice {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
    /// Each in turn.
    Both,
}

impl SideChoice {
    /// The sides to measure; `None` stands for the one that moves more.
    pub fn sides(choice: Option<SideChoice>) -> Vec<Option<Side>> {
        match choice {
            None => vec![None],
            Some(SideChoice::Left) => vec![Some(Side::Left)],
            Some(SideChoice::Right) => vec![Some(Side::Right)],
            Some(SideChoice::Both) => vec![Some(Side::Left), Some(Side::Right)],
        }
    }
}

/// View stated by the user.
#[derive(Clone, Copy, ValueEnum)]
pub enum ViewChoice {
    /// The person faces the phone.
    Front,
    /// The person's back is to the phone.
    Back,
    /// The person's left side is toward the phone.
    Left,
    /// The person's right side is toward the phone.
    Right,
}

impl From<ViewChoice> for ViewName {
    fn from(choice: ViewChoice) -> ViewName {
        match choice {
            ViewChoice::Front => ViewName::Front,
            ViewChoice::Back => ViewName::Back,
            ViewChoice::Left => ViewName::Left,
            ViewChoice::Right => ViewName::Right,
        }
    }
}

/// The exercise of that id.
pub fn exercise<'a>(id: &str, models: &'a Models) -> Result<&'a Exercise, Fault> {
    models.exercise(id).ok_or_else(|| {
        let known: Vec<&str> = models.exercises.keys().map(String::as_str).collect();
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-exercise",
            format!("no exercise is called `{id}`"),
            Place::default().field("--exercise"),
            format!("one of {}", known.join(", ")),
        )
    })
}
