//! scaplane

pub mod simulate;
