//! How a track lies on a video: which frame of the one is which picture of the other, and where a point is.

use super::fault;
use crate::body::Joint;
use crate::note::{Fault, FaultKind, Place};
use crate::track::{PictureSize, Presence, Timing, Track};
use nalgebra::Vector2;

/// Largest difference of the two pictures' shapes, as a share: sizes are rounded to whole pixels.
const SAME_SHAPE: f64 = 0.02;

/// A track on a video. Picture positions of the video are pixels from the top left, y down; the centre of the first
/// pixel is at 0.5.
#[derive(Debug, Clone, PartialEq)]
pub struct Register {
    /// Frame of the track for each picture of the video.
    frames: Vec<Option<usize>>,
    size: PictureSize,
    /// Pixels of the video in a pixel of the track.
    scale: f64,
    mirrored: bool,
    /// Whether the track counts from the picture's centre; else from its top left corner.
    centred: bool,
    /// Whether frame and picture of the same number belong together, all of them.
    one_to_one: bool,
}

impl Register {
    /// Lays a track on a video whose pictures were taken at `times_s` from its first.
    ///
    /// # Errors
    /// The track has no picture coordinates, its picture has another shape, or its frames are not those of the video.
    pub fn new(
        track: &Track,
        mirrored: bool,
        times_s: &[f64],
        size: PictureSize,
    ) -> Result<Register, Fault> {
        let place = || Place::default().field("--track");
        if track.picture.is_none() {
            return Err(fault(
                FaultKind::Unsupported,
                "video/track-in-space",
                "the track has no picture coordinates, so it cannot be laid on the video",
                place(),
                "exporting the estimator's picture coordinates of this video",
            ));
        }
        let of = track.size.unwrap_or(size);
        let scale = size.width / of.width;
        if (scale * of.height / size.height - 1.0).abs() > SAME_SHAPE {
            return Err(fault(
                FaultKind::Malformed,
                "video/size-mismatch",
                format!(
                    "the track is of a picture of {}x{}, the video's (upright) is {}x{}",
                    of.width, of.height, size.width, size.height
                ),
                place(),
                "the track of this very video, estimated on the upright picture; --size where the track states no size",
            ));
        }
        let (frames, one_to_one) = frames_of(track, times_s).ok_or_else(|| {
            fault(
                FaultKind::Malformed,
                "video/track-mismatch",
                format!(
                    "the track has {} frames over {:.2} s and the video {} pictures over {:.2} s: they do not belong \
                     together",
                    track.frames(),
                    track.timeline.duration_s(),
                    times_s.len(),
                    times_s.last().copied().unwrap_or(0.0)
                ),
                place(),
                "the track of this very video, uncut",
            )
        })?;
        Ok(Register {
            frames,
            size,
            scale,
            mirrored,
            centred: track.size.is_some(),
            one_to_one,
        })
    }

    /// Frame of the track at a picture of the video.
    pub fn frame(&self, picture: usize) -> Option<usize> {
        self.frames.get(picture).copied().flatten()
    }

    /// Picture of the video at each frame of the track, for a track of so many frames.
    pub fn pictures(&self, frames: usize) -> Vec<Option<usize>> {
        let mut pictures = vec![None; frames];
        for (picture, frame) in self.frames.iter().enumerate() {
            if let Some(place) = frame.and_then(|frame| pictures.get_mut(frame)) {
                place.get_or_insert(picture);
            }
        }
        pictures
    }

    /// Whether frames and pictures of the same number belong together, all of them.
    pub fn is_one_to_one(&self) -> bool {
        self.one_to_one
    }

    /// Size of the video's upright picture.
    pub fn size(&self) -> PictureSize {
        self.size
    }

    /// Where a point of the track is in the video, if it was seen.
    pub fn seen(&self, track: &Track, frame: usize, joint: Joint) -> Option<Vector2<f64>> {
        let column = track.column(joint)?;
        let layer = track.picture.as_ref()?;
        let is_seen = layer.presence(frame, column) == Presence::Seen;
        let at = layer.flat(frame, column).filter(|_| is_seen)?;
        let x = if self.mirrored { -at.x } else { at.x };
        let from = self.scale * Vector2::new(x, -at.y);
        Some(match self.centred {
            true => from + Vector2::new(self.size.width, self.size.height) / 2.0,
            false => from,
        })
    }

    /// The other way: a place in the video as the track has it.
    pub fn to_track(&self, at: Vector2<f64>) -> Vector2<f64> {
        let from = match self.centred {
            true => at - Vector2::new(self.size.width, self.size.height) / 2.0,
            false => at,
        };
        let x = if self.mirrored { -from.x } else { from.x };
        Vector2::new(x, -from.y) / self.scale
    }
}

