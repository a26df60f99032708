//! The time line of a recording: order, duplicates, time stamps, holes.
//!
//! In: frames as a file has them. Out: the same frames in order, each once, and a [`Timeline`]. The file's own
//! stamps come first, then a rate the file states, then one the user states, then the nominal rate.
//! Frames that are not in the file are not made up: a hole keeps its time.

use super::{Frames, NOMINAL_RATE_HZ, Timeline, Timing};
use crate::note::{Fault, FaultKind, Note, Place};

/// Share of frames that may lack a stamp, or be out of order, before the stamps are given up
/// (stated choice: one in ten, and one in twenty).
const UNSTAMPED_SHARE: f64 = 0.1;
const UNORDERED_SHARE: f64 = 0.05;

/// Longest clip in steps between frames, holes included: beyond it, frame numbers or stamps are no times.
/// Nine hours at 60 frames a second.
const LONGEST_STEPS: f64 = 2e6;

/// Least share of a clip's steps that are in the file: ten seconds of exercise in half an hour. Below it the
/// numbers are no frame numbers, and an even time line would be all hole (stated choice).
const LEAST_SHARE: f64 = 0.005;

/// Puts frames in order and times them.
///
/// # Errors
/// Frame numbers or stamps that cannot be a clip's.
pub(super) fn set(
    frames: &mut Frames,
    file_rate_hz: Option<f64>,
    stated_rate_hz: Option<f64>,
    notes: &mut Vec<Note>,
) -> Result<Timeline, Fault> {
    let mut heads = heads(frames);
    let timeline = timed(&mut heads, file_rate_hz, stated_rate_hz, notes)?;
    let order: Vec<usize> = heads.iter().map(|head| head.index).collect();
    frames.arrange(&order);
    Ok(timeline)
}

/// What the clock sees of a frame.
struct Head {
    /// Which frame of the file it is.
    index: usize,
    number: i64,
    stamp_s: Option<f64>,
    people: usize,
}

fn heads(frames: &Frames) -> Vec<Head> {
    let mut heads = Vec::with_capacity(frames.len());
    frames.each(|frame| {
        heads.push(Head {
            index: heads.len(),
            number: frame.number,
            stamp_s: frame.stamp_s,
            people: frame.people.len(),
        });
    });
    heads
}

/// Puts heads in order, each once, and times them.
fn timed(
    frames: &mut Vec<Head>,
    file_rate_hz: Option<f64>,
    stated_rate_hz: Option<f64>,
    notes: &mut Vec<Note>,
) -> Result<Timeline, Fault> {
    frames.sort_by_key(|frame| frame.number);
    merge_duplicates(frames, notes);
    note_holes(frames, notes);
    let stamps = stamped(frames, notes);
    if stamps.is_none() && are_ids(frames) {
        return Err(broken_times(
            "the numbers of the frames have no step, as ids have none, so they tell neither order nor time",
        ));
    }
    let timeline = match stamps {
        Some(times) => {
            if stated_rate_hz.is_some() {
                notes.push(Note::new(
                    "read/rate-ignored",
                    "The stated rate was not used: the file has a time stamp for each frame.",
                ));
            }
            Timeline::new(times, numbers(frames), Timing::Stamped)
        }
        None => rated(frames, file_rate_hz, stated_rate_hz, notes),
    };
    let timeline =
        timeline.ok_or_else(|| broken_times("frame numbers are too large to be told apart"))?;
    let step = median_step(timeline.times_s().iter().copied()).unwrap_or(1.0);
    note_jump(&timeline, step, notes);
    let steps = timeline.duration_s() / step;
    if steps > LONGEST_STEPS || (frames.len() as f64) < LEAST_SHARE * steps {
        return Err(broken_times(&format!(
            "the frames span {steps:.0} steps, though only {} are there",
            frames.len()
        )));
    }
    Ok(timeline)
}

/// A pause of the clock that no missing frame explains, seconds, and in steps (stated choice).
const JUMP_S: f64 = 5.0;
const JUMP_STEPS: f64 = 60.0;

fn note_jump(timeline: &Timeline, step: f64, notes: &mut Vec<Note>) {
    if timeline.timing() != Timing::Stamped {
        return;
    }
    let times = timeline.times_s();
    let jumps: Vec<(usize, f64)> = times
        .iter()
        .zip(times.iter().skip(1))
        .map(|(a, b)| b - a)
        .enumerate()
        .filter(|(_, pause)| *pause > JUMP_S && *pause > JUMP_STEPS * step)
        .collect();
    if let Some((frame, pause)) = jumps.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)) {
        let note = Note::new(
            "read/clock-jump",
            format!(
                "The time stamps pause {} times, at most for {pause:.1} s; nothing was recorded in between.",
                jumps.len()
            ),
        );
        let number = timeline.number(frame).unwrap_or(frame as i64);
        notes.push(note.at(Place::default().frame(number)));
    }
}

