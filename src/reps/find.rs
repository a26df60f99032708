//! Finding repetitions: turning points by prominence relative to the clip's own range.

use super::phases::{Ramp, Speeds, boundaries};
use super::{Incomplete, RepSpan};
use crate::dsp::peaks::{PeakRule, find_peaks};
use crate::dsp::zero_phase::zero_phase_lowpass;
use crate::geom::quantiles;
use crate::models::{Repetition, Turn};

/// Cut-off for looking for turning points, hertz. A repetition of a therapeutic exercise takes more than a
/// second; common practice, no source.
const LOOK_HZ: f64 = 3.0;

/// Longest hole in the signal over which a repetition is still followed, seconds (stated choice: shorter
/// than a hold, longer than an arm passing before the face).
const LONGEST_HOLE_S: f64 = 1.0;

/// Least prominence as a share of the clip's range (5 % to 95 %): smaller movements beside full ones are
/// sway or the walk to the phone (stated choice).
const SHARE_OF_RANGE: f64 = 0.2;

/// How near the clip's beginning or end a piece must be to have been cut off by it, seconds (stated choice).
const EDGE_S: f64 = 0.5;

/// Shortest repetition, seconds: the fastest labelled ones of an open data set of rehabilitation exercises
/// (Miron et al. 2021) take over 1 s; common practice, no source, for the half of it.
const SHORTEST_S: f64 = 0.5;

/// Excursion beside the median repetition below which a movement is no repetition, and below which a piece
/// cut off by the recording is none (stated choice: a planted short repetition reaches 40 %).
const SMALL_BESIDE_USUAL: f64 = 0.33;
const HALF_OF_USUAL: f64 = 0.5;

/// Share of the excursion within which the signal counts as back at the level repetitions start from
/// (stated choice).
const FOOT_SHARE: f64 = 0.1;

/// Stay near the turning point at an edge, seconds, and how near in shares of the excursion, that is a rest
/// and no repetition cut off (stated choice).
const RESTING_S: f64 = 0.4;
const RESTING_SHARE: f64 = 0.3;

/// Share of the excursion that must be travelled on a side for that side to count as complete.
const MOST_OF_IT: f64 = 0.7;

/// Finds repetitions in a signal (degrees by frame).
///
/// *Definition* a repetition is a turning point whose prominence reaches the larger of the exercise's
/// attempt excursion and a fifth of the clip's range; it extends to where the motion starts and ends
/// (speed below 5 % of the fastest moment of that way, near the resting level).
/// Set numbers are 0 here; [`super::assign_sets`] gives them.
pub fn find(signal: &[Option<f64>], rate_hz: f64, rule: &Repetition) -> Vec<RepSpan> {
    let sign = match rule.turn {
        Turn::High => 1.0,
        Turn::Low => -1.0,
    };
    let values = signal.iter().copied().flatten().map(|value| sign * value);
    let Some([low, high]) = quantiles(values, [0.05, 0.95]) else {
        return Vec::new();
    };
    let least = rule
        .attempt_excursion_deg
        .max(SHARE_OF_RANGE * (high - low));
    let hole = (LONGEST_HOLE_S * rate_hz).round() as usize;
    let found: Vec<RepSpan> = stretches(signal, hole)
        .into_iter()
        .flat_map(|(from, values)| {
            let upward: Vec<f64> = values.into_iter().map(|value| sign * value).collect();
            // Where the signal itself begins or ends within the clip, nothing was cut off by the recording.
            let whole = (from == 0, from + upward.len() == signal.len());
            let cut = |span: &RepSpan| match span.incomplete {
                Some(Incomplete::CutOffAtStart) => !whole.0,
                Some(Incomplete::CutOffAtEnd) => !whole.1,
                _ => false,
            };
            let rests_high = rule.turn == Turn::Low;
            in_stretch(&upward, rate_hz, least, rule.min_excursion_deg)
                .into_iter()
                .filter(|span| {
                    !(rests_high && (still_at_edge(&upward, span, rate_hz) || cut(span)))
                })
                .collect::<Vec<_>>()
                .into_iter()
                .map(move |span| shifted(span, from))
        })
        .collect();
    real_ones(found, signal, rate_hz)
}