/// Frame of the track for each picture: by number where there are as many (or the numbers fit), else by time.
fn frames_of(track: &Track, times_s: &[f64]) -> Option<(Vec<Option<usize>>, bool)> {
    let (frames, pictures) = (track.frames(), times_s.len());
    if frames == 0 || pictures == 0 {
        return None;
    }
    let step = times_s.last().copied().unwrap_or(0.0) / pictures.max(2) as f64;
    let stamped = track.timeline.timing() == Timing::Stamped;
    if frames == pictures {
        // Clocks that run apart say that only the numbers are equal by chance.
        let drift = track.timeline.duration_s() - times_s.last().copied().unwrap_or(0.0);
        if !stamped || drift.abs() <= 5.0 * step.max(0.02) {
            return Some(((0..pictures).map(Some).collect(), true));
        }
        return None;
    }
    let mut of = vec![None; pictures];
    if stamped {
        let late = track.timeline.duration_s()
            > times_s.last().copied().unwrap_or(0.0) + 5.0 * step.max(0.02);
        for (frame, time) in track.timeline.times_s().iter().enumerate() {
            let after = times_s.partition_point(|at| at < time);
            let distance = |picture: &usize| {
                times_s
                    .get(*picture)
                    .map_or(f64::MAX, |at| (at - time).abs())
            };
            let nearest = [after.saturating_sub(1), after]
                .into_iter()
                .min_by(|a, b| distance(a).total_cmp(&distance(b)))?;
            if distance(&nearest) <= 0.6 * step {
                *of.get_mut(nearest)? = Some(frame);
            }
        }
        let found = of.iter().flatten().count();
        return (!late && found * 10 >= frames * 9).then_some((of, false));
    }
    // Without stamps the frame numbers are those of the pictures, from 0 or from 1.
    let last = track.timeline.number(frames - 1)?;
    let from = i64::from(last == pictures as i64);
    for frame in 0..frames {
        let picture = usize::try_from(track.timeline.number(frame)? - from).ok()?;
        *of.get_mut(picture)? = Some(frame);
    }
    // Far fewer frames than pictures, numbered through, are a track of another or a cut clip.
    let span = last - track.timeline.number(0)?;
    (span * 10 >= pictures as i64 * 9).then_some((of, false))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::{DepthKind, Layer, Timeline};

    fn track(times: Vec<f64>, numbers: Vec<i64>, timing: Timing) -> Track {
        let frames = times.len();
        let mut layer = Layer::missing(frames, 1, 2);
        for frame in 0..frames {
            layer.set(frame, 0, &[10.0, 20.0], 0.9, Presence::Seen);
        }
        Track {
            layout: "tidy".into(),
            joints: vec![Joint::Nose],
            timeline: Timeline::new(times, numbers, timing).expect("a time line"),
            picture: Some(layer),
            space: None,
            size: Some(SIZE),
            person: "1".into(),
            depth: DepthKind::None,
        }
    }

    const SIZE: PictureSize = PictureSize {
        width: 100.0,
        height: 200.0,
    };

    fn even(frames: usize) -> Vec<f64> {
        (0..frames).map(|n| n as f64 / 30.0).collect()
    }

    #[test]
    fn points_lie_where_they_were_seen_at_any_scale_and_mirrored() {
        let track = track(even(30), (0..30).collect(), Timing::Stated);
        for (size, mirrored, at) in [
            (SIZE, false, [60.0, 80.0]),
            (SIZE, true, [40.0, 80.0]),
            (
                PictureSize {
                    width: 200.0,
                    height: 400.0,
                },
                false,
                [120.0, 160.0],
            ),
        ] {
            let register = Register::new(&track, mirrored, &even(30), size).expect("they fit");
            let seen = register.seen(&track, 3, Joint::Nose).expect("seen");
            assert_eq!([seen.x, seen.y], at);
            assert_eq!(register.to_track(seen), Vector2::new(10.0, 20.0));
            assert!(register.is_one_to_one());
        }
        let lying = PictureSize {
            width: 200.0,
            height: 100.0,
        };
        let fault = Register::new(&track, false, &even(30), lying).unwrap_err();
        assert_eq!(fault.code, "video/size-mismatch");
    }

    #[test]
    fn frames_are_found_by_time_or_by_number() {
        let half: Vec<f64> = even(60).into_iter().step_by(2).collect();
        let stamped = track(half.clone(), (0..30).collect(), Timing::Stamped);
        let register = Register::new(&stamped, false, &even(60), SIZE).expect("by time");
        assert_eq!(
            [0, 1, 2, 58].map(|picture| register.frame(picture)),
            [Some(0), None, Some(1), Some(29)]
        );
        assert_eq!(register.pictures(30)[29], Some(58));
        let numbered = track(half, (0..60).step_by(2).collect(), Timing::Stated);
        let register = Register::new(&numbered, false, &even(60), SIZE).expect("by number");
        assert_eq!(register.frame(4), Some(2));
        let other = track(even(30), (0..30).collect(), Timing::Stamped);
        let fault = Register::new(&other, false, &even(25), SIZE).unwrap_err();
        assert_eq!(fault.code, "video/track-mismatch");
    }
}