fn broken_times(what: &str) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/frame-numbers",
        what,
        Place::default().field("frame numbers or time stamps"),
        "numbering the frames from 0 in the order of the clip",
    )
}

fn numbers(frames: &[Head]) -> Vec<i64> {
    frames.iter().map(|frame| frame.number).collect()
}

/// Keeps one frame of each number: the one with more people, then the earlier one.
fn merge_duplicates(frames: &mut Vec<Head>, notes: &mut Vec<Note>) {
    let before = frames.len();
    let mut first_double = None;
    frames.dedup_by(|later, kept| {
        if later.number != kept.number {
            return false;
        }
        first_double.get_or_insert(kept.number);
        if later.people > kept.people {
            std::mem::swap(later, kept);
        }
        true
    });
    if let Some(number) = first_double {
        notes.push(
            Note::new(
                "read/duplicate-frames",
                format!(
                    "{} frames came twice under one number; the fuller of each was kept.",
                    before - frames.len()
                ),
            )
            .at(Place::default().frame(number)),
        );
    }
}

fn median_step(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut last = None;
    let mut steps = Vec::new();
    for value in values {
        if let Some(last) = last {
            steps.push(value - last);
        }
        last = Some(value);
    }
    steps.retain(|step| *step > 0.0);
    steps.sort_by(f64::total_cmp);
    // The lower of the two middle steps: a step that occurs, and not half a hole.
    let middle = steps.len().checked_sub(1)? / 2;
    steps.get(middle).copied()
}

fn note_holes(frames: &[Head], notes: &mut Vec<Note>) {
    let Some(step) = median_step(frames.iter().map(|frame| frame.number as f64)) else {
        return;
    };
    let (mut missing, mut longest, mut at) = (0.0, 0.0, None);
    for (a, b) in frames.iter().zip(frames.iter().skip(1)) {
        let hole = ((b.number as f64 - a.number as f64) / step).round() - 1.0;
        if hole > 0.0 {
            missing += hole;
            if hole > longest {
                (longest, at) = (hole, Some(a.number));
            }
        }
    }
    if let Some(number) = at {
        notes.push(
            Note::new(
                "read/frame-holes",
                format!(
                    "{missing:.0} frames are not in the file, at most {longest:.0} in a row; their time is kept."
                ),
            )
            .at(Place::default().frame(number)),
        );
    }
}

/// Times from stamps, or `None` if there are none worth using. Frames whose stamp does not go on are dropped.
fn stamped(frames: &mut Vec<Head>, notes: &mut Vec<Note>) -> Option<Vec<f64>> {
    let all = frames.len() as f64;
    let stamp = |frame: &Head| frame.stamp_s.filter(|stamp| stamp.is_finite());
    let with = frames.iter().filter(|frame| stamp(frame).is_some()).count();
    if with < 2 {
        return None;
    }
    if (with as f64) < all * (1.0 - UNSTAMPED_SHARE) {
        notes.push(Note::new(
            "read/stamps-unusable",
            format!("Only {with} of {all} frames have a time stamp; the stamps were not used."),
        ));
        return None;
    }
    if with < frames.len() {
        frames.retain(|frame| stamp(frame).is_some());
        notes.push(Note::new(
            "read/stamps-missing",
            format!(
                "{} frames without a time stamp were left out.",
                all - with as f64
            ),
        ));
    }
    let step = median_step(frames.iter().filter_map(stamp));
    // A stamp taken before the frame was fetched lags by one frame, so that the first two are equal.
    let lagging = match (
        frames.first().and_then(stamp),
        frames.get(1).and_then(stamp),
    ) {
        (Some(a), Some(b)) => a == b,
        _ => false,
    };
    if let (true, Some(first), Some(step)) = (lagging, frames.first_mut(), step) {
        first.stamp_s = first.stamp_s.map(|stamp| stamp - step);
        notes.push(Note::new(
            "read/first-stamp",
            format!("The first two stamps are equal; the first frame was put {step:.3} s earlier."),
        ));
    }
    let mut kept = Vec::with_capacity(frames.len());
    let mut last = f64::NEG_INFINITY;
    for frame in frames.iter() {
        let goes_on = stamp(frame).is_some_and(|stamp| stamp > last);
        if goes_on {
            last = stamp(frame).unwrap_or(last);
        }
        kept.push(goes_on);
    }
    let dropped = kept.iter().filter(|kept| !**kept).count();
    if dropped as f64 > all * UNORDERED_SHARE {
        notes.push(Note::new(
            "read/stamps-unusable",
            format!(
                "The time stamps of {dropped} of {all} frames do not go on; no stamp was used."
            ),
        ));
        return None;
    }
    if dropped > 0 {
        let mut verdicts = kept.into_iter();
        frames.retain(|_| verdicts.next().unwrap_or(false));
        notes.push(Note::new(
            "read/duplicate-frames",
            format!("{dropped} frames whose stamp is not later than the one before were left out."),
        ));
    }
    let first = frames.first().and_then(stamp)?;
    Some(
        frames
            .iter()
            .filter_map(stamp)
            .map(|stamp| stamp - first)
            .collect(),
    )
}

