//! Signals from one picture.

use super::blade::keeps_length;
use super::calibrate::{Rulers, trunk_ruler};
use super::collar::{resting_girdle, seen_collar};
use super::lengths::{Lengths, PicturePoses};
use super::lens::Lens;
use super::lift::{CollarFrom, PicturePose, Turn};
use super::pose::{PointErrors, Role, TrunkPlan, Upper};
use super::poses::{Courses, Poses};
use super::series::{assemble, within_half_a_turn};
use super::spread::{Pose, sampled_spreads, spread};
use super::turn::trunk_turn;
use super::view::{self, ViewEstimate};
use super::world::observed;
use super::{Assumptions, Kinematics, Noise, Request, Signal, Signals, Spread, reason};
use crate::body::Side;
use crate::geom::median;
use crate::note::Note;
use crate::reading::Why;
use crate::session::Space;
use crate::track::{Layer, Track};
use nalgebra::Vector2;
use rayon::prelude::*;

/// Share of a direction that must lie in the picture for a signal to be read from it (53 degrees; stated
/// choice: beyond it a pixel of noise counts more than 1.25 times).
pub(super) const IN_PICTURE: f64 = 0.8;

/// Least share of the forward direction in the picture for the plane of elevation (30 degrees of turn from
/// front or back; stated choice, see the simulations in the tests).
const LEAST_SIDE_ON: f64 = 0.5;

/// Half a window of the trunk ruler, seconds (stated choice: longer than half a slow repetition).
const RULER_HALF_WINDOW_S: f64 = 3.0;

/// How far people depart from the exercise's plane when the sign of the elbow's depth is settled by it,
/// degrees: two standard deviations between people (Henninger 2020, SD about 8) and a planted fault.
const PLANE_DOUBT_DEG: f64 = 30.0;

