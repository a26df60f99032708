//! What people and other tools see of a result. Nothing is computed here.

pub mod json;
pub mod text;
