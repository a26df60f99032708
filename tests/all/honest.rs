//! What cannot be told is not told: repetitions cut off, depth guessed from the front, another arm than the one that moved.

use crate::support::{recipe, reviewed_as, reviewed_bytes, run};
use scaplane::body::Side;
use scaplane::pipeline::Ask;
use scaplane::session::Verdict;
use scaplane::simulate::{self, Exercise, Format, Noise, simulate};

/// A recording that begins on the way down shows no highest point, and no range that could be short.
#[test]
fn a_repetition_that_the_recording_began_within_is_not_called_short() {
    let mut looked_at = 0;
    for seed in 1..=4 {
        let recipe = recipe(Exercise::ScapularRaise, "right", seed, 4, Noise::none());
        let clip = simulate(&recipe).expect("a sound recipe");
        let first = clip
            .truth
            .reps_of(simulate::Side::Right)
            .next()
            .expect("one");
        let on_the_way_back_s = first.hold_end_s + 0.2 * (first.end_s - first.hold_end_s);
        let whole = String::from_utf8(clip.bytes(Format::Tidy3d).expect("bytes")).expect("text");
        let kept = whole.lines().enumerate().filter(|(number, line)| {
            let time_s = line
                .split(',')
                .nth(1)
                .and_then(|cell| cell.parse::<f64>().ok());
            *number == 0 || time_s.is_some_and(|time_s| time_s >= on_the_way_back_s)
        });
        let cut: String = kept.map(|(_, line)| format!("{line}\n")).collect();
        let ask = Ask {
            side: Some(Side::Right),
            ..Ask::default()
        };
        let session = reviewed_bytes(&clip, "csv", cut.into_bytes(), "scapular-raise", &ask);
        for rep in session.reps.iter().filter(|rep| !rep.complete) {
            for id in [
                "peak-elevation",
                "elevation-range",
                "arc-time",
                "raise-time",
            ] {
                let why = rep.readings.get(id).and_then(|row| row.why.as_ref());
                let code = why.map(|why| why.code.as_str());
                assert_eq!(code, Some("incomplete-repetition"), "{id}: {rep:?}");
            }
            let outside = |found: &_| matches!(found, Verdict::Outside);
            assert!(
                !rep.findings.iter().any(|found| outside(&found.verdict)),
                "{rep:?}"
            );
            looked_at += 1;
        }
    }
    assert!(looked_at >= 3, "{looked_at} repetitions were cut off");
}

/// A depth guessed from one picture flattens an arm between front and side, so from the front it tells no plane; from the
/// corner it does. Points measured in space tell it from everywhere.
#[test]
fn a_guessed_depth_tells_the_plane_from_the_corner_only() {
    for (format, view, told) in [
        (Format::Landmarks33Object, "front", false),
        (Format::Landmarks33Object, "right", false),
        (Format::Landmarks33Object, "oblique", true),
        (Format::Tidy3d, "front", true),
        (Format::Tidy3d, "right", true),
    ] {
        let recipe = recipe(Exercise::ScapularRaise, view, 5, 3, Noise::typical());
        let (_, session) = run(&recipe, format);
        assert!(session.reps.len() >= 3, "{view}");
        for rep in &session.reps {
            let row = &rep.readings["plane-deviation"];
            assert_eq!(row.value.is_some(), told, "{view}: {row:?}");
        }
    }
}

/// The arm that hung still is told from the one that moved, and an exercise that was not done from one that was.
#[test]
fn without_a_repetition_it_is_said_what_moved() {
    let recipe = recipe(Exercise::ScapularRaise, "right", 3, 3, Noise::typical());
    let clip = simulate(&recipe).expect("a sound recipe");
    let hint = |exercise: &str, side: Side| {
        let ask = Ask {
            side: Some(side),
            ..Ask::default()
        };
        let session = reviewed_as(&clip, Format::Tidy3d, exercise, &ask);
        let mut notes = session.notes.into_iter();
        notes
            .find(|note| note.code == "reps/what-moved")
            .map(|note| note.text)
    };
    assert_eq!(hint("scapular-raise", Side::Right), None);
    let other_arm = hint("scapular-raise", Side::Left).expect("a note");
    assert!(other_arm.contains("--side right"), "{other_arm}");
    let other_exercise = hint("wall-press", Side::Right).expect("a note");
    assert!(!other_exercise.contains("--side"), "{other_exercise}");
    let raised = other_exercise.split("lowered by ").nth(1).expect("degrees");
    let degrees: f64 = raised
        .split(' ')
        .next()
        .and_then(|word| word.parse().ok())
        .expect("a number");
    assert!(degrees > 90.0, "{other_exercise}");
}
