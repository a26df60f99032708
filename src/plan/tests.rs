use super::*;
use crate::models::Models;
use std::sync::LazyLock;

static MODELS: LazyLock<Models> = LazyLock::new(|| Models::embedded().expect("the built-in data"));

const GOOD: &str = r#"
format = "scaplane.plan/1"
pseudonym = "wren-17"
side = "left"
operation_date = 2026-06-03
phase = "strengthening"
pain_limit = 3

[[inclinometer]]
elevation_deg = 90
upward_rotation_deg = 31.5
[[inclinometer]]
elevation_deg = 0
upward_rotation_deg = 2

[[exercise]]
id = "scapular-raise"
sets = 3
repetitions = 10
load_kg = 1.5
tempo = { out_s = 2, back_s = 3 }

[[exercise.limit]]
measure = "plane-deviation"
low = -20
high = 25
reason = "a flat blade"

[[exercise.limit]]
measure = "peak-elevation"
low = 90
reason = "the other arm reaches no more"
"#;

fn read_as(text: &str) -> Result<Plan, crate::note::Fault> {
    parse("plan.toml", text, &MODELS)
}

#[test]
fn a_good_plan_is_read_whole() {
    let plan = read_as(GOOD).expect("it is good");
    assert_eq!((plan.side, plan.pain_limit), (Side::Left, Some(3.0)));
    assert_eq!(
        plan.operation_date.map(|d| d.to_string()).as_deref(),
        Some("2026-06-03")
    );
    let [low, high] = plan.calibration().expect("two readings");
    assert_eq!((low.elevation_deg, high.upward_rotation_deg), (0.0, 31.5));
    let prescription = plan
        .prescription("scapular-raise")
        .expect("it is prescribed");
    let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
    let own = exercise_with(exercise, prescription);
    let plane = own.limit("plane-deviation").expect("it is judged");
    assert_eq!((plane.low, plane.high), (Some(-20.0), Some(25.0)));
    assert!(plane.note.contains("a flat blade") && plane.source == "treating-clinician");
    assert!(MODELS.source("treating-clinician").is_some());
    let changed = exercise
        .limits
        .iter()
        .zip(&own.limits)
        .filter(|(a, b)| a != b);
    assert_eq!(changed.count(), 2, "only what the plan names is changed");
}

/// The commonest restriction after an operation: not above 90 degrees yet. The exercise has no such limit of its
/// own, and asks for 120; the plan's word is the only one.
#[test]
fn a_ceiling_is_set_where_the_exercise_has_words_for_it_and_silences_the_floor() {
    let ceiling = |exercise: &str, measure: &str, high: f64| {
        let text = format!(
            "format = \"scaplane.plan/1\"\npseudonym = \"wren-17\"\nside = \"left\"\n[[exercise]]\nid = \"{exercise}\"\n\
             sets = 1\nrepetitions = 8\n[[exercise.limit]]\nmeasure = \"{measure}\"\nhigh = {high}\nreason = \"week five\"\n"
        );
        let plan = read_as(&text).unwrap_or_else(|fault| panic!("{fault}"));
        let default = MODELS.exercise(exercise).expect(exercise);
        exercise_with(default, plan.prescription(exercise).expect("prescribed"))
    };
    for (exercise, measure, high, code) in [
        ("scapular-raise", "peak-elevation", 90.0, "range-beyond"),
        ("frontal-raise", "peak-elevation", 90.0, "range-beyond"),
        ("forward-raise", "peak-elevation", 90.0, "range-beyond"),
        ("overhead-press", "peak-elevation", 110.0, "range-beyond"),
        ("wall-slide", "peak-elevation", 100.0, "range-beyond"),
        ("rotate-and-lower", "peak-elevation", 90.0, "range-beyond"),
        ("forward-press", "peak-elevation", 60.0, "range-beyond"),
        (
            "outward-rotation",
            "outward-rotation-peak",
            20.0,
            "rotation-beyond",
        ),
        (
            "rotate-and-lower",
            "outward-rotation-peak",
            30.0,
            "rotation-beyond",
        ),
        ("wall-press", "elbow-range", 60.0, "press-beyond"),
        ("forward-press", "elbow-range", 60.0, "press-beyond"),
        ("row", "elbow-range", 90.0, "pull-beyond"),
    ] {
        let default = MODELS.exercise(exercise).expect(exercise);
        let unset = default
            .limit(measure)
            .is_none_or(|limit| limit.high.is_none());
        assert!(unset, "{exercise} has a default ceiling of {measure}");
        let own = ceiling(exercise, measure, high);
        let limit = own.limit(measure).expect("it is judged now");
        assert_eq!((limit.low, limit.high), (None, Some(high)), "{exercise}");
        assert!(
            limit.key,
            "{exercise}: not to see it is not to be passed over"
        );
        let said: Vec<&str> = limit.said().map(|words| words.code.as_str()).collect();
        assert_eq!(said, [code], "{exercise}");
        assert_eq!(limit.source, "treating-clinician");
        assert!(own.settable.iter().all(|limit| limit.measure != measure));
    }
}

