//! Pictures to an H.264 file that a browser plays, by the program `ffmpeg`, each at its own time.

use super::{broken, fault, matroska};
use crate::note::{Fault, FaultKind, Place};
use crate::report;
use crate::track::PictureSize;
use opencv::core::{Mat, Rect};
use opencv::imgproc;
use opencv::prelude::*;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use tempfile::NamedTempFile;

/// Quality of the picture (x264's constant rate factor; 23 is its default) and speed of the encoder: the fastest, since the
/// picture is decoded and drawn on at the same time, with the smoothing of block edges and the closer packing that this
/// speed leaves out. Against the next slower one it takes half the time, on a noisy clip with 0.98 for 0.99 of the
/// structure (SSIM).
const QUALITY: &str = "23";
const SPEED: &str = "ultrafast";
const BESIDES: &str = "no-deblock=0:cabac=1";

/// A file that is being written under a temporary name, which vanishes unless it is finished and renamed.
pub struct Encoder {
    child: Child,
    pipe: Option<ChildStdin>,
    file: NamedTempFile,
    width: i32,
    height: i32,
    planar: Mat,
}

impl Encoder {
    /// Begins a file in a folder.
    ///
    /// # Errors
    /// `ffmpeg` is not installed, or the folder cannot be written.
    pub fn begin(folder: &Path, size: PictureSize) -> Result<Encoder, Fault> {
        // Colour has half the pixels, so sides are even.
        let even = |side: f64| (side as i32) & !1;
        let (width, height) = (even(size.width), even(size.height));
        let file =
            report::temporary(folder).map_err(|error| report::write_fault(folder, &error))?;
        let mut command = Command::new("ffmpeg");
        command.args([
            "-v", "error", "-nostdin", "-y", "-f", "matroska", "-i", "pipe:0", "-an",
        ]);
        command.args([
            "-c:v", "libx264", "-preset", SPEED, "-crf", QUALITY, "-pix_fmt", "yuv420p",
        ]);
        command.args(["-x264-params", BESIDES]);
        command.args(["-fps_mode", "passthrough", "-enc_time_base", "1:90000"]);
        command.args([
            "-video_track_timescale",
            "90000",
            "-movflags",
            "+faststart",
            "-f",
            "mp4",
        ]);
        command
            .arg(file.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped());
        // An interrupt is for this program, which then ends the other one.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn().map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => no_encoder("that program is not installed"),
            _ => no_encoder(&error.to_string()),
        })?;
        let mut encoder = Encoder {
            pipe: child.stdin.take(),
            child,
            file,
            width,
            height,
            planar: Mat::default(),
        };
        encoder.send(&matroska::head(width as u32, height as u32))?;
        Ok(encoder)
    }

    /// Adds a picture (blue green red) at a time in seconds, later than the last.
    ///
    /// # Errors
    /// `ffmpeg` gave up: no H.264 encoder in it, or the disk is full.
    pub fn add(&mut self, picture: &impl MatTraitConst, time_s: f64) -> Result<(), Fault> {
        let part = Mat::roi(picture, Rect::new(0, 0, self.width, self.height)).map_err(broken)?;
        let mut planar = std::mem::take(&mut self.planar);
        imgproc::cvt_color_def(&part, &mut planar, imgproc::COLOR_BGR2YUV_I420).map_err(broken)?;
        let bytes = planar.data_bytes().map_err(broken)?;
        self.send(&matroska::before_picture(time_s, bytes.len()))?;
        self.send(bytes)?;
        self.planar = planar;
        Ok(())
    }

    /// Ends the file; it is whole then, and still has its temporary name.
    ///
    /// # Errors
    /// `ffmpeg` failed.
    pub fn finish(mut self) -> Result<NamedTempFile, Fault> {
        self.pipe = None;
        let ended = self
            .child
            .wait()
            .map_err(|error| no_encoder(&error.to_string()))?;
        if !ended.success() {
            return Err(no_encoder(&self.said()));
        }
        // The encoder is dropped, which has nothing left to end; the file is handed on.
        let dir = self
            .file
            .path()
            .parent()
            .unwrap_or(Path::new("."))
            .to_path_buf();
        let empty = report::temporary(&dir).map_err(|error| report::write_fault(&dir, &error))?;
        Ok(std::mem::replace(&mut self.file, empty))
    }

    fn send(&mut self, bytes: &[u8]) -> Result<(), Fault> {
        let sent = self
            .pipe
            .as_mut()
            .map_or(Ok(()), |pipe| pipe.write_all(bytes));
        sent.map_err(|error| {
            self.pipe = None;
            let _ = self.child.wait();
            let said = self.said();
            no_encoder(
                if said.is_empty() {
                    error.to_string()
                } else {
                    said
                }
                .as_str(),
            )
        })
    }

    fn said(&mut self) -> String {
        let mut said = String::new();
        if let Some(stderr) = self.child.stderr.as_mut() {
            let _ = stderr.take(10_000).read_to_string(&mut said);
        }
        said.lines()
            .next()
            .unwrap_or("")
            .chars()
            .take(200)
            .collect()
    }
}

impl Drop for Encoder {
    fn drop(&mut self) {
        self.pipe = None;
        // Ended already is as good as ended now.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn no_encoder(why: &str) -> Fault {
    fault(
        FaultKind::Io,
        "video/encoder",
        format!("no H.264 video could be written by ffmpeg: {why}"),
        Place::default(),
        "installing ffmpeg with its H.264 encoder (libx264), and making room on the disk",
    )
}