/// Drops what is too short in time, and what is small beside the usual repetition.
fn real_ones(found: Vec<RepSpan>, signal: &[Option<f64>], rate_hz: f64) -> Vec<RepSpan> {
    let at = |frame: usize| signal.get(frame).copied().flatten();
    let excursion = |span: &RepSpan| -> Option<f64> {
        let peak = at(span.peak)?;
        let away = |frame: usize| at(frame).map(|value| (peak - value).abs());
        Some(
            away(span.start)
                .unwrap_or(0.0)
                .max(away(span.end).unwrap_or(0.0)),
        )
    };
    let usual = crate::geom::median(
        found
            .iter()
            .filter(|span| span.incomplete.is_none())
            .filter_map(excursion),
    );
    let least_frames = SHORTEST_S * rate_hz;
    let edge = (EDGE_S * rate_hz) as usize;
    found
        .into_iter()
        .filter(|span| {
            let share = match span.incomplete {
                None => SMALL_BESIDE_USUAL,
                // Where the arm merely came into sight, the recording cut nothing off.
                Some(Incomplete::CutOffAtStart) if span.start > edge => MOST_OF_IT,
                Some(Incomplete::CutOffAtEnd) if span.end + edge < signal.len() => MOST_OF_IT,
                Some(_) => HALF_OF_USUAL,
            };
            let big = match (excursion(span), usual) {
                (Some(excursion), Some(usual)) => excursion >= share * usual,
                _ => true,
            };
            let cut_off = matches!(
                span.incomplete,
                Some(Incomplete::CutOffAtStart | Incomplete::CutOffAtEnd)
            );
            big && (cut_off || (span.end - span.start) as f64 >= least_frames)
        })
        .collect()
}

fn shifted(span: RepSpan, by: usize) -> RepSpan {
    RepSpan {
        start: span.start + by,
        hold_start: span.hold_start + by,
        peak: span.peak + by,
        hold_end: span.hold_end + by,
        end: span.end + by,
        ..span
    }
}

/// Stretches without a hole longer than `hole` frames, shorter holes bridged by straight lines.
fn stretches(signal: &[Option<f64>], hole: usize) -> Vec<(usize, Vec<f64>)> {
    let mut out: Vec<(usize, Vec<f64>)> = Vec::new();
    let mut last: Option<(usize, f64)> = None;
    for (frame, value) in signal.iter().enumerate() {
        let Some(value) = *value else { continue };
        match (last, out.last_mut()) {
            (Some((before, from)), Some((_, run))) if frame - before <= hole + 1 => {
                let steps = frame - before;
                run.extend((1..=steps).map(|k| from + (value - from) * k as f64 / steps as f64));
            }
            _ => out.push((frame, vec![value])),
        }
        last = Some((frame, value));
    }
    out
}