fn rated(
    frames: &[Head],
    file_rate_hz: Option<f64>,
    stated_rate_hz: Option<f64>,
    notes: &mut Vec<Note>,
) -> Option<Timeline> {
    let usable = |rate: &f64| rate.is_finite() && *rate > 0.0;
    let from_file = file_rate_hz.filter(usable);
    if let (Some(file), Some(stated)) = (from_file, stated_rate_hz)
        && (file - stated).abs() > 0.01 * file
    {
        notes.push(Note::new(
            "read/rate-ignored",
            format!("The stated {stated} frames a second were not used: the file says {file}."),
        ));
    }
    let (rate, timing) = match from_file.or(stated_rate_hz.filter(usable)) {
        Some(rate) => (rate, Timing::Stated),
        None => {
            notes.push(Note::new(
                "read/rate-assumed",
                "The file states no frame rate: repetitions are counted, but seconds are not given. \
                 State it with --fps.",
            ));
            (NOMINAL_RATE_HZ, Timing::Assumed)
        }
    };
    let first = frames.first()?.number as f64;
    note_step(frames, rate, notes);
    let times = frames
        .iter()
        .map(|frame| (frame.number as f64 - first) / rate)
        .collect();
    Timeline::new(times, numbers(frames), timing)
}

/// Least share of equal steps with which large numbers count frames, and the step from which they are large
/// (stated choice: a frame without people is left out here and there, ids have no step at all).
const EQUAL_SHARE: f64 = 0.5;
const LARGE_STEP: f64 = 20.0;

/// Whether the numbers are ids, which tell no time: their steps are large and of all sizes.
fn are_ids(frames: &[Head]) -> bool {
    median_step(frames.iter().map(|frame| frame.number as f64))
        .is_some_and(|step| step > LARGE_STEP && equal_share(frames, step) < EQUAL_SHARE)
}

fn equal_share(frames: &[Head], step: f64) -> f64 {
    let pairs = frames.iter().zip(frames.iter().skip(1));
    let equal = pairs
        .filter(|(a, b)| (b.number as f64 - a.number as f64 - step).abs() < 0.5)
        .count();
    equal as f64 / (frames.len() as f64 - 1.0).max(1.0)
}

