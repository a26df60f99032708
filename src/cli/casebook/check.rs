//! `scaplane casebook check`: is the file whole.

use super::BookFile;
use crate::cli::output;
use crate::note::Fault;
use crate::report::words;
use crate::store::{self, VERSION};
use clap::Args;
use std::process::ExitCode;

/// Say whether the casebook is whole; the file is left as it is.
#[derive(Args)]
pub struct Check {
    #[command(flatten)]
    book: BookFile,
}

/// Runs the command; the exit status is 1 if anything is wrong.
pub fn run(args: &Check) -> Result<ExitCode, Fault> {
    let health = store::check(&args.book.path)?;
    let mut text = String::new();
    if health.version < VERSION {
        text += &format!(
            "the casebook is of version {}; the next command brings it to {VERSION} and keeps a copy\n",
            health.version
        );
    }
    if health.problems.is_empty() {
        let people = match health.people {
            1 => "1 person".to_string(),
            people => format!("{people} people"),
        };
        text += &match health.version < VERSION {
            true => format!("whole: {people}\n"),
            false => format!(
                "whole: {people}, {}\n",
                words::count(health.whole, "session")
            ),
        };
        output::say(&text)?;
        return Ok(ExitCode::SUCCESS);
    }
    text += &format!("damaged; {} sessions are whole\n", health.whole);
    for problem in &health.problems {
        text += &format!("- {}\n", problem.replace('\n', "; "));
    }
    text += "Put a backup in the place of the file, with no program at work in it. The file was left as it is.\n";
    output::say(&text)?;
    Ok(ExitCode::from(1))
}
