//! The progress bar of work on a video, and the user's wish to stop it.

use crate::media::Watch;
use crate::note::{Fault, FaultKind, Place};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Shows pictures done and the time left; silent where standard error is no terminal.
pub struct Bar {
    bar: ProgressBar,
    stopped: Arc<AtomicBool>,
}

impl Bar {
    /// A bar for some work; from now on an interrupt ends that work in order instead of the process.
    pub fn new(work: &'static str, quiet: bool) -> Result<Bar, Fault> {
        let target = match quiet {
            true => ProgressDrawTarget::hidden(),
            false => ProgressDrawTarget::stderr(),
        };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        if let Ok(style) =
            ProgressStyle::with_template("{msg} {bar:24} {pos}/{len}  {per_sec}  {eta} left")
        {
            bar.set_style(style);
        }
        bar.set_message(work);
        let stopped = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stopped);
        ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed)).map_err(|error| {
            Fault::new(
                FaultKind::Io,
                "video/library",
                format!("interrupts cannot be caught: {error}"),
                Place::default(),
                "running again; if it stays, report it",
            )
        })?;
        Ok(Bar { bar, stopped })
    }
}

impl Watch for Bar {
    fn begin(&self, pictures: usize) {
        self.bar.set_length(pictures as u64);
        self.bar.reset();
    }

    fn step(&self) {
        self.bar.inc(1);
    }

    fn end(&self) {
        self.bar.finish_and_clear();
    }

    fn is_over(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }
}
