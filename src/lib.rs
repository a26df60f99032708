//! `scaplane` measures shoulder exercise repetitions from keypoint tracks.
//!
//! Data goes one way: files -> readers -> [`track::Track`] -> [`condition`] -> [`kinematics`] -> [`reps`]
//! -> measures -> judgement -> [`session::Session`] -> reports. Start reading at `pipeline.rs`.

pub mod body;
pub mod condition;
pub mod convert;
pub mod dsp;
pub mod geom;
pub mod kinematics;
pub mod models;
pub mod note;
pub mod readers;
pub mod reading;
pub mod reps;
pub mod session;
pub mod simulate;
pub mod track;
