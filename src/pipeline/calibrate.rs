//! The linkage of this person, from two inclinometer readings of the blade and the girdle of the clip.
//!
//! Between the two elevations of the readings the blade turned so many degrees and the girdle of this clip rose
//! so many: their ratio takes the place of that of people in general. The error of the inclinometer, of the
//! girdle and of the time between both is carried.

use super::Ask;
use super::assume::{aim_plane_deg, linkage};
use crate::geom::median;
use crate::kinematics::{Kinematics, Linkage, Series, Signal, Spread};
use crate::models::{Exercise, Landmarks, Models};
use crate::note::Note;
use crate::plan::InclinometerReading;
use crate::reps::RepSpan;

/// Least rise of the girdle and least turn of the blade that a ratio can rest on, degrees (stated choice: the
/// error of one girdle reading, and of the inclinometer).
const LEAST_RISE_DEG: f64 = 3.0;
const LEAST_TURN_DEG: f64 = 5.0;

/// Largest standard deviation of a ratio that still says something about the person, as a share (stated
/// choice: that of people in general is some 0.4).
const WIDEST: f64 = 0.4;

/// Share of the systematic error of the girdle that a change keeps: both ends share most of it (stated
/// assumption, as in the measures of the girdle).
const CHANGE_KEEPS: f64 = 0.3;

/// The linkage for a clip, and what is to be said about a calibration.
pub(super) fn linkage_of(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    exercise: &Exercise,
    models: &Models,
    ask: &Ask,
) -> (Linkage, Option<Note>) {
    let usual = linkage(models, aim_plane_deg(exercise));
    let Some(readings) = ask.calibration else {
        return (usual, None);
    };
    if kinematics.signal(Signal::UpwardRotation).is_ok() {
        let text = "The track has points on the blade: the inclinometer readings of the plan are not needed.";
        return (usual, Some(Note::new("calibration/not-needed", text)));
    }
    match rise_per_rotation(kinematics, spans, &readings, models) {
        Ok((rise_per_rotation, rise_deg)) => {
            let [low, high] = readings;
            let text = format!(
                "The rhythm is scaled to two inclinometer readings ({} degrees of upward rotation at {} of \
                 elevation, {} at {}): between them the girdle rose {rise_deg:.1} degrees in this clip, {:.2} for \
                 each degree of the blade (standard deviation {:.0} %).",
                low.upward_rotation_deg,
                low.elevation_deg,
                high.upward_rotation_deg,
                high.elevation_deg,
                rise_per_rotation.value,
                100.0 * rise_per_rotation.sd / rise_per_rotation.value,
            );
            let own = Linkage {
                rise_per_rotation,
                calibrated: true,
                ..usual
            };
            (own, Some(Note::new("calibration/used", text)))
        }
        Err(why) => {
            let text = format!("The inclinometer readings of the plan could not be used: {why}.");
            (usual, Some(Note::new("calibration/not-used", text)))
        }
    }
}

/// Rise of the girdle for each degree of the blade, and the rise itself in degrees.
fn rise_per_rotation(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    readings: &[InclinometerReading; 2],
    models: &Models,
) -> Result<(Spread, f64), String> {
    let [low, high] = readings;
    let elevation = kinematics
        .signal(Signal::Elevation)
        .map_err(|why| why.text().to_string())?;
    let girdle = kinematics
        .signal(Signal::GirdleElevation)
        .map_err(|why| why.text().to_string())?;
    let mut rises = Vec::new();
    let (mut random, mut systematic) = (0.0_f64, 0.0_f64);
    for span in spans.iter().filter(|span| span.incomplete.is_none()) {
        let (Some(start), Some(end)) = (
            passes(elevation, span, low.elevation_deg),
            passes(elevation, span, high.elevation_deg),
        ) else {
            continue;
        };
        if let (Some(before), Some(after), true) = (girdle.at(start), girdle.at(end), end > start) {
            rises.push(after - before);
            let (noise, constant) = girdle.sd_at(end);
            random = random.max(noise);
            systematic = systematic.max(constant);
        }
    }
    let rise = median(rises.iter().copied()).ok_or_else(|| {
        format!(
            "no repetition passes {} degrees of elevation",
            high.elevation_deg
        )
    })?;
    let turn = high.upward_rotation_deg - low.upward_rotation_deg;
    if turn < LEAST_TURN_DEG {
        return Err(format!(
            "they are only {turn:.1} degrees of upward rotation apart"
        ));
    }
    if rise < LEAST_RISE_DEG {
        return Err(format!(
            "the girdle rose only {rise:.1} degrees between them"
        ));
    }
    let scatter = median(rises.iter().map(|one| (one - rise).abs())).unwrap_or(0.0) * 1.4826;
    let rise_sd = (scatter.max(std::f64::consts::SQRT_2 * random) / (rises.len() as f64).sqrt())
        .hypot(CHANGE_KEEPS * systematic);
    let turn_sd = reading_sd(low, &models.landmarks).hypot(reading_sd(high, &models.landmarks));
    let share = (rise_sd / rise)
        .hypot(turn_sd / turn)
        .hypot(models.linkage.calibration_sd_of_whole.value);
    if share > WIDEST {
        return Err(format!(
            "their error and that of the girdle make the linkage uncertain by {:.0} %",
            100.0 * share
        ));
    }
    let value = rise / turn;
    let sd = share * value;
    Ok((Spread { value, sd }, rise))
}

/// Frame of the way out at which the arm passes an elevation; the start where it begins above it.
fn passes(elevation: &Series, span: &RepSpan, deg: f64) -> Option<usize> {
    (span.start..=span.peak).find(|frame| elevation.at(*frame).is_some_and(|at| at >= deg))
}

/// Published error of an inclinometer at that elevation, degrees: between the elevations it was published for,
/// the nearest.
fn reading_sd(reading: &InclinometerReading, landmarks: &Landmarks) -> f64 {
    match reading.elevation_deg {
        low if low < 45.0 => landmarks.inclinometer_rest_sd_deg.value,
        middle if middle < 105.0 => landmarks.inclinometer_raised_sd_deg.value,
        _ => landmarks.inclinometer_high_sd_deg.value,
    }
}
