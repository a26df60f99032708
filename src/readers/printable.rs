//! Words of a file as they may be shown: a file's names and cells reach messages, and a control character among
//! them would reach the terminal, and a name of a thousand characters would hide what is said.
//!
//! In: faults, notes and labels with text of the file in them. Out: the same without control characters, cut to
//! a length that can be read.

use crate::note::{Fault, Note, Place};

/// Longest label of a person, in characters: more is no id (stated choice).
const LONGEST_LABEL: usize = 60;

/// Longest name of a field or point, path, sentence and remedy, in characters (stated choice: the longest that
/// the program itself writes fit).
const LONGEST_NAME: usize = 100;
const LONGEST_PATH: usize = 300;
const LONGEST_SENTENCE: usize = 600;
const LONGEST_REMEDY: usize = 800;

/// Cuts a text after so many characters.
fn cut(text: &mut String, longest: usize) {
    if let Some((end, _)) = text.char_indices().nth(longest) {
        text.truncate(end);
        text.push('…');
    }
}

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
    for (text, longest) in [
        (&mut place.file, LONGEST_PATH),
        (&mut place.field, LONGEST_NAME),
        (&mut place.keypoint, LONGEST_NAME),
    ] {
        if let Some(text) = text {
            clean(text);
            cut(text, longest);
        }
    }
}

/// Cleans a fault.
pub(super) fn fault(mut fault: Fault) -> Fault {
    clean(&mut fault.what);
    cut(&mut fault.what, LONGEST_SENTENCE);
    clean(&mut fault.remedy);
    cut(&mut fault.remedy, LONGEST_REMEDY);
    place(&mut fault.place);
    fault
}

/// Cleans notes.
pub(super) fn notes(notes: &mut [Note]) {
    for note in notes {
        clean(&mut note.text);
        cut(&mut note.text, LONGEST_SENTENCE);
        note.at.iter_mut().for_each(place);
    }
}

/// Cleans a person's label and cuts it to a length that can be read.
pub(super) fn label(label: &mut String) {
    clean(label);
    cut(label, LONGEST_LABEL);
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
        let long = Fault::new(
            FaultKind::Malformed,
            "read/number",
            "x".repeat(10_000),
            Place::file("f".repeat(10_000))
                .field("é".repeat(10_000))
                .keypoint("k".repeat(10_000)),
            "r".repeat(10_000),
        );
        assert!(fault(long).to_string().chars().count() < 2000);
        let mut plain = "Schulter links".to_string();
        label(&mut plain);
        assert_eq!(plain, "Schulter links");
    }
}
