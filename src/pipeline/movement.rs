//! From a conditioned track to angles and repetitions of one side.

use super::assume::{aim_plane_deg, assumptions};
use crate::body::{Joint, Side, ViewName};
use crate::condition::{Conditioned, condition};
use crate::geom::{median, quantiles};
use crate::kinematics::{ForearmRule, Kinematics, Request, Signal, kinematics};
use crate::models::{self, Exercise, Models};
use crate::reps::{RepSpan, assign_sets, find};
use crate::track::Track;

/// The side whose elbow travels more along the body.
pub(super) fn moving_side(track: &Track) -> Side {
    let travel = |side: Side| -> f64 {
        let (Some(layer), Some(elbow)) = (track.main_layer(), track.column(Joint::Elbow(side)))
        else {
            return 0.0;
        };
        (0..layer.dimensions())
            .map(|axis| {
                let values = layer.column(elbow, axis).into_iter().flatten();
                quantiles(values, [0.05, 0.95]).map_or(0.0, |[low, high]| high - low)
            })
            .sum()
    };
    let (left, right) = rayon::join(|| travel(Side::Left), || travel(Side::Right));
    if left > right {
        Side::Left
    } else {
        Side::Right
    }
}

/// Signals of one side of a track, without repetitions: what a file can support.
pub fn signals(
    track: Track,
    exercise: &Exercise,
    models: &Models,
    side: Side,
    view: Option<ViewName>,
) -> Kinematics {
    angles(&condition(track, None), exercise, models, side, view)
}

pub(super) fn angles(
    conditioned: &Conditioned,
    exercise: &Exercise,
    models: &Models,
    side: Side,
    view: Option<ViewName>,
) -> Kinematics {
    let straight_arm = exercise
        .limit("elbow-bent-most")
        .is_some_and(|limit| limit.high.is_some());
    let request = Request {
        side,
        aim_plane_deg: aim_plane_deg(exercise),
        keeps_plane: exercise.plane.is_some(),
        forearm: if straight_arm {
            ForearmRule::AlongUpperArm
        } else {
            ForearmRule::Forward
        },
        stated_view: view,
    };
    kinematics(
        &conditioned.track,
        &conditioned.noise,
        &assumptions(models, request.aim_plane_deg),
        &request,
    )
}

pub(super) fn repetition_signal(exercise: &Exercise) -> Signal {
    match exercise.repetition.signal {
        models::Signal::Elevation => Signal::Elevation,
        models::Signal::ElbowFlexion => Signal::ElbowFlexion,
        models::Signal::HumeralRotation => Signal::HumeralRotation,
    }
}

/// Standard deviations of frame-to-frame noise that a repetition must exceed (common practice: 3).
const OUT_OF_NOISE: f64 = 3.0;

pub(super) fn repetitions(kinematics: &Kinematics, exercise: &Exercise) -> Vec<RepSpan> {
    let Ok(series) = kinematics.signal(repetition_signal(exercise)) else {
        return Vec::new();
    };
    let Some(rate) = kinematics.timeline.rate_hz() else {
        return Vec::new();
    };
    let values: Vec<Option<f64>> = series.value.iter().collect();
    let mut spans = find(&values, rate, &exercise.repetition);
    // A movement no larger than what noise makes of a still arm in this view is none.
    spans.retain(|span| {
        let (noise, _) = series.sd_at(span.peak);
        let travel = |frame: usize| Some((series.at(span.peak)? - series.at(frame)?).abs());
        let excursion = travel(span.start)
            .unwrap_or(0.0)
            .max(travel(span.end).unwrap_or(0.0));
        excursion >= OUT_OF_NOISE * noise
    });
    // A turning point with the arm hanging is no repetition of an exercise that is done with it raised.
    if let (Some(least), Ok(elevation)) = (
        exercise.repetition.least_elevation_deg,
        kinematics.signal(Signal::Elevation),
    ) {
        let around = (rate / 4.0).ceil() as usize;
        spans.retain(|span| {
            let frames = span.peak.saturating_sub(around)..=span.peak + around;
            median(frames.filter_map(|frame| elevation.at(frame))).is_none_or(|deg| deg >= least)
        });
    }
    assign_sets(&mut spans, kinematics.timeline.times_s());
    spans
}
