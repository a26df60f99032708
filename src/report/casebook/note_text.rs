//! `note.txt`: the note in plain characters, 80 columns.

use super::Sheet;
use crate::report::text::{COLUMNS, Colour, Page};

/// Lines left for the clinician.
const ROOM: usize = 6;

/// The note as text.
pub fn note_text(sheet: &Sheet) -> String {
    let mut page = Page {
        out: String::new(),
        colour: Colour::Never,
    };
    page.wrap(0, &sheet.title);
    for (label, lines) in &sheet.rows {
        page.heading(label);
        for line in lines {
            page.hang("-", 2, line);
        }
    }
    page.heading("The clinician's action");
    let line = "_".repeat(COLUMNS);
    for _ in 0..ROOM {
        page.blank();
        page.out.push_str(&format!("{line}\n"));
    }
    page.blank();
    page.out.push_str("Name and day: ");
    page.out.push_str(&"_".repeat(COLUMNS - 14));
    page.out.push_str("\n\n");
    for line in &sheet.fine {
        page.wrap(0, line);
    }
    page.out
}
