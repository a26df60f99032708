//! The way of the data, in order. Read this file first.

use crate::body::{Joint, Side, ViewName};
use crate::condition::{Conditioned, condition};
use crate::geom::{median, quantile};
use crate::judge::{self, drift, finding, overall};
use crate::kinematics::{
    Assumptions, ForearmRule, Kinematics, Linkage, Request, Signal, Spread, kinematics,
};
use crate::measures::{self, Outcome, RepContext};
use crate::models::{self, Exercise, Landmarks, Limit, Models, Parameter};
use crate::note::Note;
use crate::reading::{Reading, Why};
use crate::reps::{RepSpan, assign_sets, find};
use crate::session::Space;
use crate::session::{
    Clip, Compare, FORMAT, Figure, Judged, Margin, Program, ReadingRow, Reason, Rep, Review,
    Session, Set, Traces, Unseen, Verdict, View,
};
use crate::track::Track;
use std::collections::BTreeMap;

/// What a reader knows about the file, for the result.
#[derive(Debug, Clone, PartialEq)]
pub struct Provenance {
    /// Name of the file or folder.
    pub source: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Reader id.
    pub reader: String,
    /// Notes of reading.
    pub notes: Vec<Note>,
}

/// What the user asks for.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ask {
    /// Side; `None` takes the side whose arm moves more.
    pub side: Option<Side>,
    /// Stated view.
    pub view: Option<ViewName>,
    /// Stated cut-off, hertz.
    pub cutoff_hz: Option<f64>,
}

/// Reviews one track: condition, measure angles, find repetitions, measure and judge each, look for drift.
pub fn review(
    track: Track,
    provenance: &Provenance,
    exercise: &Exercise,
    models: &Models,
    ask: &Ask,
) -> Review {
    let person = track.person.clone();
    let conditioned = condition(track, ask.cutoff_hz);
    let side = ask.side.unwrap_or_else(|| moving_side(&conditioned.track));
    let kinematics = angles(&conditioned, exercise, models, side, ask.view);
    let spans = repetitions(&kinematics, exercise);
    let measured = measure_all(&kinematics, &spans, exercise, models);
    let reps = judge_all(&kinematics, &spans, &measured, exercise, models);
    let sets = drift_of_sets(&spans, &measured, &reps, exercise);
    let unseen = what_was_not_seen(kinematics.space, &measured, exercise, models);

    let mut notes = provenance.notes.clone();
    notes.extend(conditioned.notes.iter().cloned());
    notes.extend(kinematics.notes.iter().cloned());
    notes.extend(repetition_notes(&kinematics, &spans, exercise));
    let session = Session {
        format: FORMAT.to_string(),
        program: Program {
            name: "scaplane".into(),
            version: env!("CARGO_PKG_VERSION").into(),
        },
        clip: clip(&conditioned, &kinematics, provenance, person),
        exercise: exercise.id.clone(),
        side,
        notes,
        reps,
        sets,
        unseen,
        compare: Compare::default(),
        cautions: CAUTIONS.iter().map(|text| (*text).to_string()).collect(),
    };
    Review {
        traces: traces(&conditioned.track, &kinematics),
        session,
    }
}

/// Cautions shown with every result.
pub const CAUTIONS: [&str; 4] = [
    "This measures movement from video. It is no diagnosis and no medical device.",
    "The surgeon's and the therapist's protocol comes first; limits are defaults that the treating \
     clinician may change.",
    "Stop on sharp or rising pain, numbness or a new loss of strength, and call the clinic.",
    "Cannot tell is an answer: what the page could not see is listed with the reason.",
];

fn spread(parameter: &Parameter) -> Spread {
    Spread {
        value: parameter.value,
        sd: parameter.sd.unwrap_or(0.0),
    }
}

