//! The drawings: the aim lies where the limits are, whatever the view.

use super::{cases, said_in};
use crate::support::{MODELS, drawn_by, recipe};
use scaplane::body::Side;
use scaplane::patient::{Point, Pose, SeenFrom, said};
use scaplane::pipeline::Ask;
use scaplane::plan;
use scaplane::simulate::{Exercise as E, Format, Noise, simulate};

fn angle(from: Point, to: Point) -> f64 {
    (to[1] - from[1]).atan2(to[0] - from[0]).to_degrees()
}

#[test]
fn every_cue_of_a_planted_fault_has_a_drawing_with_an_aim() {
    for case in cases().iter().filter(|case| case.planted.is_some()) {
        let said = said_in(case, "en");
        let drawing = said.change.cues[0]
            .drawing
            .as_ref()
            .unwrap_or_else(|| panic!("{}", case.name));
        let aim = drawing
            .aim
            .as_ref()
            .unwrap_or_else(|| panic!("{}: no aim", case.name));
        assert!(
            drawing.arrow.is_some() && drawing.ring.is_none(),
            "{}",
            case.name
        );
        assert_ne!(aim, &drawing.now, "{}", case.name);
        let page = scaplane::report::selfcheck::page(&said).expect("a page");
        assert_eq!(
            page.matches("role=\"img\"").count(),
            2 * said
                .change
                .cues
                .iter()
                .filter(|cue| cue.drawing.is_some())
                .count(),
            "{}",
            case.name
        );
        assert!(
            !page.contains("NaN") && !page.contains("inf"),
            "{}",
            case.name
        );
    }
}

/// Seen from above a right arm in a plane of p degrees points p degrees up from the picture's right.
#[test]
fn a_plane_is_drawn_at_its_own_angle() {
    let mut ran = 0;
    for case in cases().iter().filter(|case| case.name.contains("Plane")) {
        let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
        let aimed = exercise.plane.as_ref().expect("a plane").aim_deg;
        let limit = exercise.limit("plane-deviation").expect("a limit");
        let said = said_in(case, "en");
        let cue = &said.change.cues[0];
        let drawing = cue.drawing.as_ref().expect("a drawing");
        let arm = |pose: &scaplane::patient::Pose| {
            let joint = |name| pose.joint(name, Side::Right).expect(name);
            angle(joint("shoulder"), joint("wrist"))
        };
        assert!((arm(drawing.aim.as_ref().expect("an aim")) - aimed).abs() < 1e-6);
        let now = arm(&drawing.now) - aimed;
        let beyond = now < limit.low.expect("low") || now > limit.high.expect("high");
        assert!(beyond, "{}: {now}", case.name);
        let shoulder = drawing.sector[0];
        let ends = [drawing.sector[1], drawing.sector[drawing.sector.len() - 1]]
            .map(|end| angle(shoulder, end) - aimed);
        assert!(
            (ends[0] - limit.low.expect("low")).abs() < 1e-6
                && (ends[1] - limit.high.expect("high")).abs() < 1e-6
        );
        ran += 1;
    }
    assert_eq!(ran, 2);
}

