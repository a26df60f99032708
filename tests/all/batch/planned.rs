//! Plans and what the person said, from the columns of a manifest.

use super::{Study, program, rows};
use scaplane::session::Session;

const PLAN: &str = r#"format = "scaplane.plan/1"
pseudonym = "P-7"
side = "right"
phase = "active"
pain_limit = 4

[[exercise]]
id = "scapular-raise"
sets = 1
repetitions = 2

[[exercise.limit]]
measure = "peak-elevation"
low = 175.0
reason = "the other arm reaches it"
"#;

fn review(study: &Study, out: &str, row: &csv::StringRecord) -> Session {
    let path = study.path(out).join(&row[6]).join("review.json");
    serde_json::from_slice(&std::fs::read(path).expect("the result")).expect("a result")
}

#[test]
fn a_plan_judges_its_clips_and_a_bad_plan_fails_only_its_own() {
    let study = Study::new(2);
    std::fs::write(study.path("plan.toml"), PLAN).expect("a plan");
    std::fs::write(study.path("bad.toml"), PLAN.replace("sets = 1", "sats = 1")).expect("a plan");
    std::fs::write(
        study.path("m.csv"),
        "clip,exercise,side,plan,pain_before,pain_during\n\
         clips/000/track.json,,,plan.toml,1,4.5\n\
         clips/001/track.json,scapular-raise,right,,,\n\
         clips/000/track.json,scapular-raise,left,plan.toml,,\n\
         clips/001/track.json,scapular-raise,,bad.toml,,\n\
         clips/001/track.json,scapular-raise,both,,11,\n",
    )
    .expect("a manifest");
    let run = |more: &[&str]| {
        let output = program()
            .arg("batch")
            .arg(study.path("m.csv"))
            .arg("--out")
            .arg(study.path("out"))
            .args(["--quiet", "--reports", "none"])
            .args(more)
            .output()
            .expect("the program runs");
        assert_eq!(output.status.code(), Some(1), "{output:?}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    assert!(run(&[]).starts_with("5 clips: 3 reviewed, 0 unchanged, 2 failed\n"));
    let tables = study.tables("out");
    let failures = rows(&tables["failures.csv"]);
    let codes: Vec<(&str, &str)> = failures.iter().map(|row| (&row[0], &row[2])).collect();
    assert_eq!(
        codes,
        [("4", "plan/malformed"), ("5", "batch/manifest-cell")]
    );

    let results = rows(&tables["batch.csv"]);
    let planned = review(&study, "out", &results[0]);
    let plain = review(&study, "out", &results[1]);
    let plan = planned.plan.as_ref().expect("a plan");
    assert_eq!(
        (plan.pseudonym.as_str(), plan.changed_limits.len()),
        ("P-7", 1)
    );
    assert_eq!(planned.exercise, "scapular-raise");
    assert_eq!(&results[0][5], "right");
    assert_eq!(&results[2][5], "left");
    let short = |session: &Session| {
        let found = session.reps.iter().flat_map(|rep| &rep.findings);
        found.filter(|found| found.code == "range-short").count()
    };
    assert_eq!((short(&planned), short(&plain)), (2, 0));
    let reported = planned.reported.expect("what was said");
    assert_eq!(
        (reported.pain_before, reported.pain_during),
        (Some(1.0), Some(4.5))
    );
    assert!(plain.plan.is_none() && plain.reported.is_none());
    // The plan is for the right arm: the other one has no prescription and the default limits, and both are said.
    let other = review(&study, "out", &results[2]);
    let plan = other.plan.as_ref().expect("a plan");
    assert_eq!(plan.side, Some(scaplane::body::Side::Right));
    assert!(plan.prescribed.is_none() && plan.changed_limits.is_empty());

    // A changed plan is another result; the clips without it stay as they are.
    std::fs::write(study.path("plan.toml"), PLAN.replace("175.0", "100.0")).expect("a plan");
    assert!(run(&["--resume"]).starts_with("5 clips: 2 reviewed, 1 unchanged, 2 failed\n"));
}
