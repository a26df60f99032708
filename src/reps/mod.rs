//! Repetitions and sets, from the exercise's own signal.
//!
//! In: one signal over an even time line and the exercise's rule. Out: [`RepSpan`]s in order of time, each
//! with its boundaries, its hold and, if it is incomplete, the reason. Nothing is measured or judged.

mod find;
mod phases;
mod sets;

pub use find::find;
pub use sets::assign_sets;

/// Why a repetition is kept but marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Incomplete {
    /// The clip (or the part in which the arm was seen) begins within it.
    CutOffAtStart,
    /// The clip (or the part in which the arm was seen) ends within it.
    CutOffAtEnd,
    /// The movement was smaller than the exercise's least excursion.
    Short,
}

impl Incomplete {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Incomplete::CutOffAtStart => "the recording begins within it",
            Incomplete::CutOffAtEnd => "the recording ends within it",
            Incomplete::Short => "the movement was too small for a repetition",
        }
    }
}

/// Boundaries of a repetition, frames counted from 0, all inside the clip and in this order:
/// `start <= hold_start <= peak <= hold_end <= end`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RepSpan {
    /// The movement out begins.
    pub start: usize,
    /// The movement out ends; the hold begins.
    pub hold_start: usize,
    /// Turning point: the extreme of the signal.
    pub peak: usize,
    /// The hold ends; the movement back begins.
    pub hold_end: usize,
    /// The movement back ends.
    pub end: usize,
    /// Set, from 1.
    pub set: u32,
    /// Reason to mark it, if any.
    pub incomplete: Option<Incomplete>,
}
