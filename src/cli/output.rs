//! Where words and files go.

use crate::note::{Fault, FaultKind, Place};
use crate::report::text::Colour;
use std::io::{ErrorKind, IsTerminal, Write};

/// Prints an answer; a reader that has seen enough is no error.
pub fn say(text: &str) -> Result<(), Fault> {
    say_bytes(text.as_bytes())
}

/// Prints an answer given as bytes.
pub fn say_bytes(bytes: &[u8]) -> Result<(), Fault> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(io_fault("standard output", &error))
        }
        _ => Ok(()),
    }
}

/// Prints a message, unless asked to be quiet.
pub fn mention(text: &str, quiet: bool) {
    if !quiet {
        // A message that cannot be printed has nowhere else to go.
        let _ = writeln!(std::io::stderr(), "{text}");
    }
}

/// Prints a fault.
pub fn complain(fault: &Fault) {
    let _ = writeln!(std::io::stderr(), "{fault}");
}

/// Whether colour may be used on standard output: on a terminal, unless `NO_COLOR` is set.
pub fn colour() -> Colour {
    let unwanted = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if std::io::stdout().is_terminal() && !unwanted {
        Colour::Ansi
    } else {
        Colour::Never
    }
}

/// A fault of writing.
pub fn io_fault(name: &str, error: &std::io::Error) -> Fault {
    Fault::new(
        FaultKind::Io,
        "write/io",
        error.to_string(),
        Place::file(name),
        "another folder, or making room on the disk",
    )
}
