//! `scaplane` measures shoulder exercise repetitions from keypoint tracks.
//!
//! Data goes one way: files -> readers -> [`track::Track`] -> [`condition`] -> [`kinematics`] -> [`reps`]
//! -> measures -> judgement -> [`session::Session`] -> reports. Start reading at `pipeline/mod.rs`.

pub mod batch;
pub mod body;
pub mod cli;
pub mod compare;
pub mod condition;
pub mod convert;
pub mod course;
pub mod digest;
pub mod dsp;
pub mod fhir;
pub mod geom;
pub mod judge;
pub mod kinematics;
pub mod measures;
#[cfg(feature = "video")]
pub mod media;
pub mod models;
pub mod note;
pub mod patient;
pub mod pipeline;
pub mod plan;
pub mod readers;
pub mod reading;
pub mod report;
pub mod reps;
pub mod session;
pub mod simulate;
pub mod store;
pub mod threads;
pub mod track;
