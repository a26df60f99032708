//! Signals from world coordinates.

use super::pose::{PointErrors, Rightward, Role, TrunkPlan, Upper};
use super::poses::{Courses, Poses};
use super::series::{assemble, within_half_a_turn};
use super::space::{CollarStart, RightwardFix, SpacePose, SpacePoses};
use super::spread::{Pose, sampled_spreads};
use super::view::ViewEstimate;
use super::{Assumptions, Kinematics, Noise, Request, Signal, Spread, reason};
use crate::body::{Joint, Side, ViewName};
use crate::geom::{median, quantile};
use crate::note::Note;
use crate::reading::Why;
use crate::session::Space;
use crate::track::{DepthKind, Layer, Presence, Track};
use nalgebra::Vector3;

/// Measures every signal from a space layer.
pub fn measure(
    track: &Track,
    layer: &Layer,
    plan: TrunkPlan,
    noise: &Noise,
    assumptions: &Assumptions,
    request: &Request,
) -> Kinematics {
    let errors = errors(track, noise, assumptions, request);
    let mut poses = poses(track, layer, plan, assumptions, request);
    if plan.rightward == Rightward::Hips {
        poses.every.rightward_fix = rightward_fix(&poses, assumptions, track.depth);
    }
    let forward = |pose: &SpacePose| Some(pose.trunk_axes()?.0.column(0).into_owned());
    let facing = middle_direction(poses.map(forward));
    let collar = if track.coverage(Joint::SternalEnd(request.side)) > 0.5 {
        CollarStart::Seen
    } else {
        resting_collar(&poses, assumptions)
    };
    poses.every.facing = facing;
    poses.every.collar = collar;

    let courses = Courses::of(&poses);
    let (spreads, pulls) = sampled_spreads(&poses, &courses, &errors, track.timeline.rate_hz());
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
    let guessed = track.depth == DepthKind::Guessed;
    if guessed {
        for signal in [Signal::Elevation, Signal::ElbowFlexion] {
            if let Some(Some(series)) = series.get_mut(signal.index()) {
                series.add_systematic(assumptions.estimator_angle_deg);
            }
        }
    }
    let on_shoulders = plan.upper == Upper::MidShoulder;
    let signals = Signal::ALL
        .iter()
        .zip(series)
        .map(|(signal, series)| match signal {
            // The middle of the shoulders goes along with them, so it cannot show their travel.
            Signal::GirdleProtraction if on_shoulders && collar != CollarStart::Seen => {
                Err(Why::NoTrunkTop)
            }
            Signal::Plane if guessed && !guess_shows_plane(facing, assumptions, request) => {
                Err(Why::WrongView)
            }
            _ => series.ok_or_else(|| reason(track, request.side, *signal)),
        })
        .collect();

    let mut kinematics = Kinematics::from_parts(
        request.side,
        track.timeline.clone(),
        Space::World,
        signals,
        noise.correlation_s,
    );
    kinematics.observed = observed(track, layer, request);
    // Markers have no camera: their axes are a laboratory's, so no view is named.
    if guessed && let Some(forward) = facing {
        let yaw = yaw_deg(forward);
        let sd = (assumptions.depth_m / (assumptions.hip_width.value * assumptions.trunk_m))
            .atan()
            .to_degrees();
        kinematics.view = Some(ViewEstimate {
            yaw_deg: Spread { value: yaw, sd },
            stated: false,
            sign_known: true,
        });
    }
    kinematics.pulls = pulls;
    kinematics.trunk_on_shoulders = on_shoulders;
    kinematics.notes = notes(track, plan, assumptions);
    kinematics
}

/// Whether a depth guessed from one picture can tell the plane of elevation: from a corner, or where the plane in which
/// the exercise raises the arm lies near the picture.
fn guess_shows_plane(
    facing: Option<Vector3<f64>>,
    assumptions: &Assumptions,
    request: &Request,
) -> bool {
    let Some(forward) = facing else { return false };
    ViewName::of_yaw(yaw_deg(forward)) == ViewName::Oblique
        || out_of_picture_deg(forward, request) <= assumptions.depth_trusted_to_deg
}

