//! How fast and how smoothly.

use super::{Card, Measure, Outcome, RepContext};
use crate::dsp::sparc::sparc;
use crate::kinematics::Signal;
use crate::models;
use crate::reading::{Basis, Estimate, Why};

/// Times of the phases and their smoothness.
pub struct Tempo;

const CARDS: [Card; 5] = [
    Card {
        id: "raise-time",
        title: "Time of the way out",
        unit: "s",
        definition: "From where the motion starts to where the hold begins (speed above 5 % of the fastest).",
        not_measurable_when: "no frame rate is known; the repetition is incomplete",
        source: "definition of the product",
    },
    Card {
        id: "hold-time",
        title: "Time of the hold",
        unit: "s",
        definition: "From the end of the way out to the start of the way back.",
        not_measurable_when: "no frame rate is known; the repetition is incomplete",
        source: "definition of the product",
    },
    Card {
        id: "lower-time",
        title: "Time of the way back",
        unit: "s",
        definition: "From where the hold ends to where the motion ends.",
        not_measurable_when: "no frame rate is known; the repetition is incomplete",
        source: "definition of the product",
    },
    Card {
        id: "smoothness-raise",
        title: "Smoothness of the way out (SPARC)",
        unit: "1",
        definition: "Spectral arc length of the speed of the repetition's signal on the way out; nearer to 0 is \
                     smoother, about -1.4 is one smooth movement.",
        not_measurable_when: "no frame rate is known; fewer than 4 frames",
        source: "Balasubramanian et al. 2012, 2015",
    },
    Card {
        id: "smoothness-lower",
        title: "Smoothness of the way back (SPARC)",
        unit: "1",
        definition: "As the smoothness of the way out, on the way back.",
        not_measurable_when: "no frame rate is known; fewer than 4 frames",
        source: "Balasubramanian et al. 2012, 2015",
    },
];

/// Frames by which a boundary may be off without noise, standard deviation: the boundary test of this
/// project asks for 2 frames at most.
const BOUNDARY_SD_FRAMES: f64 = 1.0;

/// Spread of SPARC from noise of the keypoints (stated assumption, to be replaced by a measurement).
const SPARC_SD: f64 = 0.15;

impl Measure for Tempo {
    fn cards(&self) -> &'static [Card] {
        &CARDS
    }

    fn of(&self, id: &str, cx: &RepContext<'_>) -> Result<Outcome, Why> {
        if cx.rep.incomplete.is_some() {
            return Err(Why::IncompleteRepetition);
        }
        let rep = cx.rep;
        let (from, to) = match id {
            "raise-time" | "smoothness-raise" => (rep.start, rep.hold_start),
            "hold-time" => (rep.hold_start, rep.hold_end),
            _ => (rep.hold_end, rep.end),
        };
        let seconds = cx.seconds(from, to)?;
        let observed = cx.observed(from, to);
        if !id.starts_with("smoothness") {
            let sd = boundary_sd_s(cx)? * std::f64::consts::SQRT_2;
            let mut estimate = Estimate::with_sd(seconds, sd, observed, Basis::Direct);
            estimate.low = estimate.low.max(0.0);
            return Ok(Outcome::measured(estimate, sd, (from + to) / 2));
        }
        let signal = repetition_signal(cx);
        let series = cx.signal(signal)?;
        let values: Option<Vec<f64>> = (from..=to).map(|frame| series.at(frame)).collect();
        let values = values.ok_or(Why::TooFewFrames)?;
        let step = cx.step_s();
        let speed: Vec<f64> = values
            .windows(2)
            .map(|w| ((w[1] - w[0]) / step).abs())
            .collect();
        let value = sparc(&speed, 1.0 / step).ok_or(Why::TooFewFrames)?;
        let estimate = Estimate::with_sd(value, SPARC_SD, observed, Basis::Direct);
        Ok(Outcome::measured(estimate, SPARC_SD, (from + to) / 2))
    }
}

fn repetition_signal(cx: &RepContext<'_>) -> Signal {
    match cx.exercise.repetition.signal {
        models::Signal::Elevation => Signal::Elevation,
        models::Signal::ElbowFlexion => Signal::ElbowFlexion,
        models::Signal::HumeralRotation => Signal::HumeralRotation,
    }
}

/// Share of the hidden time by which a boundary is off on average: it is found when the speed, not the place,
/// comes out of the noise (seen in simulation).
const NOTICED: f64 = 0.5;

/// Standard deviation of a boundary, seconds.
///
/// A movement starts like the cube of time: of a minimum-jerk movement (Flash and Hogan 1985, from memory)
/// of excursion A and time T the first part is 10 A (t/T)^3. Noise of standard deviation s hides it until
/// t = T (s / (10 A))^(1/3). So does a view that shows one part of the movement worse than another: its constant
/// error then changes along the way, and a stretch of the movement looks like rest.
fn boundary_sd_s(cx: &RepContext<'_>) -> Result<f64, Why> {
    let rep = cx.rep;
    let series = cx.signal(repetition_signal(cx))?;
    let (noise, _) = series.sd_at(rep.start);
    let seen = || (rep.start..=rep.end).filter(|frame| series.at(*frame).is_some());
    let constant = || seen().map(|frame| series.sd_at(frame).1);
    let bent = constant().fold(0.0, f64::max) - constant().fold(f64::INFINITY, f64::min);
    let excursion = match (series.at(rep.peak), series.at(rep.start)) {
        (Some(peak), Some(start)) => (peak - start).abs().max(1.0),
        _ => return Err(Why::TooFewFrames),
    };
    let whole = cx.seconds(rep.start, rep.end)? / 2.0;
    let hidden = noise.hypot(bent) / (10.0 * excursion);
    Ok((BOUNDARY_SD_FRAMES * cx.step_s()).hypot(NOTICED * whole * hidden.cbrt()))
}
