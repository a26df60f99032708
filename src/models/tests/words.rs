//! What patients and therapists read: plain, calm, and explained.

use super::*;

/// Words that frighten or blame; common practice, no source.
const UNKIND: &[&str] = &[
    "impinge", "tear", "damage", "injur", "danger", "harm", "wrong", "fail", "bad", "weak",
    "pinch", "squeez", "rupture", "never", "must", "mistake", "fault", "worse",
];

#[test]
fn patients_read_kind_words() {
    let mut read = 0;
    for exercise in shipped().exercises.values() {
        let limits = exercise.limits.iter().chain(&exercise.settable);
        let cues = limits.flat_map(|limit| {
            [&limit.below, &limit.above]
                .into_iter()
                .flatten()
                .map(|f| &f.patient_cue)
        });
        for text in cues.chain([&exercise.patient_summary]) {
            read += 1;
            let lower = text.to_lowercase();
            for word in UNKIND {
                let found = lower.split(' ').any(|w| w.starts_with(word));
                assert!(!found, "{}: `{word}` in: {text}", exercise.id);
            }
        }
    }
    assert!(read > 60, "only {read} texts");
}

/// Every finding that is explained is used, so that the list does not rot.
#[test]
fn every_explained_finding_is_used() {
    let models = shipped();
    let used: BTreeSet<&str> = models
        .exercises
        .values()
        .flat_map(|e| e.limits.iter().chain(&e.settable))
        .flat_map(|l| [&l.below, &l.above].into_iter().flatten())
        .map(|f| f.code.as_str())
        .collect();
    let explained: BTreeSet<&str> = models
        .explanations
        .values()
        .filter(|text| text.kind == ExplanationKind::Finding)
        .map(|text| text.code.as_str())
        .collect();
    assert_eq!(used, explained);
}

#[test]
fn the_codes_of_the_stages_are_explained() {
    let models = shipped();
    for code in [
        "shoulder-unseen",
        "elbow-unseen",
        "wrist-unseen",
        "trunk-unseen",
        "no-scapular-landmark",
        "wrong-view",
        "ill-conditioned",
        "plane-undefined",
        "elbow-too-straight",
        "too-short",
        "rate-unknown",
        "interval-not-reached",
        "arm-along-sight-line",
        "phone-moved",
        "too-few-frames",
        "not-in-exercise",
        "picture-size-unknown",
        "single-image",
    ] {
        let text = models.explain(code).expect(code);
        assert_eq!(text.kind, ExplanationKind::Reason, "{code}");
    }
    for code in [
        "read/rate-assumed",
        "read/axes-assumed",
        "read/duplicate-frames",
        "read/score-over-one",
        "condition/exchange-repaired",
        "condition/outlier-dropped",
        "condition/gap-filled",
        "condition/gap-left",
        "condition/resampled",
        "condition/cutoff",
        "person/chosen",
        "person/passer-by",
        "view/estimated",
        "view/stated",
        "lift/used",
        "reps/none",
        "reps/incomplete",
        "reps/cut-off",
    ] {
        let text = models.explain(code).expect(code);
        assert_eq!(text.kind, ExplanationKind::Note, "{code}");
    }
    for code in [
        "read/empty",
        "read/syntax",
        "read/length",
        "read/no-person",
        "read/unknown-format",
        "read/ambiguous-format",
        "read/size-needed",
        "read/layout",
        "read/too-few-frames",
    ] {
        let text = models.explain(code).expect(code);
        assert_eq!(text.kind, ExplanationKind::Error, "{code}");
    }
}

/// A source that nothing names is a leftover; the ones kept for other stages are listed.
#[test]
fn every_source_is_used_or_kept_on_purpose() {
    let models = shipped();
    let files = ModelFiles::embedded();
    let elsewhere: Vec<&str> = files
        .paths()
        .filter(|path| *path != "sources.toml")
        .filter_map(|path| files.text(path))
        .collect();
    let kept = [
        "from-memory",
        "borsa-2003",
        "lee-2013",
        "hughes-2012",
        "suprak-2013",
        "warner-2012",
        "van-andel-2009",
        "taylor-2000",
        "camera-azimuth-2025",
        "winter",
        "stated-assumption",
        "treating-clinician",
    ];
    for id in models.sources.keys() {
        let used = elsewhere.iter().any(|text| text.contains(id.as_str()));
        assert!(used || kept.contains(&id.as_str()), "nothing names {id}");
    }
}
