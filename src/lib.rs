//! scaplane
pub mod dsp;
