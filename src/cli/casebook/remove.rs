//! `scaplane casebook remove`: a person entirely, or one session.

use super::BookFile;
use crate::cli::output;
use crate::note::{Fault, FaultKind, Place};
use crate::store::copies_beside;
use clap::Args;
use std::io::{BufRead, IsTerminal};

/// Remove a person entirely, or one session.
///
/// No byte of what is removed stays in the file. Backups, exports and notes elsewhere are not touched.
#[derive(Args)]
pub struct Remove {
    #[command(flatten)]
    book: BookFile,
    /// Pseudonym of the person to remove with all sessions.
    #[arg(long, required_unless_present = "session", conflicts_with = "session")]
    person: Option<String>,
    /// Number of one session to remove.
    #[arg(long)]
    session: Option<i64>,
    /// Do not ask.
    #[arg(long)]
    yes: bool,
}

/// Runs the command.
pub fn run(args: &Remove, quiet: bool) -> Result<(), Fault> {
    let book = args.book.open(quiet)?;
    let what = match (&args.person, args.session) {
        (Some(person), _) => format!("`{person}` with all sessions"),
        (None, number) => format!("session {}", number.unwrap_or_default()),
    };
    if !args.yes && !confirmed(&what)? {
        return output::say("nothing was removed\n");
    }
    let path = book.path().to_path_buf();
    let removed = match (&args.person, args.session) {
        (Some(person), _) => book.remove_person(person)?,
        (None, number) => book.remove_session(number.unwrap_or_default())?,
    };
    let sessions = match removed.sessions {
        1 => "1 session was".to_string(),
        sessions => format!("{sessions} sessions were"),
    };
    let mut text = format!(
        "removed {what}: {sessions} erased from the file\n\
         Backups, exports and notes elsewhere are not touched.\n"
    );
    for copy in copies_beside(&path) {
        text += &format!("A copy that may still hold it: {}\n", copy.display());
    }
    output::say(&text)
}

/// Asks on the terminal; without one it must have been said with the command.
fn confirmed(what: &str) -> Result<bool, Fault> {
    if !std::io::stdin().is_terminal() {
        return Err(Fault::new(
            FaultKind::Usage,
            "casebook/unconfirmed",
            format!("{what} would be removed for good, and nobody can be asked"),
            Place::default().field("--yes"),
            "--yes if that is meant",
        ));
    }
    output::mention(
        &format!("Remove {what} for good? Type yes to go on."),
        false,
    );
    let mut answer = String::new();
    std::io::stdin()
        .lock()
        .read_line(&mut answer)
        .map_err(|error| output::io_fault("standard input", &error))?;
    Ok(answer.trim().eq_ignore_ascii_case("yes"))
}
