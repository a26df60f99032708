//! `scaplane plan`: a new plan to fill in, and a check of one.

use super::options::exercise;
use super::output;
use crate::body::Side;
use crate::models::Models;
use crate::note::Fault;
use crate::plan;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Write or check the treating clinician's plan for one person.
#[derive(Args)]
pub struct Plan {
    #[command(subcommand)]
    action: Action,
}

#[derive(Subcommand)]
enum Action {
    /// Print a new plan with every key; send it into a file and change it there.
    New {
        /// Exercise that is prescribed.
        #[arg(long)]
        exercise: String,
        /// Treated side.
        #[arg(long)]
        side: OneSide,
        /// A name that is nobody's.
        #[arg(long, default_value = "wren-1")]
        pseudonym: String,
    },
    /// Say whether a plan can be used, and what it prescribes.
    Check {
        /// The plan.
        file: PathBuf,
    },
}

#[derive(Clone, Copy, ValueEnum)]
enum OneSide {
    Left,
    Right,
}

/// Runs the command.
pub fn run(args: &Plan, models: &Models) -> Result<(), Fault> {
    match &args.action {
        Action::New {
            exercise: id,
            side,
            pseudonym,
        } => {
            let side = match side {
                OneSide::Left => Side::Left,
                OneSide::Right => Side::Right,
            };
            let text = plan::template(pseudonym, side, exercise(id, models)?);
            // What is printed must be read again, whatever the pseudonym.
            plan::parse("the new plan", &text, models)?;
            output::say(&text)
        }
        Action::Check { file } => {
            let plan = plan::read(file, models)?;
            let mut text = format!("{}: {} side", plan.pseudonym, plan.side.id());
            if let Some(phase) = &plan.phase {
                text += &format!(", {phase}");
            }
            text.push('\n');
            for one in &plan.exercise {
                text += &format!("{}: {} x {}", one.id, one.sets, one.repetitions);
                if let Some(load) = one.load_kg {
                    text += &format!(", {load} kg");
                }
                if let Some(resistance) = &one.resistance {
                    text += &format!(", {resistance}");
                }
                text.push('\n');
                for limit in &one.limit {
                    let end = |value: Option<f64>| value.map_or("open".into(), |v| v.to_string());
                    text += &format!(
                        "  {} {} to {}: {}\n",
                        limit.measure,
                        end(limit.low),
                        end(limit.high),
                        limit.reason.trim()
                    );
                }
            }
            if let Some([low, high]) = plan.calibration() {
                text += &format!(
                    "rhythm scaled to {} degrees of upward rotation at {} and {} at {} of elevation\n",
                    low.upward_rotation_deg,
                    low.elevation_deg,
                    high.upward_rotation_deg,
                    high.elevation_deg
                );
            }
            output::say(&text)
        }
    }
}