/// Each change of the good plan is refused at its line, with a remedy.
#[test]
fn what_cannot_be_is_refused_with_line_and_remedy() {
    let cases = [
        ("scaplane.plan/1", "scaplane.plan/2", 2, "plan/bad-value"),
        ("\"wren-17\"", "\" \"", 3, "plan/bad-value"),
        ("\"left\"", "\"both\"", 4, "plan/malformed"),
        ("2026-06-03", "\"last summer\"", 5, "plan/malformed"),
        ("2026-06-03", "2026-13-03", 5, "plan/malformed"),
        ("phase =", "fase =", 6, "plan/malformed"),
        ("pain_limit = 3", "pain_limit = 11", 7, "plan/bad-value"),
        ("pain_limit = 3", "pain_limit = nan", 7, "plan/bad-value"),
        (
            "elevation_deg = 90",
            "elevation_deg = 190",
            10,
            "plan/bad-value",
        ),
        (
            "elevation_deg = 90",
            "elevation_deg = 20",
            9,
            "plan/bad-value",
        ),
        (
            "upward_rotation_deg = 31.5",
            "upward_rotation_deg = 131.5",
            11,
            "plan/bad-value",
        ),
        (
            "id = \"scapular-raise\"",
            "id = \"star-jump\"",
            17,
            "plan/bad-value",
        ),
        ("sets = 3", "sets = 0", 18, "plan/bad-value"),
        (
            "repetitions = 10",
            "repetitions = 100000",
            19,
            "plan/bad-value",
        ),
        ("repetitions = 10", "repetitions = -1", 19, "plan/malformed"),
        ("load_kg = 1.5", "load_kg = -1.5", 20, "plan/bad-value"),
        ("out_s = 2", "out_s = 200", 21, "plan/bad-value"),
        ("\"plane-deviation\"", "\"plane\"", 24, "plan/bad-value"),
        ("low = -20", "low = 30", 25, "plan/bad-value"),
        ("\"a flat blade\"", "\"\"", 27, "plan/bad-value"),
        ("low = 90", "low = inf", 31, "plan/bad-value"),
        ("low = 90", "low = 190", 31, "plan/bad-value"),
        ("low = 90", "high = -190", 31, "plan/bad-value"),
        ("low = 90\n", "", 30, "plan/bad-value"),
        (
            "\"peak-elevation\"",
            "\"elbow-bent-most\"",
            31,
            "plan/bad-value",
        ),
        (
            "\"peak-elevation\"",
            "\"plane-deviation\"",
            30,
            "plan/bad-value",
        ),
        ("low = 90", "low = \"ninety\"", 31, "plan/malformed"),
        ("sets = 3", "sets = 3\nsets = 4", 19, "plan/malformed"),
    ];
    for (from, to, line, code) in cases {
        assert_eq!(GOOD.matches(from).count(), 1, "{from}");
        let fault = read_as(&GOOD.replace(from, to)).expect_err(to);
        assert_eq!(
            (fault.code, fault.place.line, fault.exit_status()),
            (code, Some(line), 2),
            "{to}: {fault}"
        );
        assert!(!fault.remedy.is_empty() && !fault.what.is_empty(), "{to}");
    }
}

#[test]
fn every_exercise_has_a_new_plan_that_is_read_again() {
    for exercise in MODELS.exercises.values() {
        for name in ["wren-1", "with \"quotes\" and \\"] {
            let text = template(name, Side::Right, exercise);
            let plan = read_as(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
            assert_eq!(plan.pseudonym, name);
            // With every mark taken away the examples are a plan too.
            let whole: String = text
                .lines()
                .skip(2)
                .map(|line| line.strip_prefix("# ").unwrap_or(line))
                .filter(|line| {
                    let prose = ["Two ", "Limits ", "Another "];
                    !prose.iter().any(|start| line.starts_with(start)) && *line != "#"
                })
                .map(|line| line.replace("reason = \"\"", "reason = \"so\"") + "\n")
                .collect();
            let plan = read_as(&whole).unwrap_or_else(|fault| panic!("{fault}\n{whole}"));
            let limits = plan
                .exercise
                .iter()
                .map(|one| one.limit.len())
                .sum::<usize>();
            assert_eq!(
                (limits, plan.inclinometer.len()),
                (exercise.limits.len(), 2)
            );
        }
    }
}
