//! The pictures of a video, one after the other, upright, each with its time.
//!
//! Pictures are decoded on a thread of their own, so that looking at one and decoding the next share two cores.

use super::stamps::{Stamps, unreadable};
use super::{broken, fault};
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::PictureSize;
use opencv::core::{self, Mat};
use opencv::prelude::*;
use opencv::videoio::{self, VideoCapture};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

/// Pictures that wait between decoding and use: a full HD picture has 6 MB.
const WAITING: usize = 3;

/// A picture, 8 bits a channel, blue green red.
pub struct Picture {
    /// Number from 0.
    pub number: usize,
    /// Pixels.
    pub mat: Mat,
    /// Milliseconds, as the decoder says.
    position_ms: f64,
}

/// A video that can be played once.
pub struct Footage {
    path: PathBuf,
    capture: VideoCapture,
    size: PictureSize,
    stamps: Option<Stamps>,
    rate_hz: f64,
    /// The first picture, which told the size.
    first: Mat,
    first_ms: f64,
}

impl Footage {
    /// Opens a video and decodes its first picture.
    ///
    /// # Errors
    /// The file cannot be read as a video.
    pub fn open(path: &Path) -> Result<Footage, Fault> {
        let file = std::fs::File::open(path).map_err(|error| {
            fault(
                FaultKind::Io,
                "video/unreadable",
                format!("the video could not be opened: {error}"),
                Place::file(path.display().to_string()),
                "naming a file that is there and may be read",
            )
        })?;
        if file.metadata().is_ok_and(|meta| meta.len() == 0) {
            return Err(unreadable(path, "the file is empty"));
        }
        let stamps = Stamps::of(path)?;
        let name = path
            .to_str()
            .ok_or_else(|| unreadable(path, "its name is no text"))?;
        let mut capture = VideoCapture::from_file(name, videoio::CAP_FFMPEG).map_err(broken)?;
        if !capture.is_opened().map_err(broken)? {
            return Err(unreadable(path, "the decoder refuses it"));
        }
        if stamps.is_some() {
            // The container's own word is used instead.
            let _ = capture.set(videoio::CAP_PROP_ORIENTATION_AUTO, 0.0);
        }
        let rate_hz = capture.get(videoio::CAP_PROP_FPS).map_err(broken)?;
        let mut first = Mat::default();
        let turns = stamps.as_ref().map_or(0, |stamps| stamps.quarter_turns);
        if !next(&mut capture, turns, &mut first)? {
            return Err(unreadable(path, "no picture of it can be decoded"));
        }
        Ok(Footage {
            path: path.to_path_buf(),
            size: PictureSize {
                width: f64::from(first.cols()),
                height: f64::from(first.rows()),
            },
            first_ms: capture.get(videoio::CAP_PROP_POS_MSEC).unwrap_or(0.0),
            capture,
            stamps,
            rate_hz,
            first,
        })
    }

    /// Size of the upright picture.
    pub fn size(&self) -> PictureSize {
        self.size
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Name of the codec, if known.
    pub fn codec(&self) -> &str {
        self.stamps.as_ref().map_or("", |stamps| &stamps.codec)
    }

    /// Seconds from the first picture, as far as they are known before the end; [`Played::times`] settles them.
    pub fn expected_times_s(&self) -> Vec<f64> {
        match &self.stamps {
            Some(stamps) => stamps.times_s.clone(),
            None => {
                let count = self
                    .capture
                    .get(videoio::CAP_PROP_FRAME_COUNT)
                    .unwrap_or(0.0);
                let rate = usable_rate(self.rate_hz).unwrap_or(crate::track::NOMINAL_RATE_HZ);
                (0..count.clamp(0.0, 1e7) as usize)
                    .map(|n| n as f64 / rate)
                    .collect()
            }
        }
    }

    /// Plays the whole video: `look` gets every picture in order and says whether to go on.
    ///
    /// # Errors
    /// What the decoder or `look` says.
    pub fn play(
        self,
        mut look: impl FnMut(&mut Picture) -> Result<bool, Fault>,
    ) -> Result<Played, Fault> {
        let (send, pictures) = sync_channel(WAITING);
        let (give_back, used) = sync_channel(2 * WAITING);
        let Footage {
            path,
            mut capture,
            stamps,
            rate_hz,
            first,
            first_ms,
            ..
        } = self;
        let turns = stamps.as_ref().map_or(0, |stamps| stamps.quarter_turns);
        let first = Picture {
            number: 0,
            mat: first,
            position_ms: first_ms,
        };
        let mut positions_ms = Vec::new();
        std::thread::scope(|scope| {
            scope.spawn(move || decode(&mut capture, turns, first, &send, &used));
            for picture in pictures {
                let mut picture: Picture = picture?;
                positions_ms.push(picture.position_ms);
                if !look(&mut picture)? {
                    break;
                }
                // A full shelf only means that the decoder makes a new picture.
                let _ = give_back.try_send(picture.mat);
            }
            Ok(Played {
                path,
                positions_ms,
                stamps,
                rate_hz,
            })
        })
    }
}

/// What is known once a video was played.
pub struct Played {
    path: PathBuf,
    positions_ms: Vec<f64>,
    stamps: Option<Stamps>,
    rate_hz: f64,
}

impl Played {
    /// Number of pictures.
    pub fn count(&self) -> usize {
        self.positions_ms.len()
    }