/// Measures every signal from a picture layer.
pub fn measure(
    track: &Track,
    layer: &Layer,
    plan: TrunkPlan,
    noise: &Noise,
    assumptions: &Assumptions,
    request: &Request,
) -> Kinematics {
    let columns = Role::ALL.map(|role| track.column(role.joint(request.side)));
    let mut poses = PicturePoses {
        layer,
        columns,
        every: blank_pose(plan, request, assumptions),
        lengths: None,
        hints: (1, Vec::new()),
    };

    let lengths = poses.map(|pose| {
        let (lower, upper) = pose.trunk_line()?;
        Some((upper - lower).norm())
    });
    let half = (track.timeline.rate_hz().unwrap_or(30.0) * RULER_HALF_WINDOW_S).ceil() as usize;
    let trunk_px = trunk_ruler(&lengths, half);
    let view = view::from_picture(track, layer, &trunk_px, assumptions, request.stated_view);

    let mut notes = Vec::new();
    let (Some(view), Some(typical_px)) = (view, median(trunk_px.iter().copied().flatten())) else {
        return super::unseen(track, request.side, noise);
    };
    let lens = Lens::of(track, layer, typical_px, assumptions, &mut notes);
    // A shoulder nearer to the phone than the trunk is seen larger, and so is the hanging arm.
    let outward = match request.side {
        Side::Right => view.sin(),
        Side::Left => -view.sin(),
    };
    let nearer = outward * assumptions.shoulder_width.value * typical_px / 2.0;
    let magnified = 1.0 / (1.0 - nearer / lens.focal.value);
    let rulers = Rulers::of(&poses, &trunk_px, assumptions, request.side, magnified);
    let (sign, guessed) = elbow_sign(&view, request);
    let px_per_m = typical_px / assumptions.trunk_m;
    let random = columns.map(|column| {
        column
            .and_then(|column| noise.picture.get(column))
            .map_or(Vector2::zeros(), |sd| Vector2::from(*sd))
    });
    let systematic = Role::ALL.map(|role| {
        let metres = match role {
            Role::HipLeft | Role::HipRight | Role::MidHip => assumptions.hip_m,
            Role::ShoulderLeft | Role::ShoulderRight | Role::Neck => assumptions.shoulder_m,
            Role::Elbow | Role::Wrist => assumptions.limb_m,
            Role::Acromion => assumptions
                .skin_marker_m
                .hypot(assumptions.acromion_unseen_m),
            role if role.is_on_blade() => assumptions.blade.dot_m,
            _ => assumptions.skin_marker_m,
        };
        Vector2::repeat(px_per_m * metres)
    });
    let errors = PointErrors { random, systematic };
    poses.every.girdle = Role::girdle(track, request.side);
    let collar = seen_collar(&mut poses, track, &view, assumptions, request.side);
    let collar_rest = resting_girdle(&poses, request.side);
    poses.every.lens = lens;
    poses.every.yaw = Turn::of(view.yaw_deg);
    poses.every.elbow_depth_sign = sign;
    poses.every.elbow_sign_guessed = guessed;
    poses.lengths = Some(Lengths {
        trunk_px: &trunk_px,
        typical_px,
        upper_arm: rulers.upper_arm,
        forearm: rulers.forearm,
        shoulder_width: assumptions.shoulder_width,
        collar_rest,
        collar,
    });

    if request.keeps_plane {
        poses.every.wanted = Signals::that(|signal| signal == Signal::Plane);
        poses.hints = plane_hints(&poses, &errors, track.timeline.rate_hz().unwrap_or(30.0));
    }
    let hidden = |signal: Signal| hidden(signal, &view, plan);
    poses.every.wanted = Signals::that(|signal| hidden(signal).is_none());
    let courses = Courses::of(&poses);
    let (spreads, pulls) = sampled_spreads(&poses, &courses, &errors, track.timeline.rate_hz());
    let rigid = blade_is_rigid(&poses, &courses, assumptions.blade.dot_m * px_per_m);
    let mut series = assemble(courses, &spreads);
    for signal in Signal::ALL
        .into_iter()
        .filter(|signal| signal.is_circular())
    {
        if let Some(Some(series)) = series.get_mut(signal.index()) {
            let centre = if signal == Signal::Plane {
                request.aim_plane_deg
            } else {
                0.0
            };
            within_half_a_turn(series, centre);
        }
    }
    let turn = trunk_turn(
        track,
        layer,
        &trunk_px,
        &view,
        noise,
        assumptions,
        request.side,
    );
    let signals = Signal::ALL
        .iter()
        .zip(series)
        .map(|(signal, series)| match (signal, hidden(*signal)) {
            (Signal::TrunkTurn, _) => turn.clone(),
            (_, Some(why))
                if !matches!(
                    reason(track, request.side, *signal),
                    Why::NoScapularLandmark
                ) =>
            {
                Err(why)
            }
            (Signal::Tilt | Signal::InternalRotation, _) if series.is_some() => {
                Err(Why::SingleImage)
            }
            (Signal::UpwardRotation, _)
                if series.is_some()
                    && (view.cos() > -IN_PICTURE
                        || !assumptions.blade.is_seen_in(&view, request.side)
                        || !rigid) =>
            {
                Err(Why::WrongView)
            }
            _ => series.ok_or_else(|| reason(track, request.side, *signal)),
        })
        .collect();

    notes.push(Note::new(
        "lift/used",
        format!(
            "Angles are lifted from one picture: upper arm {:.2} and forearm {:.2} of the trunk's length, \
             trunk turned {:.0} degrees to the phone (standard deviation {:.0}).",
            rulers.upper_arm.value, rulers.forearm.value, view.yaw_deg.value, view.yaw_deg.sd
        ),
    ));
    let mut kinematics = Kinematics::from_parts(
        request.side,
        track.timeline.clone(),
        Space::Image,
        signals,
        noise.correlation_s,
    );
    kinematics.view = Some(view);
    kinematics.pulls = pulls;
    if kinematics.signal(Signal::UpwardRotation).is_ok() {
        let out = assumptions.blade.internal_rotation_deg;
        notes.push(Note::new(
            "lift/blade",
            format!(
                "The spine of the scapula is lifted out of the picture: with the arm at 30 degrees the blade is taken to \
                 stand {:.0} degrees out of the frontal plane (standard deviation {:.0}).",
                out.value, out.sd
            ),
        ));
    }
    kinematics.trunk_on_shoulders = plan.upper == Upper::MidShoulder;
    kinematics.observed = observed(track, layer, request);
    kinematics.notes = notes;
    kinematics
}

/// Elevations in the middle of the arc, degrees, where the length of the arm gives its plane well.
const MIDDLE_DEG: std::ops::RangeInclusive<f64> = 50.0..=130.0;

/// How far from a frame its plane is looked for, seconds: within the same repetition.
const HINT_HALF_WINDOW_S: f64 = 2.5;

/// How much the plane wanders within a repetition, degrees (stated assumption).
const WANDER_DEG: f64 = 5.0;

