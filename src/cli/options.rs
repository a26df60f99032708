//! Options that several commands share.

use crate::body::{Side, ViewName};
use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::readers::{AxisOrder, ReadOptions};
use crate::session::Reported;
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
    /// The options that were given, with their values; one without a value has none.
    pub fn given(&self) -> Vec<(&'static str, Option<String>)> {
        let mut given = Vec::new();
        let mut add = |option: &'static str, value: Option<String>| {
            given.extend(value.map(|value| (option, Some(value))));
        };
        add("--fps", self.fps.map(|fps| fps.to_string()));
        let size = self.size;
        add(
            "--size",
            size.map(|size| format!("{}x{}", size.width, size.height)),
        );
        add("--layout", self.layout.clone());
        add("--format", self.format.clone());
        add("--person", self.person.clone());
        add("--up", self.up.map(|up| up.id().to_string()));
        let order = self.axis_order;
        add("--axis-order", order.map(|order| order.id().to_string()));
        for (joint, name) in &self.map {
            add("--map", Some(format!("{joint}={name}")));
        }
        if self.mirrored {
            given.push(("--mirrored", None));
        }
        given
    }

    /// The options as they were given, each with a space before it.
    pub fn as_typed(&self) -> String {
        let word = |text: &str| {
            if text
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || "._-=".contains(c))
            {
                text.to_string()
            } else {
                format!("'{}'", text.replace('\'', r"'\''"))
            }
        };
        let typed = |(option, value): (&str, Option<String>)| match value {
            Some(value) => format!(" {option} {}", word(&value)),
            None => format!(" {option}"),
        };
        self.given().into_iter().map(typed).collect()
    }

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

/// What the person said; it is shown beside the findings and changes none.
#[derive(Args, Clone, Copy)]
pub struct Told {
    /// Pain before the exercise, 0 to 10.
    #[arg(long, value_name = "0-10", value_parser = scale)]
    pain_before: Option<f64>,
    /// Worst pain during the exercise, 0 to 10.
    #[arg(long, value_name = "0-10", value_parser = scale)]
    pain_during: Option<f64>,
    /// Pain after the exercise, 0 to 10.
    #[arg(long, value_name = "0-10", value_parser = scale)]
    pain_after: Option<f64>,
    /// Effort, 0 to 10.
    #[arg(long, value_name = "0-10", value_parser = scale)]
    effort: Option<f64>,
}

impl Told {
    /// For the result; `None` if nothing was said.
    pub fn session(&self) -> Option<Reported> {
        let reported = Reported {
            pain_before: self.pain_before,
            pain_during: self.pain_during,
            pain_after: self.pain_after,
            effort: self.effort,
        };
        (reported != Reported::default()).then_some(reported)
    }
}

fn scale(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.0..=10.0).contains(&value) => Ok(value),
        _ => Err("write a number from 0 to 10".into()),
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
        let known: Vec<&str> = models.exercises.keys().collect();
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-exercise",
            format!("no exercise is called `{id}`"),
            Place::default().field("--exercise"),
            format!("one of {}", known.join(", ")),
        )
    })
}
