//! The aim as a pose: the measured figure with the part that is to change put where the limits want it.
//!
//! In: the pose at the worst moment, the measured angles there, the view, a limit. Out: another pose in the same
//! picture, or `None` where a drawing from this view would show nothing. The arm is turned in space about the trunk
//! and seen from where the phone stood (scaled orthography: good enough for a drawing, no measurement).

use super::pose::{Point, Pose, length, minus, plus, times, turned, unit};
use crate::body::Side;
use crate::geom::quantile;
use crate::models::{Exercise, Limit};
use crate::session::{Figure, Rep, Review};

/// How far inside a limit with one end the aim is drawn, degrees: the aim is not the limit itself.
const INSIDE_DEG: f64 = 5.0;
/// The same below an upper end: so far that the usual interval of one picture would lie inside.
const BELOW_DEG: f64 = 15.0;
/// Share of the upper arm's length by which something has to move to be worth a drawing.
const LEAST_MOVE: f64 = 0.15;
/// Turn of the trunk from which a bend of the elbow shows in the picture, degrees.
const SIDEWAYS_DEG: f64 = 30.0;
/// Elevation below which an upper arm hangs, so that the forearm turns about an upright line, degrees.
const HANGING_DEG: f64 = 45.0;
/// Elbow flexion below which an arm is drawn long, degrees.
const LONG_DEG: f64 = 40.0;

/// What the forearm does when the upper arm is put elsewhere.
#[derive(Clone, Copy)]
enum Forearm {
    /// In line with the upper arm.
    Long,
    /// As it was, with the elbow.
    Bent,
}

/// Everything about the moment that an aim is drawn from.
pub(super) struct Moment<'a> {
    review: &'a Review,
    exercise: &'a Exercise,
    side: Side,
    frame: usize,
    set_start: usize,
    rep_start: usize,
    pose: &'a Pose,
    upper: f64,
    fore: f64,
}