/// Assumptions of the kinematics from the data files.
pub fn assumptions(landmarks: &Landmarks) -> Assumptions {
    let metres = |parameter: &Parameter| parameter.value / 1000.0;
    Assumptions {
        shoulder_m: metres(&landmarks.shoulder_sd_mm),
        limb_m: metres(&landmarks.elbow_sd_mm),
        hip_m: metres(&landmarks.hip_sd_mm),
        skin_marker_m: metres(&landmarks.thorax_skin_sd_mm),
        depth_m: metres(&landmarks.world_depth_sd_mm),
        trunk_m: landmarks.trunk_length_m.value,
        shoulder_width: spread(&landmarks.shoulder_width_per_trunk),
        hip_width: spread(&landmarks.hip_width_per_trunk),
        upper_arm: spread(&landmarks.upper_arm_per_trunk),
        forearm: spread(&landmarks.forearm_per_trunk),
        // Sternal end about 2.5 cm and shoulder centre about 19 cm from the midline; from memory, not verified.
        sternal_end: 0.13,
        focal: spread(&landmarks.focal_per_long_side),
        // Phones are put up about this far away so that the whole body is in the picture; common practice.
        distance_m: Spread {
            value: 2.7,
            sd: 0.6,
        },
        unseen_lean_sd_deg: landmarks.camera_pitch_sd_deg.value,
        stated_view_sd_deg: landmarks.declared_view_yaw_sd_deg.value,
    }
}

/// The linkage of the rhythm by proxy in the exercise's plane.
pub fn linkage(models: &Models, aim_plane_deg: f64) -> Linkage {
    let scaption = models.linkage.scaption_plane_deg.value;
    let (value, sd) = models
        .linkage
        .clavicle_rise_per_upward_rotation
        .at(aim_plane_deg.clamp(0.0, 90.0), scaption);
    Linkage {
        rise_per_rotation: Spread { value, sd },
    }
}

/// Plane in which the exercise raises the arm; presses and rows work in front of the body.
fn aim_plane_deg(exercise: &Exercise) -> f64 {
    exercise.plane.as_ref().map_or(60.0, |plane| plane.aim_deg)
}

