//! Numbers on slices: filters, interpolation, line fits, trend tests, peaks, smoothness.
//!
//! In: plain slices of samples (and their times in seconds). Out: plain numbers, vectors and small
//! structs of numbers. Every refusal is a [`DspError`]; nothing here panics on bad data.
//!
//! Deliberately absent: files, clocks, random numbers, any notion of a body, a repetition or a
//! clinical limit, and any `crate::` type outside this folder. What a number means is decided by
//! the caller.

pub mod butterworth;
pub mod error;
pub mod fit;
pub mod holm;
pub mod integrate;
pub mod interpolate;
pub mod mann_kendall;
pub mod noise;
pub mod pchip;
pub mod peaks;
pub mod residual;
pub mod robust;
pub mod sparc;
pub mod theil_sen;
pub mod zero_phase;

pub use error::DspError;
