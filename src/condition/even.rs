//! An even time line, by time stamps and never by index, with short gaps bridged on the way.

use super::LONGEST_GAP_S;
use crate::dsp::interpolate::{Origin, SAME_TIME_S, Shape, even_grid, resample_points as at_times};
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

    let places = Places::of(&old, &new);
    let (mut filled, mut open) = (0, 0);
    for layer in [&mut track.picture, &mut track.space].into_iter().flatten() {
        let count = resample_layer(layer, &old, &new, &places);
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

/// Where the frames of a new time line lie on the old one: the same for every joint.
struct Places {
    of_frames: Vec<Place>,
    /// Whether the new times are the old ones.
    same: bool,
}

struct Place {
    /// The last old frame that is not after the new one.
    before: usize,
    /// Whether a frame was recorded near it.
    recorded: bool,
}

impl Places {
    fn of(old: &Timeline, new: &Timeline) -> Places {
        let step_s = new.rate_hz().map_or(f64::INFINITY, |rate| 1.0 / rate);
        let mut before = 0;
        let place = |time: &f64| {
            let is_before = |after: f64| after <= time + 1e-9;
            while old.time_s(before + 1).is_some_and(is_before) {
                before += 1;
            }
            let near = |frame| {
                let recorded = old.time_s(frame);
                recorded.is_some_and(|at| (at - time).abs() <= RECORDED_WITHIN * step_s)
            };
            let recorded = near(before) || near(before + 1);
            Place { before, recorded }
        };
        let (was, is) = (old.times_s(), new.times_s());
        Places {
            of_frames: is.iter().map(place).collect(),
            same: was.len() == is.len()
                && was
                    .iter()
                    .zip(is)
                    .all(|(was, is)| (was - is).abs() <= SAME_TIME_S),
        }
    }
}

#[derive(Default)]
struct Count {
    filled: usize,
    open: usize,
}

fn resample_layer(layer: &mut Layer, old: &Timeline, new: &Timeline, places: &Places) -> Count {
    let counts = layer.remake(new.len(), |before, course| {
        resample_joint(before, course, old, new, places)
    });
    counts.into_iter().fold(Count::default(), |sum, one| Count {
        filled: sum.filled + one.filled,
        open: sum.open + one.open,
    })
}

/// Puts the places of a joint at the new times in, and tells where each came from.
fn moved<const N: usize>(
    before: &Course,
    course: &mut Course,
    old: &Timeline,
    new: &Timeline,
) -> Option<Vec<Origin>> {
    let mut origins = Vec::with_capacity(new.len());
    let put = |frame, place: Option<[f64; N]>, origin| {
        if let Some(place) = place {
            course.put(frame, place);
        }
        origins.push(origin);
    };
    // The shape-keeping cubic: straight lines would cut the tops off fast movements.
    let (times, shape) = (new.times_s(), Shape::Monotone);
    let place = |frame| before.place(frame);
    at_times(old.times_s(), place, times, LONGEST_GAP_S, shape, put).ok()?;
    Some(origins)
}

/// Sets a joint at every even time, or leaves it missing there; without lists of it, so that no copy lies in memory.
fn resample_joint(
    before: &Course,
    course: &mut Course,
    old: &Timeline,
    new: &Timeline,
    places: &Places,
) -> Count {
    let mut count = Count::default();
    if places.same && before.is_always_seen() {
        course.clone_from(before);
        return count;
    }
    let origins = match course.dimensions() {
        2 => moved::<2>(before, course, old, new),
        _ => moved::<3>(before, course, old, new),
    };
    let Some(origins) = origins else {
        return count;
    };
    let ever_seen = before.is_ever_seen();
    for (frame, (place, origin)) in places.of_frames.iter().zip(origins).enumerate() {
        if origin == Origin::Missing {
            count.open += usize::from(ever_seen);
            continue;
        }
        let bridged = origin == Origin::Hole || !place.recorded;
        count.filled += usize::from(bridged);
        let presence = if bridged {
            Presence::Filled
        } else {
            Presence::Seen
        };
        let score = before.score(place.before);
        course.mark(frame, score.unwrap_or(0.0), presence);
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::Timing;

    #[test]
    fn a_joint_on_an_even_time_line_comes_out_as_the_long_way_makes_it() {
        let frames = 50;
        let times = |wander: f64| -> Vec<f64> {
            let time = |frame: usize| frame as f64 / 30.0 + wander * (frame % 3) as f64;
            (0..frames).map(time).collect()
        };
        let line = |wander| {
            let numbers = (0..frames as i64).collect();
            Timeline::new(times(wander), numbers, Timing::Stamped).unwrap()
        };
        let joint = |missing: Option<usize>| {
            let mut course = Course::missing(frames, 2);
            for frame in (0..frames).filter(|frame| Some(*frame) != missing) {
                let x = (frame as f64 / 9.0).sin();
                course.set(frame, &[x, 1.0 - x], 0.7, Presence::Seen);
            }
            course
        };
        for (wander, missing, is_same) in [
            (0.0, None, true),
            (0.0, Some(20), true),
            (0.002, None, false),
        ] {
            let (old, new) = (line(wander), line(0.0));
            let places = Places::of(&old, &new);
            assert_eq!(places.same, is_same);
            let long_way = Places {
                same: false,
                ..Places::of(&old, &new)
            };
            let made = |places: &Places| {
                let mut course = Course::missing(frames, 2);
                let count = resample_joint(&joint(missing), &mut course, &old, &new, places);
                let told = (0..frames).map(|frame| {
                    (
                        course.at(frame),
                        course.score(frame),
                        course.presence(frame),
                    )
                });
                (count.filled, count.open, told.collect::<Vec<_>>())
            };
            assert_eq!(made(&places), made(&long_way));
        }
    }
}