/// Of an arm that points at the phone the picture shows no height: it is drawn across, at its own angle. From the
/// front it is drawn as it was seen.
#[test]
fn a_height_is_drawn_across_the_arm_where_the_phone_saw_its_tip() {
    let text = "format = \"scaplane.plan/1\"\npseudonym = \"w\"\nside = \"right\"\n[[exercise]]\nid = \"scapular-raise\"\n\
                sets = 1\nrepetitions = 6\n[[exercise.limit]]\nmeasure = \"peak-elevation\"\nhigh = 90\nreason = \"so\"\n";
    let plan = plan::parse("plan.toml", text, &MODELS).expect("a plan");
    let default = MODELS.exercise("scapular-raise").expect("an exercise");
    let own = plan::exercise_with(default, &plan.exercise[0]);
    let words = MODELS.patient.words("en").expect("English");
    for (view, from) in [("oblique", SeenFrom::Beside), ("front", SeenFrom::Phone)] {
        let clip = simulate(&recipe(E::ScapularRaise, view, 11, 6, Noise::none())).expect("a clip");
        let bytes = clip.bytes(Format::Tidy2d).expect("written");
        let ask = Ask {
            side: Some(Side::Right),
            ..Ask::default()
        };
        let review = drawn_by(&clip, Format::Tidy2d.extension(), bytes, &own, &ask);
        let said = said(&review, &own, words);
        assert_eq!(said.change.cues[0].code, "range-beyond", "{view}");
        let drawing = said.change.cues[0].drawing.as_ref().expect("a drawing");
        assert_eq!(drawing.seen_from, from, "{view}");
        let aim = drawing.aim.as_ref().expect("an aim");
        if from == SeenFrom::Phone {
            assert!(drawing.sector.is_empty() && drawing.captions.view.is_empty());
            continue;
        }
        let height = |pose: &Pose| {
            let joint = |name| pose.joint(name, Side::Right).expect(name);
            90.0 + angle(joint("shoulder"), joint("elbow"))
        };
        let reps = review.session.reps.iter().filter(|rep| rep.complete);
        let heights = reps.filter_map(|rep| rep.readings.get("peak-elevation")?.value);
        let worst = heights.fold(0.0, f64::max);
        assert!(
            (height(&drawing.now) - worst).abs() < 1e-6,
            "{} {worst}",
            height(&drawing.now)
        );
        assert!((height(aim) - 75.0).abs() < 1e-6, "{}", height(aim));
        let end = drawing.sector[drawing.sector.len() - 1];
        assert!(
            angle(drawing.sector[0], end).abs() < 1e-6,
            "the light part ends level"
        );
        assert!(!drawing.captions.view.is_empty());
    }
}

/// From the front an elbow path is an angle of the picture: the aim is the middle of its limits.
#[test]
fn an_elbow_path_is_drawn_in_the_middle_of_its_limits() {
    let case = cases()
        .iter()
        .find(|case| case.name.contains("FlaredElbow"))
        .expect("the case");
    let said = said_in(case, "en");
    let drawing = said.change.cues[0].drawing.as_ref().expect("a drawing");
    let aim = drawing.aim.as_ref().expect("an aim");
    let (shoulder, elbow) = (
        aim.joint("shoulder", Side::Right).expect("s"),
        aim.joint("elbow", Side::Right).expect("e"),
    );
    // A person who faces the phone has the right arm on the picture's left.
    assert!(elbow[0] < shoulder[0]);
    let path = (shoulder[0] - elbow[0])
        .atan2(shoulder[1] - elbow[1])
        .to_degrees();
    assert!((path - 45.0).abs() < 8.0, "{path}");
}

/// A long arm: shoulder, elbow and wrist in one line.
#[test]
fn a_bent_arm_is_drawn_long_in_the_aim() {
    let case = cases()
        .iter()
        .find(|case| case.name.contains("ElbowBend"))
        .expect("the case");
    let said = said_in(case, "en");
    let drawing = said.change.cues[0].drawing.as_ref().expect("a drawing");
    let bend = |pose: &scaplane::patient::Pose| {
        let joint = |name| pose.joint(name, Side::Right).expect(name);
        let off = angle(joint("shoulder"), joint("elbow")) - angle(joint("elbow"), joint("wrist"));
        (off + 540.0).rem_euclid(360.0) - 180.0
    };
    assert!(bend(&drawing.now).abs() > 30.0, "{}", bend(&drawing.now));
    assert!(bend(drawing.aim.as_ref().expect("an aim")).abs() < 12.0);
}

/// The aim of a trunk that leans is the trunk of the set's start.
#[test]
fn a_leaning_trunk_is_drawn_upright_in_the_aim() {
    let case = cases()
        .iter()
        .find(|case| case.name.contains("TrunkLean"))
        .expect("the case");
    let said = said_in(case, "en");
    let drawing = said.change.cues[0].drawing.as_ref().expect("a drawing");
    let lean = |pose: &scaplane::patient::Pose| pose.up()[0].abs().asin().to_degrees();
    assert!(lean(&drawing.now) > 15.0, "{}", lean(&drawing.now));
    assert!(lean(drawing.aim.as_ref().expect("an aim")) < 5.0);
}