impl<'a> Moment<'a> {
    /// Collects it; `None` without an arm.
    pub(super) fn of(
        review: &'a Review,
        exercise: &'a Exercise,
        rep: &Rep,
        frame: usize,
        pose: &'a Pose,
    ) -> Option<Moment<'a>> {
        let side = review.session.side;
        let first = review
            .session
            .reps
            .iter()
            .find(|other| other.set == rep.set);
        let figure = &review.traces.figure;
        let moment = Moment {
            review,
            exercise,
            side,
            frame,
            set_start: first.map_or(0, |first| first.start_frame as usize),
            rep_start: rep.start_frame as usize,
            pose,
            upper: longest(figure, "shoulder", "elbow", side)?,
            fore: longest(figure, "elbow", "wrist", side)?,
        };
        pose.joint("shoulder", side)?;
        pose.joint("elbow", side)?;
        Some(moment)
    }

    /// The aim of a limit; `None` where it would hardly differ from the moment.
    pub(super) fn aim(&self, limit: &Limit) -> Option<Pose> {
        let aim = self.pose_of(limit)?;
        let moved = ["shoulder", "elbow", "wrist"]
            .iter()
            .filter_map(|name| {
                let from = self.pose.joint(name, self.side)?;
                Some(length(minus(aim.joint(name, self.side)?, from)))
            })
            .fold(0.0, f64::max);
        (moved >= LEAST_MOVE * self.upper).then_some(aim)
    }

    fn pose_of(&self, limit: &Limit) -> Option<Pose> {
        match limit.measure.as_str() {
            "peak-elevation" => self.with_arm(self.lifted(inside(limit)?)?, self.forearm()),
            "elbow-path" => self.with_arm(self.on_path(inside(limit)?)?, Forearm::Bent),
            "elbow-bent-most" | "elbow-straightest" | "straight-before-protraction" => {
                self.with_wrist(times(self.along_the_arm()?, self.fore))
            }
            "elbow-range" => self.bent_by(inside(limit)?),
            "arc-internal-rotation" => self.with_wrist(times(self.pose.up(), self.fore)),
            "outward-rotation-peak" => {
                // Of a raised arm the forearm turns about another line: no aim is drawn.
                self.angle("elevation").filter(|deg| *deg < HANGING_DEG)?;
                let turn = inside(limit)?.to_radians();
                let [_, lateral, forward] = self.axes()?;
                let to = plus(times(forward, turn.cos()), times(lateral, turn.sin()));
                self.with_wrist(times(to, self.fore))
            }
            "girdle-early-rise" => self.with_shoulder_down(),
            "trunk-lean" | "trunk-turn" => self.with_trunk_of_the_start(),
            _ => None,
        }
    }

    /// A measured angle at the moment, degrees.
    fn angle(&self, signal: &str) -> Option<f64> {
        let series = self.review.traces.signals.get(signal)?;
        series.get(self.frame).copied().flatten()
    }

    /// Direction of the upper arm at an elevation, in the plane that it was seen in; its length is the share that shows.
    pub(super) fn lifted(&self, elevation_deg: f64) -> Option<Point> {
        let aimed = self.exercise.plane.as_ref().map(|plane| plane.aim_deg);
        self.arm(elevation_deg, self.angle("plane").or(aimed).unwrap_or(0.0))
    }

    /// Bend of the elbow at the moment, degrees; a long arm is drawn long.
    pub(super) fn bend(&self) -> f64 {
        match self.forearm() {
            Forearm::Long => 0.0,
            Forearm::Bent => self.angle("elbow-flexion").unwrap_or(0.0),
        }
    }

    /// The measured side.
    pub(super) fn side(&self) -> Side {
        self.side
    }

    /// Up, toward the measured side and forward of the trunk, as they lie in the picture.
    fn axes(&self) -> Option<[Point; 3]> {
        let yaw = self.review.session.clip.view.as_ref()?.yaw_deg.to_radians();
        let up = self.pose.up();
        let right = [up[1], -up[0]];
        // Of a person who faces the phone the left arm is on the picture's right.
        let outward = match self.side {
            Side::Left => yaw.cos(),
            Side::Right => -yaw.cos(),
        };
        Some([up, times(right, outward), times(right, yaw.sin())])
    }

    /// Direction of an upper arm in the picture, of length 1 where it lies across the line of sight.
    fn arm(&self, elevation_deg: f64, plane_deg: f64) -> Option<Point> {
        let [up, lateral, forward] = self.axes()?;
        let (e, p) = (elevation_deg.to_radians(), plane_deg.to_radians());
        let flat = plus(times(lateral, p.cos()), times(forward, p.sin()));
        Some(plus(times(up, -e.cos()), times(flat, e.sin())))
    }

    /// The arm as far forward as it was, its angle to the side of the trunk as asked.
    fn on_path(&self, path_deg: f64) -> Option<Point> {
        let [up, lateral, forward] = self.axes()?;
        let e = self.angle("elevation")?.to_radians();
        let p = self.angle("plane").unwrap_or(0.0).to_radians();
        let seen_along_forward = (e.sin() * p.cos()).hypot(e.cos());
        let path = path_deg.to_radians();
        let across = plus(
            times(up, -seen_along_forward * path.cos()),
            times(lateral, seen_along_forward * path.sin()),
        );
        Some(plus(across, times(forward, e.sin() * p.sin())))
    }

    fn along_the_arm(&self) -> Option<Point> {
        let measured = self.angle("elevation").zip(self.angle("plane"));
        let lifted = measured.and_then(|(elevation, plane)| self.arm(elevation, plane));
        let shoulder = self.pose.joint("shoulder", self.side)?;
        let elbow = self.pose.joint("elbow", self.side)?;
        lifted.or_else(|| unit(minus(elbow, shoulder)))
    }

    fn forearm(&self) -> Forearm {
        match self.angle("elbow-flexion") {
            Some(bend) if bend < LONG_DEG => Forearm::Long,
            _ => Forearm::Bent,
        }
    }

    /// The pose with the upper arm in a direction: a long arm stays long, a bent forearm goes with the elbow.
    fn with_arm(&self, direction: Point, forearm: Forearm) -> Option<Pose> {
        let mut aim = self.pose.clone();
        let shoulder = self.pose.joint("shoulder", self.side)?;
        let old = self.pose.joint("elbow", self.side)?;
        let elbow = plus(shoulder, times(direction, self.upper));
        aim.put("elbow", self.side, elbow);
        if let Some(wrist) = self.pose.joint("wrist", self.side) {
            let to = match forearm {
                Forearm::Long => plus(elbow, times(direction, self.fore)),
                Forearm::Bent => plus(wrist, minus(elbow, old)),
            };
            aim.put("wrist", self.side, to);
        }
        Some(aim)
    }

    fn with_wrist(&self, from_elbow: Point) -> Option<Pose> {
        let mut aim = self.pose.clone();
        let elbow = self.pose.joint("elbow", self.side)?;
        aim.put("wrist", self.side, plus(elbow, from_elbow));
        Some(aim)
    }

    /// The forearm bent so far that the elbow's range in the repetition would be as the limit wants; only where the picture
    /// shows the bend.
    fn bent_by(&self, range_deg: f64) -> Option<Pose> {
        let yaw = self.review.session.clip.view.as_ref()?.yaw_deg.to_radians();
        if yaw.sin().abs() < SIDEWAYS_DEG.to_radians().sin() {
            return None;
        }
        let shoulder = self.pose.joint("shoulder", self.side)?;
        let elbow = self.pose.joint("elbow", self.side)?;
        let wrist = self.pose.joint("wrist", self.side)?;
        let on = minus(elbow, shoulder);
        let fore = minus(wrist, elbow);
        // The way the elbow bends in this picture: it never bends back.
        let way = (on[0] * fore[1] - on[1] * fore[0]).signum();
        let to = turned(unit(on)?, way * range_deg.to_radians());
        self.with_wrist(times(to, length(fore).max(0.7 * self.fore)))
    }

    /// The shoulder as low on the trunk as it was at the start of the repetition; the arm hangs on it.
    fn with_shoulder_down(&self) -> Option<Pose> {
        let start = Pose::at(&self.review.traces.figure, self.rep_start);
        let height = |pose: &Pose| -> Option<f64> {
            let above = minus(pose.joint("shoulder", self.side)?, pose.middle("hip")?);
            let up = pose.up();
            Some(above[0] * up[0] + above[1] * up[1])
        };
        let down = times(self.pose.up(), height(&start)? - height(self.pose)?);
        let mut aim = self.pose.clone();
        for name in ["shoulder", "elbow", "wrist"] {
            if let Some(point) = self.pose.joint(name, self.side) {
                aim.put(name, self.side, plus(point, down));
            }
        }
        Some(aim)
    }

    /// Trunk and head as at the start of the set; the arms go with their shoulders.
    fn with_trunk_of_the_start(&self) -> Option<Pose> {
        let start = Pose::at(&self.review.traces.figure, self.set_start);
        let shift = minus(self.pose.middle("hip")?, start.middle("hip")?);
        let (then, now) = (start.up(), self.pose.up());
        let lean = (now[0] * then[1] - now[1] * then[0]).atan2(now[0] * then[0] + now[1] * then[1]);
        let mut aim = start.clone();
        for point in aim.points.values_mut() {
            *point = plus(*point, shift);
        }
        for side in [Side::Left, Side::Right] {
            let (Some(old), Some(new)) = (
                self.pose.joint("shoulder", side),
                aim.joint("shoulder", side),
            ) else {
                continue;
            };
            for name in ["elbow", "wrist"] {
                if let Some(point) = self.pose.joint(name, side) {
                    aim.put(name, side, plus(new, turned(minus(point, old), lean)));
                }
            }
        }
        Some(aim)
    }
}

/// A value well inside a limit: the middle of a band, a little beyond a lower end, below an upper one.
pub(super) fn inside(limit: &Limit) -> Option<f64> {
    match (limit.low, limit.high) {
        (Some(low), Some(high)) => Some((low + high) / 2.0),
        (Some(low), None) => Some(low + INSIDE_DEG),
        (None, Some(high)) => Some((high - BELOW_DEG).max(high / 2.0)),
        (None, None) => None,
    }
}

/// Length of a segment across the line of sight: the longest it is seen, a few frames left aside.
fn longest(figure: &Figure, from: &str, to: &str, side: Side) -> Option<f64> {
    let column = |name: &str| {
        let id = format!("{name}-{side}");
        figure.joints.iter().position(|joint| *joint == id)
    };
    let (a, b) = (column(from)?, column(to)?);
    let lengths = figure.frames.iter().filter_map(|frame| {
        let ([ax, ay], [bx, by]) = ((*frame.get(a)?)?, (*frame.get(b)?)?);
        Some(f64::from(ax - bx).hypot(f64::from(ay - by)))
    });
    quantile(lengths, 0.95).filter(|long| *long > 1e-6)
}
