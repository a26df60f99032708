//! What needs video: decoding and its times, dots followed on rendered clips with known truth, the overlay.
//!
//! `cargo test --features video --test video`; with `-- --ignored --nocapture` the full count of clips.

mod batch;
mod dots;
mod footage;
mod overlay;
mod render;
mod wrong;
