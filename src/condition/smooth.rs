//! Zero-phase low-pass of every coordinate, its cut-off chosen by residual analysis.

use super::noise::longest_run;
use crate::body::{Joint, Side};
use crate::dsp::residual::{ResidualRule, residual_analysis};
use crate::dsp::zero_phase::zero_phase_lowpass_lanes;
use crate::track::{Course, Track};
use rayon::prelude::*;

/// Step of the cut-offs tried, hertz: finer steps change no angle by more than the noise (stated choice).
const STEP_HZ: f64 = 0.5;

/// Noise as a share of a coordinate's range below which a track counts as clean (stated choice: a twentieth
/// of the noise of a marker system).
const CLEAN_SHARE: f64 = 1e-4;

/// Cut-off for the whole track: the stated one, else the upper quartile of those that the elbows' coordinates ask
/// for. `None` when the track is too short.
pub fn cutoff_hz(track: &Track, stated: Option<f64>) -> Option<f64> {
    let rate = track.timeline.rate_hz()?;
    if let Some(stated) = stated {
        return (stated > 0.0 && stated < rate / 2.0).then_some(stated);
    }
    let layer = track.main_layer()?;
    let rule = ResidualRule {
        step_hz: STEP_HZ,
        ..ResidualRule::default()
    };
    let joints = [Joint::Elbow(Side::Left), Joint::Elbow(Side::Right)];
    let coordinates: Vec<(usize, usize)> = joints
        .iter()
        .filter_map(|joint| track.column(*joint))
        .flat_map(|joint| [(joint, 0), (joint, 1)])
        .collect();
    let chosen: Vec<f64> = coordinates
        .into_par_iter()
        .filter_map(|(joint, axis)| {
            let run = longest_run(&layer.column(joint, axis));
            let found = residual_analysis(&run, rate, &rule).ok()?;
            let low = run.iter().copied().reduce(f64::min)?;
            let high = run.iter().copied().reduce(f64::max)?;
            // Without noise there is nothing to take out, and every cut-off takes out movement.
            let clean = found.white_sd < CLEAN_SHARE * (high - low);
            Some(if clean {
                rule.high_hz.min(rate / 4.0)
            } else {
                found.cutoff_hz
            })
        })
        .collect();
    // A high one, so that the faster arm is not flattened to suit a hanging one.
    crate::geom::quantile(chosen, 0.75)
}

/// Filters both layers in place; stretches too short for the filter are left as they are.
pub fn low_pass(track: &mut Track, cutoff_hz: f64) {
    let Some(rate) = track.timeline.rate_hz() else {
        return;
    };
    for layer in [track.picture.as_mut(), track.space.as_mut()]
        .into_iter()
        .flatten()
    {
        layer.each_joint(|_, course| match course.dimensions() {
            2 => filter_joint::<2>(course, cutoff_hz, rate),
            _ => filter_joint::<3>(course, cutoff_hz, rate),
        });
    }
}

/// Filters the coordinates of a joint side by side.
fn filter_joint<const N: usize>(course: &mut Course, cutoff_hz: f64, rate_hz: f64) {
    for run in course.runs() {
        let points = course.points::<N>(run.clone());
        if let Ok(smooth) = zero_phase_lowpass_lanes(&points, [cutoff_hz; N], rate_hz) {
            course.replace(run.start, &smooth);
        }
    }
}
