//! Zero-phase low-pass of every coordinate, its cut-off chosen by residual analysis.

use crate::body::{Joint, Side};
use crate::dsp::residual::{ResidualRule, residual_analysis};
use crate::dsp::zero_phase::zero_phase_lowpass;
use crate::track::{Layer, Track};

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
    let chosen = joints
        .iter()
        .filter_map(|joint| track.column(*joint))
        .flat_map(|joint| {
            (0..2).filter_map(move |axis| {
                let column = layer.column(joint, axis);
                let run: Vec<f64> = column
                    .split(Option::is_none)
                    .max_by_key(|run| run.len())?
                    .iter()
                    .copied()
                    .flatten()
                    .collect();
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
        });
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
        for joint in 0..layer.joints() {
            filter_joint(layer, joint, cutoff_hz, rate);
        }
    }
}

fn filter_joint(layer: &mut Layer, joint: usize, cutoff_hz: f64, rate_hz: f64) {
    let columns: Vec<Vec<Option<f64>>> = (0..layer.dimensions())
        .map(|axis| layer.column(joint, axis))
        .collect();
    let Some(first) = columns.first() else { return };
    let mut from = 0;
    while from < first.len() {
        let len = first
            .iter()
            .skip(from)
            .take_while(|value| value.is_some())
            .count();
        if len == 0 {
            from += 1;
            continue;
        }
        let filtered: Option<Vec<Vec<f64>>> = columns
            .iter()
            .map(|column| {
                let run: Vec<f64> = column
                    .iter()
                    .skip(from)
                    .take(len)
                    .copied()
                    .flatten()
                    .collect();
                zero_phase_lowpass(&run, cutoff_hz, rate_hz).ok()
            })
            .collect();
        if let Some(axes) = filtered {
            for step in 0..len {
                let frame = from + step;
                let at: Option<Vec<f64>> =
                    axes.iter().map(|axis| axis.get(step).copied()).collect();
                if let (Some(at), Some(score)) = (at, layer.score(frame, joint)) {
                    let presence = layer.presence(frame, joint);
                    layer.set(frame, joint, &at, score, presence);
                }
            }
        }
        from += len;
    }
}
