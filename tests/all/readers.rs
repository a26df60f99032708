//! From files of estimators to tracks: what the simulation wrote is read back, bad input is refused in words,
//! and open recordings are read.
//!
//! Everything goes through the public door (`readers::open_source`, or the program itself).

mod broken;

use scaplane::models::Models;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// The built-in data, read once.
fn models() -> &'static Models {
    static MODELS: OnceLock<Models> = OnceLock::new();
    MODELS.get_or_init(|| Models::embedded().expect("the built-in data are whole"))
}

/// A path below the project's folder.
fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}
