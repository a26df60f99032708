//! A plan as a clinician writes it and a patient feels it: `plan new`, `plan check`, `review --plan`, `selfcheck --plan`.

use crate::support::MODELS;
use scaplane::session::{Session, Verdict};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const CLIP: &str = "sample-keypoints/clean-raise/track.csv.gz";

/// A folder for plans and pages.
struct Desk(tempfile::TempDir);

impl Desk {
    fn new() -> Desk {
        Desk(tempfile::tempdir().expect("a folder"))
    }

    /// A plan for the raise in the plane of the blade, with one limit.
    fn plan(&self, exercise: &str, limit: &str) -> PathBuf {
        let path = self.0.path().join("plan.toml");
        let text = format!(
            "format = \"scaplane.plan/1\"\npseudonym = \"wren-17\"\nside = \"right\"\npain_limit = 4\n\n\
             [[exercise]]\nid = \"{exercise}\"\nsets = 2\nrepetitions = 5\n{limit}"
        );
        std::fs::write(&path, text).expect("a plan");
        path
    }
}

fn scaplane(args: &[&str]) -> Output {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(args)
        .output()
        .expect("the program runs")
}

fn printed(args: &[&str]) -> String {
    let output = scaplane(args);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {output:?}");
    String::from_utf8(output.stdout).expect("text")
}

fn text(path: &Path) -> &str {
    path.to_str().expect("plain")
}

fn reviewed(more: &[&str]) -> Session {
    let common = [
        "review",
        CLIP,
        "--exercise",
        "scapular-raise",
        "--side",
        "right",
        "--json",
        "-",
    ];
    serde_json::from_str(&printed(&[&common[..], more].concat())).expect("a result")
}

/// Not above 90 degrees yet: the commonest restriction after an operation.
const CEILING: &str =
    "[[exercise.limit]]\nmeasure = \"peak-elevation\"\nhigh = 90\nreason = \"Week five.\"\n";

#[test]
fn a_new_plan_of_every_exercise_is_checked_and_names_every_end_that_may_be_set() {
    let desk = Desk::new();
    for exercise in MODELS.exercises.values() {
        let new = printed(&["plan", "new", "--exercise", &exercise.id, "--side", "left"]);
        let path = desk.0.path().join("new.toml");
        std::fs::write(&path, &new).expect("a plan");
        let told = printed(&["plan", "check", text(&path)]);
        assert_eq!(
            told,
            format!("wren-1: left side\n{}: 3 sets of 10\n", exercise.id)
        );
        for limit in exercise.limits.iter().chain(&exercise.settable) {
            for (end, value, words) in [
                ("low", limit.low, &limit.below),
                ("high", limit.high, &limit.above),
            ] {
                let line = format!("without a default: {end} of {},", limit.measure);
                let wanted = value.is_none() && words.is_some();
                assert_eq!(new.contains(&line), wanted, "{}: {line}", exercise.id);
            }
        }
    }
}

#[test]
fn a_ceiling_is_judged_and_said_and_no_reading_is_changed() {
    let desk = Desk::new();
    let plan = desk.plan("scapular-raise", CEILING);
    let told = printed(&["plan", "check", text(&plan)]);
    assert!(
        told.lines().all(|line| line.chars().count() <= 80),
        "{told}"
    );
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = "Highest elevation: at most 90 deg in place of at least 120 deg; no lower limit is judged. Week five.";
    assert!(
        told.contains("2 sets of 5") && told.contains(said),
        "{told}"
    );

    let plain = reviewed(&[]);
    let planned = reviewed(&["--plan", text(&plan), "--pain-during", "6", "--effort", "9"]);
    assert!(plain.reps.iter().all(|rep| rep.verdict != Verdict::Outside));
    assert_eq!((plain.reps.len(), planned.reps.len()), (10, 10));
    for (before, rep) in plain.reps.iter().zip(&planned.reps) {
        assert_eq!(before.readings, rep.readings, "a plan measures nothing");
        assert_eq!(rep.verdict, Verdict::Outside);
        let height: Vec<_> = rep
            .findings
            .iter()
            .filter(|f| f.measure == "peak-elevation")
            .collect();
        assert_eq!(height.len(), 1);
        assert_eq!(height[0].code, "range-beyond");
        assert_eq!(height[0].limit, [None, Some(90.0)]);
        assert_eq!(height[0].source, "the treating clinician's plan");
    }
    let changed = &planned.plan.as_ref().expect("a plan").changed_limits[0];
    assert_eq!(
        (changed.default, changed.now),
        ([Some(120.0), None], [None, Some(90.0)])
    );

    let out = desk.0.path().join("out");
    let summary = printed(&["review", CLIP, "--plan", text(&plan), "--out", text(&out)]);
    let page = std::fs::read_to_string(out.join("review.html")).expect("the page");
    assert!(page.contains("Dashed: the limits of the highest elevation, at most 90°."));
    for told in [summary.replace('\n', " ").replace("   ", ""), page] {
        assert!(told.contains("no lower limit is judged"), "{told}");
        assert!(told.contains("The arm went above the height that the plan allows"));
        assert!(!told.contains("stopped short"));
    }
}