/// Turn of the trunk to the picture, degrees; see [`ViewEstimate`].
fn yaw_deg(forward: Vector3<f64>) -> f64 {
    forward.x.atan2(forward.z).to_degrees()
}

/// How far the plane in which the exercise raises the arm stands out of the picture, degrees, 0 to 90.
fn out_of_picture_deg(forward: Vector3<f64>, request: &Request) -> f64 {
    let right = Vector3::new(-forward.z, 0.0, forward.x);
    let outward = match request.side {
        Side::Right => right,
        Side::Left => -right,
    };
    let (ahead, aside) = request.aim_plane_deg.to_radians().sin_cos();
    (outward * aside + forward * ahead)
        .z
        .abs()
        .min(1.0)
        .asin()
        .to_degrees()
}

fn notes(track: &Track, plan: TrunkPlan, assumptions: &Assumptions) -> Vec<Note> {
    let mut notes = Vec::new();
    if track.depth == DepthKind::Guessed {
        notes.push(Note::new(
            "space/depth-guessed",
            format!(
                "Depth is the estimator's guess from one picture; {:.0} mm of error along the line of sight \
                 is carried in every interval.",
                1000.0 * assumptions.depth_m
            ),
        ));
    }
    if plan.rightward == Rightward::FileAxes {
        notes.push(Note::new(
            "space/axes-assumed",
            "No hips and no breast-bone point: the file's axes are taken as X forward, Y up, Z to the \
             person's right. The plane of elevation is only as good as that.",
        ));
    }
    notes
}

/// By frame, whether the arm and both ends of the trunk were seen rather than filled.
pub fn observed(track: &Track, layer: &Layer, request: &Request) -> Vec<bool> {
    let columns: Vec<usize> = [Joint::Shoulder(request.side), Joint::Elbow(request.side)]
        .into_iter()
        .filter_map(|joint| track.column(joint))
        .collect();
    (0..layer.frames())
        .map(|frame| {
            columns
                .iter()
                .all(|column| layer.presence(frame, *column) == Presence::Seen)
        })
        .collect()
}

/// Errors of the points, metres.
fn errors(
    track: &Track,
    noise: &Noise,
    assumptions: &Assumptions,
    request: &Request,
) -> PointErrors<3> {
    let columns = Role::ALL.map(|role| track.column(role.joint(request.side)));
    let random = columns.map(|column| {
        column
            .and_then(|column| noise.space.get(column))
            .map_or(Vector3::zeros(), |sd| Vector3::from(*sd))
    });
    let on_skin = Role::ALL
        .iter()
        .zip(columns)
        .any(|(role, column)| column.is_some() && matches!(role, Role::T8 | Role::TrunkLower));
    let systematic = Role::ALL.map(|role| {
        let sd = if on_skin {
            assumptions.skin_marker_m
        } else {
            match role {
                Role::HipLeft | Role::HipRight | Role::MidHip => assumptions.hip_m,
                Role::ShoulderLeft | Role::ShoulderRight | Role::Neck => assumptions.shoulder_m,
                Role::Elbow | Role::Wrist => assumptions.limb_m,
                _ => assumptions.skin_marker_m,
            }
        };
        let depth = if track.depth == DepthKind::Guessed {
            assumptions.depth_m
        } else {
            0.0
        };
        Vector3::new(sd, sd, sd.hypot(depth))
    });
    PointErrors { random, systematic }
}

