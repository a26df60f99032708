//! The patient's page and the same words on the terminal: two ways to lay out what is said.
//!
//! In: [`crate::patient::Said`]. Out: HTML or text. No word is made here, so that a language is one file.

mod drawing;
mod html;
mod text;

pub use html::page;
pub use text::terminal;

/// Name of the page's file.
pub const FILE_NAME: &str = "selfcheck.html";