/// What is allowed to the arm that was operated on is no limit of the other one.
#[test]
fn the_other_arm_is_judged_by_the_defaults_and_that_is_said() {
    let desk = Desk::new();
    let plan = desk.plan("scapular-raise", CEILING).display().to_string();
    let left = std::fs::read_to_string(&plan)
        .expect("it")
        .replace("\"right\"", "\"left\"");
    std::fs::write(&plan, left).expect("a plan");
    let session = reviewed(&["--plan", &plan]);
    let plain = reviewed(&[]);
    assert_eq!(session.reps, plain.reps);
    let out = desk.0.path().join("out");
    let common = [CLIP, "--plan", &plan, "--side", "right"];
    let summary = printed(&[&["review"], &common[..], &["--out", text(&out)]].concat());
    let page = std::fs::read_to_string(out.join("review.html")).expect("the page");
    let said = "the plan is for the left arm, this is the right one; default limits were used";
    for told in [
        summary.split_whitespace().collect::<Vec<_>>().join(" "),
        page,
    ] {
        assert!(told.contains(said), "{told}");
        assert!(!told.contains("at most 90"));
    }
    let patient = printed(&[&["selfcheck"], &common[..]].concat());
    assert!(
        !patient.contains("Stop a little lower") && !patient.contains("Your plan asks"),
        "{patient}"
    );
    // The treated arm of the same clip keeps its ceiling.
    let both = printed(&["review", CLIP, "--plan", &plan, "--side", "both"]);
    assert!(both.contains("at most 90"));
}

#[test]
fn the_patient_is_told_of_the_ceiling_in_both_languages() {
    let desk = Desk::new();
    let plan = desk.plan("scapular-raise", CEILING);
    let told =
        |plan: &Path, lang| printed(&["selfcheck", CLIP, "--plan", text(plan), "--lang", lang]);
    let flat = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let english = flat(told(&plan, "en"));
    assert!(
        english.contains("> Stop a little lower. Your clinic set how high you go for now. It showed in numbers 1 to 10."),
        "{english}"
    );
    let german = flat(told(&plan, "de"));
    assert!(
        german.contains("Hören Sie etwas weiter unten auf. Ihre Praxis hat vorerst festgelegt, wie hoch Sie gehen."),
        "{german}"
    );
    for said in [&english, &german] {
        assert!(
            !said.contains("higher") && !said.contains("höher"),
            "{said}"
        );
    }
    // Kept, it is praised in the words of a height to stay below.
    let plan = desk.plan("scapular-raise", &CEILING.replace("90", "178"));
    let english = flat(told(&plan, "en"));
    assert!(
        english.contains("Your arm went no higher than you agreed. All 10 times."),
        "{english}"
    );
    assert!(!english.contains("as high as you agreed") && !english.contains("elbow stayed"));
    assert!(flat(told(&plan, "de")).contains("Ihr Arm kam nicht höher als vereinbart."));
}

#[test]
fn an_end_nobody_wrote_words_for_and_impossible_figures_are_refused_at_their_line() {
    let desk = Desk::new();
    for (limit, line, word) in [
        (
            "measure = \"trunk-lean\"\nlow = 5\nreason = \"so\"",
            12,
            "can have no `low`",
        ),
        (
            "measure = \"peak-elevation\"\nhigh = 350\nreason = \"so\"",
            12,
            "-180 to 180",
        ),
        (
            "measure = \"rhythm-share-raise-30-top\"\nlow = 30\nreason = \"so\"",
            12,
            "-10 to 10",
        ),
        ("measure = \"peak-elevation\"\nhigh = 90", 0, "reason"),
        (
            "measure = \"peak-elevation\"\nhihg = 90\nreason = \"so\"",
            12,
            "hihg",
        ),
        (
            "measure = \"hold-time\"\nlow = 1\nreason = \"so\"",
            11,
            "does not judge",
        ),
    ] {
        let plan = desk.plan("scapular-raise", &format!("[[exercise.limit]]\n{limit}\n"));
        let output = scaplane(&["plan", "check", text(&plan)]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(word) && said.contains("try "), "{said}");
        assert!(
            line == 0 || said.contains(&format!("line {line}")),
            "{line}: {said}"
        );
    }
}