fn note_step(frames: &[Head], rate_hz: f64, notes: &mut Vec<Note>) {
    let step = median_step(frames.iter().map(|frame| frame.number as f64));
    let Some(step) = step.filter(|step| *step > 1.0 && equal_share(frames, *step) >= EQUAL_SHARE)
    else {
        return;
    };
    notes.push(Note::new(
        "read/frame-step",
        format!(
            "The frames are numbered in steps of {step:.0}: with {rate_hz} video frames a second there are {:.2} \
             measured a second. If every frame of the video is in the file, state {:.2} with --fps.",
            rate_hz / step,
            rate_hz * step
        ),
    ));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::RecordingFrame;

    fn frames(rows: &[(i64, Option<f64>)]) -> Frames {
        rows.iter()
            .map(|(number, stamp_s)| RecordingFrame {
                number: *number,
                stamp_s: *stamp_s,
                people: Vec::new(),
            })
            .collect()
    }

    fn check(
        rows: &[(i64, Option<f64>)],
        rates: (Option<f64>, Option<f64>),
        times: &[f64],
        timing: Timing,
        codes: &[&str],
    ) {
        let (mut frames, mut notes) = (frames(rows), Vec::new());
        let timeline = set(&mut frames, rates.0, rates.1, &mut notes).unwrap();
        assert_eq!(timeline.timing(), timing);
        assert_eq!(timeline.len(), times.len());
        let mut kept = Vec::new();
        frames.each(|frame| kept.push(Some(frame.number)));
        assert!(
            (0..times.len())
                .map(|frame| timeline.number(frame))
                .eq(kept)
        );
        for (found, expected) in timeline.times_s().iter().zip(times) {
            assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        }
        let found: Vec<&str> = notes.iter().map(|note| note.code.as_str()).collect();
        assert_eq!(found, codes);
    }

    #[test]
    fn the_order_of_trust_is_stamps_file_user_nominal() {
        let stamped = [(0, Some(5.0)), (1, Some(5.1)), (2, Some(5.3))];
        check(
            &stamped,
            (Some(10.0), Some(20.0)),
            &[0.0, 0.1, 0.3],
            Timing::Stamped,
            &["read/rate-ignored"],
        );
        let bare = [(0, None), (1, None), (3, None)];
        check(
            &bare,
            (Some(10.0), Some(20.0)),
            &[0.0, 0.1, 0.3],
            Timing::Stated,
            &["read/frame-holes", "read/rate-ignored"],
        );
        check(
            &bare,
            (None, Some(20.0)),
            &[0.0, 0.05, 0.15],
            Timing::Stated,
            &["read/frame-holes"],
        );
        check(
            &bare,
            (None, None),
            &[0.0, 1.0 / 30.0, 0.1],
            Timing::Assumed,
            &["read/frame-holes", "read/rate-assumed"],
        );
    }

    #[test]
    fn frames_are_sorted_and_doubles_merged() {
        let rows = [(2, None), (0, None), (1, None), (1, None)];
        check(
            &rows,
            (Some(1.0), None),
            &[0.0, 1.0, 2.0],
            Timing::Stated,
            &["read/duplicate-frames"],
        );
    }

    #[test]
    fn one_doubled_stamp_at_the_start_is_a_lag() {
        let rows = [
            (0, Some(0.0)),
            (1, Some(0.0)),
            (2, Some(0.04)),
            (3, Some(0.08)),
        ];
        check(
            &rows,
            (None, None),
            &[0.0, 0.04, 0.08, 0.12],
            Timing::Stamped,
            &["read/first-stamp"],
        );
    }

    #[test]
    fn stamps_that_do_not_go_on_are_given_up() {
        let rows: Vec<_> = (0..20).map(|n| (n, Some(1.0))).collect();
        let times: Vec<f64> = (0..20).map(|n| f64::from(n) / 10.0).collect();
        check(
            &rows,
            (Some(10.0), None),
            &times,
            Timing::Stated,
            &["read/stamps-unusable"],
        );
    }

    #[test]
    fn numbers_that_grow_tenfold_are_no_frames() {
        let numbers: Vec<_> = (0..14).map(|power| (10_i64.pow(power), None)).collect();
        let fault = set(&mut frames(&numbers), None, None, &mut Vec::new());
        assert_eq!(fault.unwrap_err().code, "read/frame-numbers");
    }

    #[test]
    fn ids_are_no_frame_numbers_and_steps_are_told() {
        let ids = [5, 130, 900, 1010, 1400, 2100, 2222, 3000, 3141, 4000];
        let rows: Vec<_> = ids.iter().map(|id| (*id, None)).collect();
        let fault = set(&mut frames(&rows), None, Some(30.0), &mut Vec::new()).unwrap_err();
        assert_eq!(fault.code, "read/frame-numbers");
        check(
            &[(0, None), (10, None), (20, None), (30, None)],
            (None, Some(30.0)),
            &[0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0],
            Timing::Stated,
            &["read/frame-step"],
        );
    }

    #[test]
    fn a_pause_of_the_clock_is_told() {
        let mut rows: Vec<_> = (0..20).map(|n| (n, Some(n as f64 / 30.0))).collect();
        rows.extend((20..40).map(|n| (n, Some(30.0 + n as f64 / 30.0))));
        let times: Vec<f64> = rows.iter().filter_map(|row| row.1).collect();
        check(
            &rows,
            (None, None),
            &times,
            Timing::Stamped,
            &["read/clock-jump"],
        );
    }

    #[test]
    fn a_leap_of_a_billion_frames_is_no_clip() {
        let mut frames = frames(&[(0, None), (1, None), (1_000_000_000, None)]);
        let fault = set(&mut frames, None, Some(30.0), &mut Vec::new()).unwrap_err();
        assert_eq!(fault.code, "read/frame-numbers");
    }
}