/// For every so many frames, the plane in which the arm moved through the middle of the arc around them.
fn plane_hints(
    poses: &PicturePoses<'_>,
    errors: &PointErrors<2>,
    rate_hz: f64,
) -> (usize, Vec<Option<Spread>>) {
    let planes = poses.map(|pose: &PicturePose| {
        let (plane, elevation) = pose.arm_deg()?;
        MIDDLE_DEG.contains(&elevation).then_some(plane)
    });
    let half = (HINT_HALF_WINDOW_S * rate_hz).ceil() as usize;
    let step = (half / 5).max(1);
    // One spread for the clip: it is nearly all systematic.
    let middle: Vec<usize> = planes
        .iter()
        .enumerate()
        .filter(|(_, plane)| plane.is_some())
        .map(|(frame, _)| frame)
        .collect();
    let sampled = middle.par_iter().step_by((middle.len() / 12).max(1));
    let sds: Vec<f64> = sampled
        .map(|frame| {
            let (spread, _) = spread(&poses.at(*frame), errors);
            spread.systematic[Signal::Plane.index()]
        })
        .collect();
    let Some(sd) = median(sds) else {
        return (step, Vec::new());
    };
    let hint = |frame: usize| {
        let from = frame.saturating_sub(half);
        let to = (frame + half + 1).min(planes.len());
        let around = planes.get(from..to).unwrap_or(&[]);
        median(around.iter().copied().flatten()).map(|value| Spread {
            value,
            sd: sd.hypot(WANDER_DEG),
        })
    };
    let hints = (0..planes.len().div_ceil(step)).into_par_iter();
    (step, hints.map(|part| hint(part * step)).collect())
}

/// Whether the lifted spine of the scapula keeps its length through the clip.
fn blade_is_rigid(poses: &PicturePoses<'_>, courses: &Courses, slide_px: f64) -> bool {
    let Some(rotations) = courses.get(Signal::UpwardRotation) else {
        return keeps_length(&[], slide_px);
    };
    let lengths = poses.map(|pose: &PicturePose| Some(pose.posture()?.blade?.0.norm()));
    let spines: Vec<(f64, f64)> = rotations
        .iter()
        .zip(lengths)
        .filter_map(|(rotation, length)| Some((rotation?, length?)))
        .collect();
    keeps_length(&spines, slide_px)
}

/// A signal that this view cannot show.
fn hidden(signal: Signal, view: &ViewEstimate, plan: TrunkPlan) -> Option<Why> {
    let seen = match signal {
        Signal::GirdleProtraction if plan.upper == Upper::MidShoulder => {
            return Some(Why::NoTrunkTop);
        }
        Signal::GirdleProtraction | Signal::LeanBack => view.sin().abs() >= IN_PICTURE,
        Signal::LeanSide | Signal::ElbowPath => view.cos().abs() >= IN_PICTURE,
        // From front or back an error in the turn goes whole into the plane, and the turn is then least known.
        Signal::Plane => view.sin().abs() >= LEAST_SIDE_ON,
        _ => true,
    };
    (!seen).then_some(Why::WrongView)
}

/// Sign of the elbow's depth against the shoulder's from the exercise's plane and the view, and whether it
/// is only a guess because the arm may lie near the image plane.
fn elbow_sign(view: &ViewEstimate, request: &Request) -> (f64, bool) {
    let yaw = match request.side {
        Side::Right => view.yaw_deg.value,
        Side::Left => -view.yaw_deg.value,
    };
    let toward = |plane_deg: f64| (plane_deg + yaw).to_radians().sin();
    let middle = toward(request.aim_plane_deg);
    let sign = if middle >= 0.0 { 1.0 } else { -1.0 };
    let settled = [-PLANE_DOUBT_DEG, PLANE_DOUBT_DEG]
        .iter()
        .all(|doubt| toward(request.aim_plane_deg + doubt) * sign > 0.0);
    (sign, !(settled && view.sign_known))
}

fn blank_pose(plan: TrunkPlan, request: &Request, assumptions: &Assumptions) -> PicturePose {
    let nothing = Spread {
        value: 0.0,
        sd: 0.0,
    };
    PicturePose {
        side: request.side,
        plan,
        points: [None; Role::COUNT],
        lens: Lens {
            centre: Vector2::zeros(),
            centre_sd: 0.0,
            focal: Spread {
                value: 1.0,
                sd: 0.0,
            },
        },
        upper_arm: nothing,
        forearm: nothing,
        half_shoulder: nothing,
        yaw: Turn::of(nothing),
        unseen_lean: Turn::of(Spread {
            value: 0.0,
            sd: assumptions.unseen_lean_sd_deg,
        }),
        elbow_depth_sign: 1.0,
        elbow_sign_guessed: true,
        plane_hint: None,
        forearm_rule: request.forearm,
        girdle: Role::shoulder(request.side),
        collar: CollarFrom::Trunk(assumptions.sternal_end),
        collar_rest: None,
        blade: assumptions.blade,
        wanted: Signals::ALL,
    }
}
