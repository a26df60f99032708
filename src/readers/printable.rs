//! Words of a file as they may be shown: a file's names and cells reach messages, and a control character among
//! them would reach the terminal.
//!
//! In: faults, notes and labels with text of the file in them. Out: the same without control characters.

use crate::note::{Fault, Note, Place};

/// Longest label of a person, in characters: more is no id (stated choice).
const LONGEST_LABEL: usize = 60;

/// The text with a replacement mark for each control character.
fn clean(text: &mut String) {
    if text.chars().any(char::is_control) {
        *text = text
            .chars()
            .map(|c| match c.is_control() {
                true => char::REPLACEMENT_CHARACTER,
                false => c,
            })
            .collect();
    }
}

fn place(place: &mut Place) {
    for text in [&mut place.file, &mut place.field, &mut place.keypoint]
        .into_iter()
        .flatten()
    {
        clean(text);
    }
}

/// Cleans a fault.
pub(super) fn fault(mut fault: Fault) -> Fault {
    clean(&mut fault.what);
    clean(&mut fault.remedy);
    place(&mut fault.place);
    fault
}

/// Cleans notes.
pub(super) fn notes(notes: &mut [Note]) {
    for note in notes {
        clean(&mut note.text);
        note.at.iter_mut().for_each(place);
    }
}

/// Cleans a person's label and cuts it to a length that can be read.
pub(super) fn label(label: &mut String) {
    clean(label);
    if let Some((end, _)) = label.char_indices().nth(LONGEST_LABEL) {
        label.truncate(end);
        label.push('…');
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::FaultKind;

    #[test]
    fn nothing_that_steers_a_terminal_is_left() {
        let dirty = Fault::new(
            FaultKind::Malformed,
            "read/number",
            "`\u{1b}[2J` is not a number",
            Place::file("a\nb.csv").field("x\u{7}"),
            "correcting \u{9b}it",
        );
        let text = fault(dirty).to_string();
        assert!(text.chars().all(|c| !c.is_control() || c == '\n'));
        assert_eq!(text.lines().count(), 3);
        let mut name = "é\u{0}".repeat(80);
        label(&mut name);
        assert_eq!(name.chars().count(), LONGEST_LABEL + 1);
        assert!(!name.contains('\0'));
        let mut plain = "Schulter links".to_string();
        label(&mut plain);
        assert_eq!(plain, "Schulter links");
    }
}
