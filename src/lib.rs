//! scaplane
pub mod models;