/// Repetitions of one stretch in which the turning point is high.
fn in_stretch(signal: &[f64], rate_hz: f64, least: f64, least_excursion: f64) -> Vec<RepSpan> {
    let smooth = zero_phase_lowpass(signal, LOOK_HZ, rate_hz).unwrap_or_else(|_| signal.to_vec());
    let speeds = Speeds::of(signal, &smooth, rate_hz);
    let Some(floor) = smooth.iter().copied().reduce(f64::min) else {
        return Vec::new();
    };
    // One low sample at either end makes a turning point of a stretch that begins or ends up in the air.
    let mut padded = Vec::with_capacity(smooth.len() + 2);
    padded.push(floor - 1.0);
    padded.extend(&smooth);
    padded.push(floor - 1.0);
    let rule = PeakRule {
        least_prominence: Some(least),
        ..PeakRule::default()
    };
    let tops: Vec<usize> = find_peaks(&padded, &rule)
        .unwrap_or_default()
        .iter()
        .map(|peak| peak.index.saturating_sub(1).min(smooth.len() - 1))
        .collect();

    let valleys: Vec<usize> = std::iter::once(0)
        .chain(
            tops.windows(2)
                .map(|pair| lowest(&smooth, pair[0], pair[1])),
        )
        .chain(std::iter::once(smooth.len() - 1))
        .collect();
    // Where repetitions start from, told by the valleys between them.
    let inner = valleys
        .get(1..valleys.len().saturating_sub(1))
        .unwrap_or(&[]);
    let level = crate::geom::median(
        inner
            .iter()
            .filter_map(|valley| smooth.get(*valley))
            .copied(),
    );
    tops.iter()
        .enumerate()
        .filter_map(|(k, top)| {
            let (before, after) = (*valleys.get(k)?, *valleys.get(k + 1)?);
            // At the ends of a stretch there is no second top to end the search: the movement that brings
            // the arm into place, or away from it, is not part of the repetition.
            let before = if k == 0 {
                foot(&smooth, *top, 0, level)
            } else {
                before
            };
            let after = if k + 1 == tops.len() {
                foot(&smooth, *top, smooth.len() - 1, level)
            } else {
                after
            };
            let rise = smooth.get(*top)? - smooth.get(before)?;
            let fall = smooth.get(*top)? - smooth.get(after)?;
            let excursion = rise.max(fall);
            let incomplete = if rise < MOST_OF_IT * excursion && k == 0 {
                Some(Incomplete::CutOffAtStart)
            } else if fall < MOST_OF_IT * excursion && k + 1 == tops.len() {
                Some(Incomplete::CutOffAtEnd)
            } else if excursion < least_excursion {
                Some(Incomplete::Short)
            } else {
                None
            };
            let [start, hold_start, peak, hold_end, end] = boundaries(
                signal,
                &speeds,
                Ramp {
                    before,
                    top: *top,
                    after,
                },
            );
            Some(RepSpan {
                start,
                hold_start,
                peak,
                hold_end,
                end,
                set: 0,
                incomplete,
            })
        })
        // A sliver of movement at an end of the clip, less than an attempt, is no repetition.
        .filter(|span| match span.incomplete {
            Some(Incomplete::CutOffAtStart | Incomplete::CutOffAtEnd) => {
                let travelled = (signal[span.peak] - signal[span.start])
                    .abs()
                    .max((signal[span.peak] - signal[span.end]).abs());
                travelled >= least
            }
            _ => true,
        })
        .collect()
}

/// Whether a turning point lies at the edge of a stretch and the arm rests there: in an exercise whose turning
/// point is low (a straight elbow, say) that is how one stands before and after it.
fn still_at_edge(signal: &[f64], span: &RepSpan, rate_hz: f64) -> bool {
    let at = |frame: usize| signal.get(frame).copied();
    let (Some(peak), Some(start), Some(end)) = (at(span.peak), at(span.start), at(span.end)) else {
        return false;
    };
    let near = RESTING_SHARE * (peak - start.min(end));
    let stays = |values: &mut dyn Iterator<Item = &f64>| {
        values.take_while(|value| peak - **value < near).count() as f64 > RESTING_S * rate_hz
    };
    match span.incomplete {
        Some(Incomplete::CutOffAtStart) => stays(&mut signal.iter()),
        Some(Incomplete::CutOffAtEnd) => stays(&mut signal.iter().rev()),
        _ => false,
    }
}

/// Foot of a top on the side of `end`: the lowest frame there or, when the level from which repetitions
/// start is known, the nearest frame at which the signal stops falling after reaching that level.
fn foot(values: &[f64], top: usize, end: usize, level: Option<f64>) -> usize {
    let lowest = lowest(values, top.min(end), top.max(end));
    let (Some(level), Some(height)) = (level, values.get(top)) else {
        return lowest;
    };
    let reached = level + FOOT_SHARE * (height - level);
    let away: Vec<usize> = if end < top {
        (end..top).rev().collect()
    } else {
        (top + 1..=end).collect()
    };
    let mut low: Option<(usize, f64)> = None;
    for frame in away {
        let Some(value) = values.get(frame) else {
            break;
        };
        match low {
            None if *value <= reached => low = Some((frame, *value)),
            Some((_, lowest)) if *value < lowest => {
                // Falling on slowly at the level is rest; falling far below it is leaving the place.
                if *value < level - FOOT_SHARE * (height - level) {
                    break;
                }
                low = Some((frame, *value));
            }
            Some((_, lowest)) if *value > lowest + FOOT_SHARE * (height - level) => break,
            _ => {}
        }
    }
    low.map_or(lowest, |(frame, _)| frame)
}

