//! The drawing of a cue: the figure at the worst moment, and the aim beside it.

use super::above;
use super::aim::Moment;
use super::beside;
use super::pose::{Point, Pose, length, minus};
use crate::body::Side;
use crate::models::{Exercise, Limit, Words};
use crate::session::{Finding, Rep, Review};

/// From where a drawing is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeenFrom {
    /// From where the phone stood.
    Phone,
    /// From above, where a plane shows.
    Above,
    /// Across the arm, where its height shows.
    Beside,
}

/// Two poses in the same picture with their words.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// The measured side, whose arm is drawn strong.
    pub side: Side,
    /// From where it is seen.
    pub seen_from: SeenFrom,
    /// The person at the moment.
    pub now: Pose,
    /// The aim; equal to `now` where only the pace changes, `None` where a drawing would not show it.
    pub aim: Option<Pose>,
    /// From where to where the part that changes moves most.
    pub arrow: Option<[Point; 2]>,
    /// The part to think of, where there is no aim to draw.
    pub ring: Option<Point>,
    /// Edge of the room that the limits leave, where the drawing is not seen from the phone; empty elsewhere.
    pub sector: Vec<Point>,
    /// Seconds that the way took, where the pace is what changes.
    pub seconds: Option<f64>,
    /// Words under each picture, and names for those who do not see them.
    pub captions: Captions,
}

/// Words of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Captions {
    /// Under the moment.
    pub now: String,
    /// Under the aim.
    pub aim: String,
    /// The moment in words.
    pub now_name: String,
    /// The aim in words.
    pub aim_name: String,
    /// What the sign on the picture means; empty without one.
    pub sign: String,
    /// From where it is seen, if not from where the phone stood.
    pub view: String,
    /// The pace of the moment and of the aim, empty if the pace is not what changes.
    pub pace: [String; 2],
}

/// The drawing of a finding in its worst repetition; `None` without a figure to draw.
pub(super) fn of(
    review: &Review,
    rep: &Rep,
    found: &Finding,
    limit: &Limit,
    exercise: &Exercise,
    words: Words<'_>,
) -> Option<Drawing> {
    let side = review.session.side;
    let frame = found.worst_frame.unwrap_or(rep.peak_frame) as usize;
    let paced = is_pace(limit);
    let frame = if paced {
        rep.peak_frame as usize
    } else {
        frame
    };
    let now = Pose::at(&review.traces.figure, frame);
    now.joint("shoulder", side)?;
    now.joint("elbow", side)?;
    let seconds = rep
        .readings
        .get(&limit.measure)
        .and_then(|row| row.value)
        .filter(|_| paced);
    let moment = || Moment::of(review, exercise, rep, frame, &now);
    let scene = match limit.measure.as_str() {
        "plane-deviation" => {
            above::of(rep, limit, exercise, side).map(|scene| (SeenFrom::Above, scene))
        }
        "peak-elevation" => moment()
            .and_then(|moment| beside::of(&moment, rep, limit))
            .map(|scene| (SeenFrom::Beside, scene)),
        _ => None,
    };
    let (seen_from, now, aim, sector) = match scene {
        Some((from, scene)) => (from, scene.now, Some(scene.aim), scene.sector),
        None => {
            let aim = aim_of(review, (rep, frame), &now, limit, exercise);
            (SeenFrom::Phone, now, aim, Vec::new())
        }
    };
    let arrow = aim.as_ref().and_then(|aim| arrow(&now, aim, side));
    let ring = match aim {
        Some(_) => None,
        None => now.joint(part_of(&limit.measure), side),
    };
    let sign = match (arrow, ring) {
        (Some(_), _) => words.say("picture_arrow", &[]),
        (None, Some(_)) => words.say("picture_ring", &[]),
        _ => String::new(),
    };
    let number = rep.number.to_string();
    let number = [("number", number.as_str())];
    Some(Drawing {
        side,
        seen_from,
        captions: Captions {
            now: words.say("picture_now", &number),
            aim: words.say("picture_aim", &[]),
            now_name: words.say("picture_now_name", &number),
            aim_name: words.say("picture_aim_name", &[]),
            sign,
            view: match seen_from {
                SeenFrom::Phone => String::new(),
                SeenFrom::Above => words.say("picture_above", &[]),
                SeenFrom::Beside => words.say("picture_beside", &[]),
            },
            pace: match seconds {
                Some(seconds) => [
                    words.say("pace_now", &[("seconds", &words.number(seconds, 1))]),
                    words.say("pace_aim", &[]),
                ],
                None => Default::default(),
            },
        },
        now,
        aim,
        arrow,
        ring,
        sector,
        seconds,
    })
}

/// The aim of a limit; where the pace is to change, the pose is the same.
fn aim_of(
    review: &Review,
    (rep, frame): (&Rep, usize),
    now: &Pose,
    limit: &Limit,
    exercise: &Exercise,
) -> Option<Pose> {
    match is_pace(limit) {
        true => Some(now.clone()),
        false => Moment::of(review, exercise, rep, frame, now)?.aim(limit),
    }
}

fn is_pace(limit: &Limit) -> bool {
    matches!(limit.measure.as_str(), "raise-time" | "lower-time")
}

/// The joint to think of.
fn part_of(measure: &str) -> &'static str {
    match measure {
        _ if measure.starts_with("elbow") => "elbow",
        _ => "shoulder",
    }
}

/// From where to where the joint of the arm that moves most goes.
fn arrow(now: &Pose, aim: &Pose, side: Side) -> Option<[Point; 2]> {
    let way = |name: &&str| -> Option<[Point; 2]> {
        Some([now.joint(name, side)?, aim.joint(name, side)?])
    };
    let far = |[from, to]: &[Point; 2]| length(minus(*to, *from));
    ["wrist", "elbow", "shoulder"]
        .iter()
        .filter_map(way)
        .filter(|way| far(way) > 1e-6)
        .max_by(|a, b| far(a).total_cmp(&far(b)))
}
