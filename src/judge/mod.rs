//! From readings to verdicts, findings and drift. Limits come from the exercise, never from here.

mod drift;
mod verdict;

pub use drift::{Series, drift};
pub use verdict::{finding, judge, overall};