/// The side whose elbow travels more along the body.
fn moving_side(track: &Track) -> Side {
    let travel = |side: Side| -> f64 {
        let (Some(layer), Some(elbow)) = (track.main_layer(), track.column(Joint::Elbow(side)))
        else {
            return 0.0;
        };
        (0..layer.dimensions())
            .map(|axis| {
                let values = || layer.column(elbow, axis).into_iter().flatten();
                match (quantile(values(), 0.95), quantile(values(), 0.05)) {
                    (Some(high), Some(low)) => high - low,
                    _ => 0.0,
                }
            })
            .sum()
    };
    if travel(Side::Left) > travel(Side::Right) {
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

fn angles(
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
        &assumptions(&models.landmarks),
        &request,
    )
}

fn repetition_signal(exercise: &Exercise) -> Signal {
    match exercise.repetition.signal {
        models::Signal::Elevation => Signal::Elevation,
        models::Signal::ElbowFlexion => Signal::ElbowFlexion,
        models::Signal::HumeralRotation => Signal::HumeralRotation,
    }
}

/// Standard deviations of frame-to-frame noise that a repetition must exceed (common practice: 3).
const OUT_OF_NOISE: f64 = 3.0;

fn repetitions(kinematics: &Kinematics, exercise: &Exercise) -> Vec<RepSpan> {
    let Ok(series) = kinematics.signal(repetition_signal(exercise)) else {
        return Vec::new();
    };
    let Some(rate) = kinematics.timeline.rate_hz() else {
        return Vec::new();
    };
    let mut spans = find(&series.value, rate, &exercise.repetition);
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

/// Outcomes of one repetition by measure id.
type Outcomes = BTreeMap<String, Outcome>;

fn measure_all(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Outcomes> {
    let aim = aim_plane_deg(exercise);
    let linkage = linkage(models, aim);
    let plane_band = exercise
        .limit("plane-deviation")
        .and_then(|limit| Some((limit.low?, limit.high?)));
    spans
        .iter()
        .map(|rep| {
            let set_start = spans
                .iter()
                .find(|other| other.set == rep.set)
                .map_or(rep.start, |first| first.start);
            let cx = RepContext {
                kinematics,
                rep,
                set_start,
                exercise,
                linkage: &linkage,
                plane_band,
                aim_plane_deg: aim,
            };
            exercise
                .measures()
                .into_iter()
                .map(|id| (id.to_string(), measures::measure(id, &cx)))
                .collect()
        })
        .collect()
}

fn judge_all(
    kinematics: &Kinematics,
    spans: &[RepSpan],
    measured: &[Outcomes],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Rep> {
    let time = |frame: usize| {
        kinematics
            .timeline
            .time_s(frame)
            .filter(|_| kinematics.timeline.knows_seconds())
    };
    spans
        .iter()
        .zip(measured)
        .zip(1..)
        .map(|((span, outcomes), number)| {
            let judged: Vec<(&Limit, &Outcome)> = exercise
                .limits
                .iter()
                .filter_map(|limit| Some((limit, outcomes.get(&limit.measure)?)))
                .collect();
            let verdicts: Vec<(Verdict, bool)> = judged
                .iter()
                .map(|(limit, outcome)| (judge::judge(&outcome.reading, limit), limit.key))
                .collect();
            let mut findings: Vec<_> = judged
                .iter()
                .filter_map(|(limit, outcome)| {
                    let source = models
                        .source(&limit.source)
                        .map_or(limit.source.as_str(), |s| s.citation.as_str());
                    finding(outcome, limit, source, time)
                })
                .collect();
            findings.sort_by_key(|found| match found.verdict {
                Verdict::Outside => 0,
                Verdict::Near => 1,
                _ => 2,
            });
            let measurable = verdicts
                .iter()
                .filter(|(verdict, _)| *verdict != Verdict::CannotTell)
                .count();
            Rep {
                number,
                set: span.set,
                start_frame: span.start as u64,
                peak_frame: span.peak as u64,
                end_frame: span.end as u64,
                start_s: time(span.start),
                peak_s: time(span.peak),
                end_s: time(span.end),
                complete: span.incomplete.is_none(),
                incomplete_because: span.incomplete.map(|because| because.words().to_string()),
                verdict: overall(&verdicts),
                judged: Judged {
                    measurable: measurable as u32,
                    of: verdicts.len() as u32,
                },
                readings: outcomes
                    .iter()
                    .map(|(id, outcome)| {
                        let unit = measures::card(id).map_or("", |card| card.unit);
                        (id.clone(), ReadingRow::of(&outcome.reading, unit))
                    })
                    .collect(),
                findings,
            }
        })
        .collect()
}

fn drift_of_sets(
    spans: &[RepSpan],
    measured: &[Outcomes],
    reps: &[Rep],
    exercise: &Exercise,
) -> Vec<Set> {
    let last = spans.iter().map(|span| span.set).max().unwrap_or(0);
    (1..=last)
        .map(|number| {
            let members: Vec<usize> = spans
                .iter()
                .enumerate()
                .filter(|(_, span)| span.set == number)
                .map(|(index, _)| index)
                .collect();
            let series = exercise
                .limits
                .iter()
                .map(|limit| {
                    let mut margins = Vec::new();
                    let mut repeat_sd = Vec::new();
                    for index in &members {
                        let complete = spans
                            .get(*index)
                            .is_some_and(|span| span.incomplete.is_none());
                        let outcome = measured.get(*index).and_then(|all| all.get(&limit.measure));
                        if let Some((outcome, e)) = outcome
                            .and_then(|o| Some((o, o.reading.estimate()?)))
                            .filter(|_| complete)
                        {
                            let ends = [limit.margin(e.low), limit.margin(e.high)];
                            let middle = limit.margin(e.value);
                            margins.push(Margin {
                                rep: *index as u32 + 1,
                                margin: middle,
                                low: ends.iter().copied().fold(middle, f64::min),
                                high: ends.iter().copied().fold(middle, f64::max),
                            });
                            repeat_sd.push(outcome.repeat_sd);
                        }
                    }
                    judge::Series {
                        measure: limit.measure.clone(),
                        title: measures::card(&limit.measure)
                            .map_or(limit.measure.clone(), |card| card.title.to_string()),
                        unit: limit.unit.symbol().to_string(),
                        margins,
                        repeat_sd,
                        first_outside_rep: members
                            .iter()
                            .filter_map(|index| reps.get(*index))
                            .find(|rep| {
                                rep.findings.iter().any(|found| {
                                    found.measure == limit.measure
                                        && found.verdict == Verdict::Outside
                                })
                            })
                            .map(|rep| rep.number),
                    }
                })
                .collect();
            Set {
                number,
                reps: members.iter().map(|index| *index as u32 + 1).collect(),
                drift: drift(series),
            }
        })
        .collect()
}

fn what_was_not_seen(
    space: Space,
    measured: &[Outcomes],
    exercise: &Exercise,
    models: &Models,
) -> Vec<Unseen> {
    // In one picture it is the view that makes an interval wide; in space another view would not help.
    let too_wide = match space {
        Space::Image => Why::IllConditioned,
        Space::World => Why::BeyondTrust,
    };
    exercise
        .limits
        .iter()
        .filter_map(|limit| {
            let mut reasons: BTreeMap<Why, u32> = BTreeMap::new();
            let mut measurable = 0;
            for outcomes in measured {
                let outcome = outcomes.get(&limit.measure)?;
                match (judge::judge(&outcome.reading, limit), &outcome.reading) {
                    (Verdict::CannotTell, Reading::NotMeasurable(why)) => {
                        *reasons.entry(*why).or_default() += 1;
                    }
                    (Verdict::CannotTell, _) => {
                        *reasons.entry(too_wide).or_default() += 1;
                    }
                    _ => measurable += 1,
                }
            }
            let (why, _) = reasons.into_iter().max_by_key(|(_, count)| *count)?;
            let remedy = match why {
                Why::WrongView
                | Why::IllConditioned
                | Why::SingleImage
                | Why::ArmAlongSightLine => exercise.views.placement.clone(),
                _ => models
                    .explain(why.code())
                    .map_or(String::new(), |explanation| explanation.remedy.clone()),
            };
            Some(Unseen {
                measure: limit.measure.clone(),
                title: measures::card(&limit.measure)
                    .map_or(limit.measure.clone(), |card| card.title.to_string()),
                measurable,
                of: measured.len() as u32,
                why: Reason {
                    code: why.code().to_string(),
                    text: why.text().to_string(),
                },
                remedy,
            })
        })
        .collect()
}

fn repetition_notes(kinematics: &Kinematics, spans: &[RepSpan], exercise: &Exercise) -> Vec<Note> {
    let mut notes = Vec::new();
    match kinematics.signal(repetition_signal(exercise)) {
        Err(why) => notes.push(Note::new(
            "reps/none",
            format!(
                "No repetition can be counted: the {} cannot be measured because {}.",
                repetition_signal(exercise).id(),
                why.text()
            ),
        )),
        Ok(_) if spans.is_empty() => notes.push(Note::new(
            "reps/none",
            format!(
                "No movement of {} degrees or more was found, so there is no repetition.",
                exercise.repetition.min_excursion_deg
            ),
        )),
        Ok(_) => {}
    }
    let incomplete = spans
        .iter()
        .filter(|span| span.incomplete.is_some())
        .count();
    if incomplete > 0 {
        notes.push(Note::new(
            "reps/incomplete",
            format!(
                "{incomplete} of {} repetitions are incomplete and marked so.",
                spans.len()
            ),
        ));
    }
    notes
}

fn clip(
    conditioned: &Conditioned,
    kinematics: &Kinematics,
    provenance: &Provenance,
    person: String,
) -> Clip {
    let track = &conditioned.track;
    let known = track.timeline.knows_seconds();
    Clip {
        source: provenance.source.clone(),
        sha256: provenance.sha256.clone(),
        reader: provenance.reader.clone(),
        layout: track.layout.clone(),
        space: kinematics.space,
        frames: track.frames() as u64,
        duration_s: Some(track.timeline.duration_s()).filter(|_| known),
        rate_hz: track.timeline.rate_hz().filter(|_| known),
        timing: track.timeline.timing(),
        person,
        view: kinematics.view.map(|view| {
            let half = crate::reading::Z_95 * view.yaw_deg.sd;
            View {
                name: view.name().id().to_string(),
                yaw_deg: view.yaw_deg.value,
                low_deg: view.yaw_deg.value - half,
                high_deg: view.yaw_deg.value + half,
                stated: view.stated,
            }
        }),
        coverage: track
            .joints
            .iter()
            .map(|joint| (joint.id(), track.coverage(*joint)))
            .collect(),
        cutoff_hz: conditioned.cutoff_hz,
    }
}

/// Pairs of joints that the stick figure connects.
const BONES: [(&str, &str); 16] = [
    ("shoulder-left", "shoulder-right"),
    ("hip-left", "hip-right"),
    ("shoulder-left", "hip-left"),
    ("shoulder-right", "hip-right"),
    ("shoulder-left", "elbow-left"),
    ("elbow-left", "wrist-left"),
    ("shoulder-right", "elbow-right"),
    ("elbow-right", "wrist-right"),
    ("hip-left", "knee-left"),
    ("knee-left", "ankle-left"),
    ("hip-right", "knee-right"),
    ("knee-right", "ankle-right"),
    ("spine-root-right", "acromial-angle-right"),
    ("inferior-angle-right", "acromial-angle-right"),
    ("spine-root-left", "acromial-angle-left"),
    ("inferior-angle-left", "acromial-angle-left"),
];

fn traces(track: &Track, kinematics: &Kinematics) -> Traces {
    let mut out = Traces {
        times_s: track.timeline.times_s().to_vec(),
        ..Traces::default()
    };
    for signal in Signal::ALL {
        if let Ok(series) = kinematics.signal(signal) {
            out.signals
                .insert(signal.id().to_string(), series.value.clone());
            out.spread.insert(
                signal.id().to_string(),
                series
                    .random_sd
                    .iter()
                    .zip(&series.systematic_sd)
                    .map(|(a, b)| a.hypot(*b))
                    .collect(),
            );
            out.basis
                .insert(signal.id().to_string(), crate::reading::Basis::Direct);
        }
    }
    out.figure = figure(track);
    out
}

/// The stick figure, in the unit square with equal scale: the picture as seen, or the world seen from the
/// camera.
fn figure(track: &Track) -> Figure {
    let Some(layer) = track.picture.as_ref().or(track.space.as_ref()) else {
        return Figure::default();
    };
    let columns: Vec<usize> = (0..track.joints.len())
        .filter(|c| layer.coverage(*c) > 0.0)
        .collect();
    let values = |axis: usize| {
        columns
            .iter()
            .flat_map(move |column| layer.column(*column, axis))
            .flatten()
    };
    let range = |axis: usize| {
        Some((
            quantile(values(axis), 0.002)?,
            quantile(values(axis), 0.998)?,
        ))
    };
    let (Some((left, right)), Some((bottom, top))) = (range(0), range(1)) else {
        return Figure::default();
    };
    let scale = (right - left).max(top - bottom).max(1e-9) * 1.1;
    let centre = [(left + right) / 2.0, (bottom + top) / 2.0];
    let place = |value: f64, axis: usize| ((value - centre[axis]) / scale + 0.5) as f32;
    let joints: Vec<String> = columns
        .iter()
        .map(|column| track.joints[*column].id())
        .collect();
    let at = |id: &str| joints.iter().position(|joint| joint == id);
    Figure {
        bones: BONES
            .iter()
            .filter_map(|(a, b)| Some([at(a)?, at(b)?]))
            .collect(),
        frames: (0..layer.frames())
            .map(|frame| {
                columns
                    .iter()
                    .map(|column| {
                        layer
                            .flat(frame, *column)
                            .map(|p| [place(p.x, 0), place(p.y, 1)])
                    })
                    .collect()
            })
            .collect(),
        joints,
    }
}
