//! `scaplane inspect`: what a file is, how sure, and what it can and cannot support.

use super::advice;
use super::options::{Reading, ViewChoice, exercise};
use super::output;
use crate::body::{Joint, Side};
use crate::models::Models;
use crate::note::Fault;
use crate::pipeline;
use crate::readers;
use crate::track::Track;
use clap::Args;
use std::fmt::Write;
use std::path::PathBuf;

/// Say what a file is, and which measures it can support.
#[derive(Args)]
pub struct Inspect {
    /// Track.
    clip: PathBuf,
    /// Exercise whose plane and arm tell the signs of depth.
    #[arg(long, default_value = "scapular-raise")]
    exercise: String,
    /// View of the person; without it told from the track.
    #[arg(long)]
    view: Option<ViewChoice>,
    #[command(flatten)]
    reading: Reading,
}

/// Runs the command.
pub fn run(args: &Inspect, models: &Models) -> Result<(), Fault> {
    let exercise = exercise(&args.exercise, models)?;
    let opened = readers::open(&args.clip, &args.reading.options(), models)?;
    let facts = &opened.facts;
    let track = &opened.track;
    let mut out = String::new();
    let mut line = |name: &str, text: String| {
        let _ = writeln!(out, "{name:<12} {text}");
    };
    line("file", args.clip.display().to_string());
    line(
        "format",
        format!("{} (layout {})", facts.reader, facts.layout),
    );
    let stated = args.reading.options();
    line("how sure", advice::certainty(&opened, &stated));
    line(
        "coordinates",
        match (facts.picture, facts.space) {
            (true, true) => "picture and world".into(),
            (false, true) => "world".into(),
            _ => "picture".into(),
        },
    );
    line(
        "frames",
        format!(
            "{}, {} with a person",
            facts.frames, facts.frames_with_people
        ),
    );
    line(
        "time",
        match (track.timeline.knows_seconds(), track.timeline.rate_hz()) {
            (true, Some(rate)) => {
                format!(
                    "{rate:.2} frames a second, {:.1} s",
                    track.timeline.duration_s()
                )
            }
            _ => "no rate: repetitions can be counted, seconds not".into(),
        },
    );
    line(
        "picture",
        track.size.map_or("size unknown".into(), |size| {
            format!("{} x {} pixels", size.width, size.height)
        }),
    );
    line(
        "people",
        format!("{}; measuring `{}`", facts.people.len(), track.person),
    );
    let coverage: Vec<String> = track
        .joints
        .iter()
        .filter(|joint| track.coverage(**joint) < 0.95)
        .map(|joint| format!("{} {:.0} %", joint.id(), 100.0 * track.coverage(*joint)))
        .collect();
    line(
        "coverage",
        if coverage.is_empty() {
            "every joint seen in at least 95 % of the frames with the person".into()
        } else {
            format!("seen less often: {}", coverage.join(", "))
        },
    );
    if !facts.unused.is_empty() {
        line("unmatched", unmatched(&facts.unused, track));
    }
    for note in &opened.notes {
        line("note", note.text.clone());
    }
    for side in Side::BOTH {
        let kinematics = pipeline::signals(
            track.clone(),
            exercise,
            models,
            side,
            args.view.map(Into::into),
        );
        if side == Side::Left {
            line(
                "view",
                kinematics
                    .view
                    .map_or("not told by this file".into(), |view| {
                        format!(
                            "{}, turned {:.0} degrees (standard deviation {:.0})",
                            view.name().id(),
                            view.yaw_deg.value,
                            view.yaw_deg.sd
                        )
                    }),
            );
        }
        let (mut can, mut cannot) = (Vec::new(), Vec::new());
        for signal in crate::kinematics::Signal::ALL {
            match kinematics.signal(signal) {
                Ok(_) => can.push(signal.id().to_string()),
                Err(why) => cannot.push(format!("{} ({})", signal.id(), why.text())),
            }
        }
        line(
            side.id(),
            format!(
                "can measure {}",
                if can.is_empty() {
                    "nothing".into()
                } else {
                    can.join(", ")
                }
            ),
        );
        for reason in cannot {
            line("", format!("cannot measure {reason}"));
        }
    }
    line(
        "to review",
        format!(
            "scaplane review {}{} --exercise ID --side SIDE",
            quoted(&args.clip.display().to_string()),
            args.reading.as_typed()
        ),
    );
    for (option, why) in advice::options(&opened, &stated) {
        line("  may add", format!("{option} ({why})"));
    }
    output::say(&out)
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-+=,:@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_string();
    }
    format!("'{}'", word.replace('\'', r"'\''"))
}

/// The names that no joint is taken from, and how to say which joint one of them is.
fn unmatched(names: &[String], track: &Track) -> String {
    let wanted = [Joint::Shoulder, Joint::Elbow, Joint::Wrist, Joint::Hip];
    let lacking: Vec<String> = wanted
        .iter()
        .flat_map(|joint| Side::BOTH.map(joint))
        .filter(|joint| track.column(*joint).is_none())
        .map(Joint::id)
        .collect();
    let all = names.join(", ");
    match lacking.first() {
        None => format!("{all}; if one of them is a joint, say so: --map JOINT=NAME"),
        Some(joint) => format!(
            "{all}; {} not found: if one of these points is it, say so: --map {joint}=NAME",
            match lacking.as_slice() {
                [only] => format!("{only} was"),
                several => format!("{} were", several.join(", ")),
            }
        ),
    }
}