    /// Seconds of each picture from the first: the stamps of the container where there are as many as pictures, else
    /// the decoder's positions where they increase, else by the stated rate, with a note.
    ///
    /// # Errors
    /// None of these is of use.
    pub fn times(&self) -> Result<(Vec<f64>, Option<Note>), Fault> {
        settled(
            &self.positions_ms,
            self.stamps.as_ref().map(|s| s.times_s.as_slice()),
            self.rate_hz,
        )
        .ok_or_else(|| {
            fault(
                FaultKind::Malformed,
                "video/no-times",
                "neither time stamps nor a frame rate of the video make sense",
                Place::file(self.path.display().to_string()),
                "writing the video anew with a program that keeps its time stamps",
            )
        })
    }
}

fn settled(
    positions_ms: &[f64],
    stamps_s: Option<&[f64]>,
    rate_hz: f64,
) -> Option<(Vec<f64>, Option<Note>)> {
    if let Some(stamps) = stamps_s.filter(|stamps| stamps.len() == positions_ms.len()) {
        return Some((stamps.to_vec(), None));
    }
    let count = positions_ms.len();
    let told = |by: &str| {
        let why = match stamps_s {
            Some(stamps) => format!(
                "{count} pictures were decoded, but there are {} stamps",
                stamps.len()
            ),
            None => "ffprobe is not installed".to_string(),
        };
        Some(Note::new("video/times", format!("Times are {by}: {why}.")))
    };
    if positions_ms
        .windows(2)
        .all(|pair| matches!(pair, [a, b] if a < b))
        && count > 1
    {
        let first = positions_ms.first().copied().unwrap_or(0.0);
        let times = positions_ms.iter().map(|ms| (ms - first) / 1e3).collect();
        return Some((times, told("the decoder's positions")));
    }
    let rate = usable_rate(rate_hz)?;
    let times = (0..count).map(|number| number as f64 / rate).collect();
    Some((
        times,
        told(&format!("by an even rate of {rate:.3} a second")),
    ))
}

fn usable_rate(rate_hz: f64) -> Option<f64> {
    (1.0..=1000.0).contains(&rate_hz).then_some(rate_hz)
}

/// Decodes to the end, or until nobody wants more.
fn decode(
    capture: &mut VideoCapture,
    turns: u8,
    first: Picture,
    send: &SyncSender<Result<Picture, Fault>>,
    used: &Receiver<Mat>,
) {
    if send.send(Ok(first)).is_err() {
        return;
    }
    for number in 1.. {
        let mut mat = used.try_recv().unwrap_or_default();
        let picture = match next(capture, turns, &mut mat) {
            Ok(false) => return,
            Ok(true) => {
                let position_ms = capture.get(videoio::CAP_PROP_POS_MSEC).unwrap_or(f64::NAN);
                Ok(Picture {
                    number,
                    mat,
                    position_ms,
                })
            }
            Err(fault) => Err(fault),
        };
        let failed = picture.is_err();
        if send.send(picture).is_err() || failed {
            return;
        }
    }
}

/// The next picture, upright; false at the end.
fn next(capture: &mut VideoCapture, turns: u8, into: &mut Mat) -> Result<bool, Fault> {
    let code = match turns {
        1 => core::ROTATE_90_CLOCKWISE,
        2 => core::ROTATE_180,
        3 => core::ROTATE_90_COUNTERCLOCKWISE,
        _ => return capture.read(into).map_err(broken),
    };
    let mut lying = Mat::default();
    let more = capture.read(&mut lying).map_err(broken)?;
    if more {
        core::rotate(&lying, into, code).map_err(broken)?;
    }
    Ok(more)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_come_from_the_best_witness() {
        let stamps = [0.0, 0.033, 0.1];
        let (times, note) = settled(&[0.0, 33.3, 66.6], Some(&stamps), 30.0).expect("times");
        assert_eq!((times.as_slice(), note), (stamps.as_slice(), None));
        // A stamp too few: the decoder's positions, which increase.
        let (times, note) = settled(&[10.0, 43.0, 110.0], Some(&stamps[..2]), 30.0).expect("times");
        assert_eq!(times, [0.0, 0.033, 0.1]);
        assert!(note.is_some());
        // Positions that stand still are no times.
        let (times, _) = settled(&[0.0, 0.0, 0.0], None, 25.0).expect("times");
        assert_eq!(times, [0.0, 0.04, 0.08]);
        assert!(settled(&[0.0, 0.0], None, 0.0).is_none());
    }
}