/// Frame of the lowest value in `from..=to`.
fn lowest(values: &[f64], from: usize, to: usize) -> usize {
    (from..=to)
        .filter(|frame| *frame < values.len())
        .min_by(|a, b| values[*a].total_cmp(&values[*b]))
        .unwrap_or(from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::models::Models;

    fn rule() -> Repetition {
        Models::embedded()
            .unwrap()
            .exercise("scapular-raise")
            .unwrap()
            .repetition
            .clone()
    }

    /// Minimum-jerk raise and lower with rests.
    fn raises(count: usize, top: f64, rate: f64) -> Vec<f64> {
        let ramp = |k: usize, n: usize| {
            let t = k as f64 / n as f64;
            t.powi(3) * (10.0 - 15.0 * t + 6.0 * t * t)
        };
        let (move_n, rest_n) = ((1.5 * rate) as usize, rate as usize);
        let mut out = vec![10.0; rest_n];
        for _ in 0..count {
            out.extend((0..move_n).map(|k| 10.0 + (top - 10.0) * ramp(k, move_n)));
            out.extend((0..move_n).map(|k| top - (top - 10.0) * ramp(k, move_n)));
            out.extend(vec![10.0; rest_n]);
        }
        out
    }

    fn some(values: Vec<f64>) -> Vec<Option<f64>> {
        values.into_iter().map(Some).collect()
    }

    #[test]
    fn counts_full_repetitions_and_ignores_sway() {
        let mut values = raises(5, 150.0, 30.0);
        for (frame, value) in values.iter_mut().enumerate() {
            *value += 5.0 * (frame as f64 / 7.0).sin();
        }
        assert_eq!(find(&some(values), 30.0, &rule()).len(), 5);
    }

    #[test]
    fn a_pause_on_the_way_makes_no_second_repetition() {
        let mut values = raises(1, 150.0, 30.0);
        let halfway = values.iter().position(|value| *value > 80.0).unwrap();
        let pause = vec![values[halfway]; 45];
        values.splice(halfway..halfway, pause);
        let reps = find(&some(values), 30.0, &rule());
        assert_eq!(reps.len(), 1);
        assert!(
            reps[0].start < 40,
            "it starts where the movement starts, not at the pause: {reps:?}"
        );
    }

    #[test]
    fn a_repetition_cut_off_by_the_end_is_kept_and_marked() {
        let mut values = raises(2, 150.0, 30.0);
        values.truncate(30 + 90 + 30 + 40);
        let reps = find(&some(values), 30.0, &rule());
        assert_eq!(reps.len(), 2);
        assert_eq!(reps[0].incomplete, None);
        assert_eq!(reps[1].incomplete, Some(Incomplete::CutOffAtEnd));
    }

    #[test]
    fn small_movement_gives_none_and_no_data_gives_none() {
        assert!(find(&some(raises(4, 22.0, 30.0)), 30.0, &rule()).is_empty());
        assert!(find(&[None; 100], 30.0, &rule()).is_empty());
        assert!(find(&[], 30.0, &rule()).is_empty());
    }

    #[test]
    fn boundaries_are_where_the_speed_reaches_five_percent() {
        let reps = find(&some(raises(1, 150.0, 30.0)), 30.0, &rule());
        // Of a minimum-jerk movement of 45 frames, 5 % of the top speed is reached after 2.65 frames.
        assert!((reps[0].start as i64 - 32).abs() <= 2, "{reps:?}");
        assert!((reps[0].end as i64 - 117).abs() <= 2, "{reps:?}");
    }
}
