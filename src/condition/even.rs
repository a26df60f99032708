//! An even time line, by time stamps and never by index, with short gaps bridged on the way.

use super::LONGEST_GAP_S;
use crate::dsp::interpolate::{Origin, Shape, even_grid, resample as at_times};
use crate::note::Note;
use crate::track::{Course, Layer, Presence, Timeline, Track};

/// Departure of a step from the median step, as a share, above which stamps are called uneven: half a frame
/// would move an event by as much as a whole frame is worth (stated choice).
const UNEVEN: f64 = 0.25;

/// Steps within which a frame must have been recorded for a point to count as observed: a frame that was never
/// recorded is like one in which the point was lost. Stamps that wander by half a step stay observed (stated
/// choice).
const RECORDED_WITHIN: f64 = 0.75;

/// Puts both layers on an even time line at the median rate; bridges gaps of at most [`LONGEST_GAP_S`].
pub fn resample(track: &mut Track) -> Vec<Note> {
    let old = track.timeline.clone();
    let Some(rate) = old.rate_hz() else {
        return Vec::new();
    };
    let Ok(grid) = even_grid(old.times_s(), rate) else {
        return Vec::new();
    };
    let numbers = nearest_numbers(&old, &grid);
    let Some(new) = Timeline::new(grid, numbers, old.timing()) else {
        return Vec::new();
    };

    let mut filled = 0;
    let mut open = 0;
    for layer in [&mut track.picture, &mut track.space].into_iter().flatten() {
        let count = resample_layer(layer, &old, &new);
        filled += count.filled;
        open += count.open;
    }
    let uneven = old
        .times_s()
        .iter()
        .zip(old.times_s().iter().skip(1))
        .filter(|(a, b)| ((*b - *a) * rate - 1.0).abs() > UNEVEN)
        .count();
    let mut notes = Vec::new();
    if uneven > 0 {
        notes.push(Note::new(
            "condition/resampled",
            format!("{uneven} time steps were uneven; all points were moved to even times at {rate:.2} Hz."),
        ));
    }
    if filled > 0 {
        notes.push(Note::new(
            "condition/gap-filled",
            format!(
                "{filled} missing points in gaps of at most {LONGEST_GAP_S} s were bridged; they count as \
                 not observed."
            ),
        ));
    }
    if open > 0 {
        notes.push(Note::new(
            "condition/gap-left",
            format!(
                "{open} points are missing in gaps too long to bridge; nothing is measured there."
            ),
        ));
    }
    track.timeline = new;
    notes
}

fn nearest_numbers(old: &Timeline, grid: &[f64]) -> Vec<i64> {
    let mut next = 0;
    grid.iter()
        .map(|time| {
            while old
                .time_s(next + 1)
                .is_some_and(|after| after <= *time + 1e-9)
            {
                next += 1;
            }
            let nearer_after = match (old.time_s(next), old.time_s(next + 1)) {
                (Some(before), Some(after)) => after - time < time - before,
                _ => false,
            };
            old.number(next + usize::from(nearer_after)).unwrap_or(0)
        })
        .collect()
}

/// Time to the nearer of two neighbouring frames, of which the first is the last before the time.
fn distance(old: &Timeline, before: usize, time: f64) -> f64 {
    [before, before + 1]
        .iter()
        .filter_map(|frame| Some((old.time_s(*frame)? - time).abs()))
        .fold(f64::INFINITY, f64::min)
}

#[derive(Default)]
struct Count {
    filled: usize,
    open: usize,
}

/// A joint before it was put on even times.
struct Before {
    /// Coordinates by axis.
    axes: Vec<Vec<Option<f64>>>,
    scores: Vec<f32>,
    ever_seen: bool,
}

impl Before {
    fn of(course: &Course<'_>) -> Before {
        let axes = 0..course.dimensions();
        Before {
            axes: axes.map(|axis| course.column(axis)).collect(),
            scores: course.scores(),
            ever_seen: course.is_ever_seen(),
        }
    }
}

fn resample_layer(layer: &mut Layer, old: &Timeline, new: &Timeline) -> Count {
    let counts = if layer.frames() == new.len() {
        // Joint by joint in place: a long clip does not lie in memory twice.
        layer.each_joint(|_, course| resample_joint(&Before::of(&course), course, old, new))
    } else {
        let before = layer.each_joint(|_, course| Before::of(&course));
        *layer = Layer::missing(new.len(), layer.joints(), layer.dimensions());
        layer.each_joint(|joint, course| match before.get(joint) {
            Some(before) => resample_joint(before, course, old, new),
            None => Count::default(),
        })
    };
    counts.into_iter().fold(Count::default(), |sum, one| Count {
        filled: sum.filled + one.filled,
        open: sum.open + one.open,
    })
}

/// Sets a joint at every even time, or drops it there.
fn resample_joint(
    before: &Before,
    mut course: Course<'_>,
    old: &Timeline,
    new: &Timeline,
) -> Count {
    let mut count = Count::default();
    // The shape-keeping cubic: straight lines would cut the tops off fast movements.
    let shape = Shape::Monotone;
    let (from, to) = (old.times_s(), new.times_s());
    let moved = |values: &Vec<_>| at_times(from, values, to, LONGEST_GAP_S, shape).ok();
    let Some(axes) = before.axes.iter().map(moved).collect::<Option<Vec<_>>>() else {
        (0..to.len()).for_each(|frame| course.drop_point(frame));
        return count;
    };
    let step_s = new.rate_hz().map_or(f64::INFINITY, |rate| 1.0 / rate);
    let mut nearest = 0;
    let mut at = Vec::with_capacity(axes.len());
    for (frame, time) in to.iter().copied().enumerate() {
        at.clear();
        at.extend(axes.iter().filter_map(|axis| *axis.value.get(frame)?));
        if at.len() != axes.len() {
            course.drop_point(frame);
            count.open += usize::from(before.ever_seen);
            continue;
        }
        while old
            .time_s(nearest + 1)
            .is_some_and(|after| after <= time + 1e-9)
        {
            nearest += 1;
        }
        let bridged = axes
            .first()
            .and_then(|axis| axis.origin.get(frame))
            .is_some_and(|o| *o == Origin::Hole)
            || distance(old, nearest, time) > RECORDED_WITHIN * step_s;
        count.filled += usize::from(bridged);
        let presence = if bridged {
            Presence::Filled
        } else {
            Presence::Seen
        };
        let there = before.axes.first().and_then(|axis| *axis.get(nearest)?);
        let score = there.and_then(|_| before.scores.get(nearest));
        let score = score.map_or(0.0, |score| f64::from(*score));
        course.set(frame, &at, score, presence);
    }
    count
}