fn poses<'a>(
    track: &Track,
    layer: &'a Layer,
    plan: TrunkPlan,
    assumptions: &Assumptions,
    request: &Request,
) -> SpacePoses<'a> {
    SpacePoses {
        layer,
        columns: Role::ALL.map(|role| track.column(role.joint(request.side))),
        every: SpacePose {
            side: request.side,
            plan,
            points: [None; Role::COUNT],
            girdle: Role::girdle(track, request.side),
            collar: CollarStart::Unknown,
            facing: None,
            rightward_fix: RightwardFix::default(),
            blade: assumptions.blade,
        },
    }
}

/// Frames with the lowest arm: the tenth, and what is within 5 degrees of it.
fn resting(poses: &SpacePoses<'_>) -> Vec<usize> {
    let raised = poses.map(|pose| pose.arm_deg().map(|(_, elevation)| elevation));
    let Some(low) = quantile(raised.iter().copied().flatten(), 0.1) else {
        return Vec::new();
    };
    let rests = |frame: &usize| {
        let deg = raised.get(*frame).copied().flatten();
        deg.is_some_and(|deg| deg <= low + RESTING_DEG)
    };
    (0..raised.len()).filter(rests).collect()
}

/// Elevation above the lowest usual one up to which an arm rests, degrees (stated choice).
const RESTING_DEG: f64 = 5.0;

/// How far a resting shoulder line is from being parallel to the hips, standard deviation, degrees (stated
/// assumption).
const RESTING_TWIST_DEG: f64 = 4.0;

/// Turn of the rightward direction from the hips' line, by the resting shoulders, weighted by how well each
/// line is known.
fn rightward_fix(
    poses: &SpacePoses<'_>,
    assumptions: &Assumptions,
    depth: DepthKind,
) -> RightwardFix {
    let turn = |frame: usize| poses.at(frame).shoulder_turn_deg();
    let Some(turn) = median(resting(poses).into_iter().filter_map(turn)) else {
        return RightwardFix::default();
    };
    let along_sight = if depth == DepthKind::Guessed {
        assumptions.depth_m
    } else {
        0.0
    };
    let line_sd = |point_m: f64, width: Spread| {
        let width_m = width.value * assumptions.trunk_m;
        (std::f64::consts::SQRT_2 * point_m.hypot(along_sight) / width_m).to_degrees()
    };
    let hips = line_sd(assumptions.hip_m, assumptions.hip_width);
    let shoulders =
        line_sd(assumptions.shoulder_m, assumptions.shoulder_width).hypot(RESTING_TWIST_DEG);
    let share = hips * hips / (hips * hips + shoulders * shoulders);
    RightwardFix {
        turn_deg: share * turn,
        sd_deg: share * shoulders,
        share,
    }
}

/// Where the collar bone starts when its sternal end is not in the track: beside the shoulder's resting
/// place (the tenth of the frames with the lowest arm), near the midline.
fn resting_collar(poses: &SpacePoses<'_>, assumptions: &Assumptions) -> CollarStart {
    let placed = poses.map(|pose| Some((pose.arm_deg()?.1, pose.girdle_in_trunk()?)));
    let placed = || placed.iter().flatten();
    let Some(low) = quantile(placed().map(|(elevation, _)| *elevation), 0.1) else {
        return CollarStart::Unknown;
    };
    let resting = || {
        placed()
            .filter(move |(elevation, _)| *elevation <= low + RESTING_DEG)
            .map(|(_, place)| place)
    };
    let middle = |axis: usize| median(resting().map(|place| place[axis]));
    match (middle(0), middle(1), middle(2)) {
        (Some(x), Some(y), Some(z)) => {
            CollarStart::Fixed(Vector3::new(x, y, z * assumptions.sternal_end))
        }
        _ => CollarStart::Unknown,
    }
}

/// Componentwise median of directions, made a unit vector.
fn middle_direction(directions: Vec<Option<Vector3<f64>>>) -> Option<Vector3<f64>> {
    let middle = |axis: usize| median(directions.iter().flatten().map(|v| v[axis]));
    crate::geom::direction(Vector3::new(middle(0)?, 0.0, middle(2)?))
}
