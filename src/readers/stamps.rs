//! Time stamps: milliseconds or seconds.
//!
//! In: raw stamps of a file and, where its key names one, their unit. Out: seconds.

use crate::note::Note;
use crate::track::Frames;

/// Unit of a time stamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Seconds.
    Seconds,
    /// Milliseconds.
    Milliseconds,
    /// Microseconds.
    Microseconds,
}

impl Unit {
    fn seconds(self) -> f64 {
        match self {
            Unit::Seconds => 1.0,
            Unit::Milliseconds => 1e-3,
            Unit::Microseconds => 1e-6,
        }
    }

    /// What the end of a key says, compared as letters and digits only: `timestamp_ms`, `time_s`.
    pub fn of_key(key: &str) -> Option<Unit> {
        let plain = super::table::plain(key);
        let ends = |ends: &[&str]| ends.iter().any(|end| plain.ends_with(end));
        if ends(&["ms", "msec", "millis", "milliseconds"]) {
            Some(Unit::Milliseconds)
        } else if ends(&["us", "usec", "micros", "microseconds"]) {
            Some(Unit::Microseconds)
        } else if ends(&[
            "times",
            "timestamps",
            "timesec",
            "timestampsec",
            "sec",
            "secs",
            "seconds",
        ]) {
            Some(Unit::Seconds)
        } else {
            None
        }
    }

    /// What the usual step between frames says. Video has 2 to 500 frames a second, so that a step of
    /// 0.002..0.5 is in seconds, 2..500 in milliseconds and 2000..500000 in microseconds.
    fn of_step(step: f64) -> Option<Unit> {
        match step {
            s if (0.002..=0.5).contains(&s) => Some(Unit::Seconds),
            s if (2.0..=500.0).contains(&s) => Some(Unit::Milliseconds),
            s if (2e3..=5e5).contains(&s) => Some(Unit::Microseconds),
            _ => None,
        }
    }
}

/// Turns the frames' raw stamps into seconds, or drops them with a note if no unit makes sense. The frames may
/// come in any order.
pub fn settle(frames: &mut Frames, named: Option<Unit>, notes: &mut Vec<Note>) {
    let mut stamps: Vec<f64> = Vec::new();
    frames.each(|frame| stamps.extend(frame.stamp_s.filter(|stamp| stamp.is_finite())));
    stamps.sort_by(f64::total_cmp);
    let steps = stamps
        .iter()
        .zip(stamps.iter().skip(1))
        .map(|(a, b)| b - a)
        .filter(|step| *step > 0.0);
    let Some(step) = crate::geom::median(steps) else {
        frames.change(|frame| frame.stamp_s = None);
        if stamps.len() > 1 {
            notes.push(Note::new(
                "read/stamps-unusable",
                "The time stamps are the same in every frame; they were not used.",
            ));
        }
        return;
    };
    match named.or(Unit::of_step(step)) {
        Some(unit) => {
            let seconds = unit.seconds();
            frames.change(|frame| frame.stamp_s = frame.stamp_s.map(|stamp| stamp * seconds));
        }
        None => {
            frames.change(|frame| frame.stamp_s = None);
            notes.push(Note::new(
                "read/stamps-unusable",
                format!("The time column goes on by {step} a frame, which is neither s nor ms of a video."),
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::RecordingFrame;

    fn check(stamps: &[f64], named: Option<Unit>, expected: Option<f64>) {
        let mut frames: Frames = stamps
            .iter()
            .map(|stamp| RecordingFrame {
                stamp_s: Some(*stamp),
                ..RecordingFrame::default()
            })
            .collect();
        settle(&mut frames, named, &mut Vec::new());
        let last = frames
            .look(stamps.len() - 1, |frame| frame.stamp_s)
            .unwrap();
        match (last, expected) {
            (Some(found), Some(expected)) => assert!((found - expected).abs() < 1e-9),
            (found, expected) => assert_eq!(found, expected),
        }
    }

    #[test]
    fn the_step_tells_the_unit() {
        check(&[0.0, 33.3, 66.6], None, Some(0.0666));
        check(&[0.0, 0.04, 0.08], None, Some(0.08));
        check(&[0.0, 33_333.0, 66_666.0], None, Some(0.066_666));
        check(&[0.0, 1.0, 2.0], None, None);
        check(&[0.0, 1.0, 2.0], Some(Unit::Seconds), Some(2.0));
        check(&[5.0, 5.0, 5.0], None, None);
        // Frames in any order: the step is that of the stamps in theirs.
        check(&[80.0, 0.0, 120.0, 40.0], None, Some(0.04));
        check(&[0.12, 0.08, 0.04, 0.0], None, Some(0.0));
    }

    #[test]
    fn keys_name_units() {
        for (key, unit) in [
            ("timestamp_ms", Some(Unit::Milliseconds)),
            ("time_s", Some(Unit::Seconds)),
            ("timestamp", None),
            ("time", None),
            ("timestampUs", Some(Unit::Microseconds)),
        ] {
            assert_eq!(Unit::of_key(key), unit, "{key}");
        }
    }
}
