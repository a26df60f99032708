//! `scaplane casebook trend`: the course on the terminal, as JSON, as a page.

use super::choose::Whose;
use crate::cli::output;
use crate::course::course;
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::report;
use crate::report::casebook::{course_json, course_page, course_text};
use clap::Args;
use std::path::PathBuf;

/// Name of the page.
const PAGE: &str = "course.html";
/// Name of the data.
const DATA: &str = "course.json";

/// Show the course of a person in an exercise.
///
/// The mean of each measure over the repetitions of a session, with its 95 % interval, and from five days on a trend
/// (Theil-Sen, Mann-Kendall). The checklist is for the clinician's decision; nothing decides by itself.
#[derive(Args)]
pub struct Trend {
    #[command(flatten)]
    whose: Whose,
    /// Folder for course.html and course.json.
    #[arg(long)]
    out: Option<PathBuf>,
    /// `-` prints the course as JSON instead.
    #[arg(long, value_name = "-")]
    json: Option<String>,
}

/// Runs the command.
pub fn run(args: &Trend, models: &Models, quiet: bool) -> Result<(), Fault> {
    if args.json.as_deref().is_some_and(|target| target != "-") {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "the course is printed to standard output only",
            Place::default().field("--json"),
            "--json - to print it, or --out DIR to write course.json",
        ));
    }
    let chosen = args.whose.choose(models, quiet)?;
    let Some(course) = course(&chosen.entries, chosen.side, chosen.exercise, models) else {
        return Ok(());
    };
    match args.json {
        Some(_) => output::say(&course_json(&course))?,
        None => output::say(&course_text(&course, output::colour()))?,
    }
    if let Some(out) = &args.out {
        let page = course_page(&course).map_err(|error| report::refused(PAGE, error))?;
        std::fs::create_dir_all(out).map_err(|error| report::write_fault(out, &error))?;
        for (name, text) in [(PAGE, page), (DATA, course_json(&course))] {
            let path = report::write_file(out, name, text.as_bytes(), report::Settling::Now)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    Ok(())
}
