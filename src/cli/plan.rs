//! `scaplane plan`: a new plan to fill in, and a check of one.

use super::options::exercise;
use super::output;
use crate::body::Side;
use crate::models::Models;
use crate::note::Fault;
use crate::pipeline;
use crate::plan;
use crate::report::{planned, text};
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
            output::say(&told(&plan, models))
        }
    }
}

/// What a plan prescribes, in words.
fn told(plan: &plan::Plan, models: &Models) -> String {
    let mut who = vec![format!("{}: {} side", plan.pseudonym, plan.side.id())];
    who.extend(plan.operation_date.map(|day| format!("operation {day}")));
    who.extend(plan.phase.clone());
    who.extend(
        plan.pain_limit
            .map(|limit| format!("stops at pain {limit} of 10")),
    );
    let mut lines = vec![(0, who.join(", "))];
    for one in &plan.exercise {
        let prescribed = planned::prescription(&pipeline::planned::prescribed(one));
        lines.push((0, format!("{}: {prescribed}", one.id)));
        let default = models.exercise(&one.id);
        let changed = default.map(|default| pipeline::planned::changed(one, default));
        for limit in changed.iter().flatten() {
            lines.push((2, planned::changed(limit)));
        }
    }
    if let Some([low, high]) = plan.calibration() {
        let scaled = format!(
            "rhythm scaled to {} degrees of upward rotation at {} and {} at {} of elevation",
            low.upward_rotation_deg,
            low.elevation_deg,
            high.upward_rotation_deg,
            high.elevation_deg
        );
        lines.push((0, scaled));
    }
    lines
        .iter()
        .map(|(indent, line)| text::paragraph(*indent, line))
        .collect()
}
