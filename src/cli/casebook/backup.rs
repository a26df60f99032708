//! `scaplane casebook backup`: a copy, whole or not at all.

use super::BookFile;
use crate::cli::output;
use crate::note::Fault;
use clap::Args;
use std::path::PathBuf;

/// Copy the casebook to a new file, also while others work in it.
///
/// The copy is a casebook; to restore it, put it in the place of the file while no program has it open.
#[derive(Args)]
pub struct Backup {
    #[command(flatten)]
    book: BookFile,
    /// The new file.
    #[arg(long)]
    to: PathBuf,
}

/// Runs the command.
pub fn run(args: &Backup, quiet: bool) -> Result<(), Fault> {
    args.book.open_to_read(quiet)?.backup(&args.to)?;
    output::say(&format!("copied to {}\n", args.to.display()))
}
