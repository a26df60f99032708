//! What people see of the casebook: lists, the course, the note for the chart, the export.
//!
//! In: entries and the course made of them. Out: text, pages, tables. Nothing is computed here but counts.

mod course_page;
mod course_text;
mod everything;
pub mod lists;
mod note_page;
mod note_sheet;
mod note_text;
mod plot;
pub mod tables;
mod words;

pub use course_page::course_page;
pub use course_text::course_text;
pub use everything::{course_json, everything_json};
pub use note_page::note_page;
pub use note_sheet::{Sheet, sheet};
pub use note_text::note_text;
