//! `scaplane` measures shoulder exercise repetitions from keypoint tracks.
//!
//! Data goes one way: files -> readers -> [`track::Track`] -> condition -> kinematics -> repetitions
//! -> measures -> judgement -> [`session::Session`] -> reports. Start reading at `pipeline.rs`.

pub mod body;
pub mod convert;
pub mod geom;
pub mod models;
pub mod note;
pub mod readers;
pub mod reading;
pub mod session;
pub mod track;
