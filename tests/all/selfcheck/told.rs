//! The words against the known truth.

use super::readable::whole;
use super::{Case, cases, said_in};
use crate::support::{MODELS, true_count};
use scaplane::patient::said;
use scaplane::session::{Planned, Reported, Verdict};

#[test]
fn the_count_is_the_true_one_and_every_repetition_is_in_one_group() {
    for case in cases() {
        let said = said_in(case, "en");
        let count = true_count(&case.clip);
        assert!(
            said.seen.headline.contains(&format!(" {count} times")),
            "{}: {}",
            case.name,
            said.seen.headline
        );
        let mut numbers: Vec<u32> = said
            .seen
            .groups
            .iter()
            .flat_map(|group| group.numbers.clone())
            .collect();
        numbers.sort_unstable();
        assert_eq!(
            numbers,
            (1..=count as u32).collect::<Vec<_>>(),
            "{}",
            case.name
        );
        for group in &said.seen.groups {
            for number in &group.numbers {
                let rep = &case.review.session.reps[*number as usize - 1];
                assert_eq!(rep.verdict, group.verdict, "{}: {number}", case.name);
            }
        }
    }
}

#[test]
fn the_cue_is_that_of_the_planted_fault_with_its_repetitions() {
    let mut ran = 0;
    for case in cases() {
        let Some((code, reps)) = &case.planted else {
            continue;
        };
        let said = said_in(case, "en");
        let cue = said
            .change
            .cues
            .first()
            .unwrap_or_else(|| panic!("{}: no cue", case.name));
        assert_eq!(cue.code, *code, "{}", case.name);
        let words = MODELS.patient.words("en").expect("English");
        assert!(
            cue.lines[0].contains(&words.list(reps)),
            "{}: {:?}",
            case.name,
            cue.lines
        );
        let exercise = MODELS
            .exercise(&case.review.session.exercise)
            .expect("an exercise");
        let limit = exercise.limit(&cue.measure).expect("a limit");
        let known = [&limit.below, &limit.above]
            .into_iter()
            .flatten()
            .any(|end| end.patient_cue == cue.text);
        assert!(known, "{}: {}", case.name, cue.text);
        assert!(said.change.cues.len() <= 2);
        assert_eq!(said.change.heading, "The one thing to change next time");
        ran += 1;
    }
    assert_eq!(ran, 9);
}

/// Of two faults the commoner one is the cue, whatever the order of the limits.
#[test]
fn the_commonest_fault_is_said_first() {
    let mut case = cases()[0].review.clone();
    let found = case.session.reps[5]
        .findings
        .iter()
        .find(|f| f.code == "plane-toward-side")
        .expect("planted")
        .clone();
    // The arm is short of its height in every repetition, the plane left in three.
    for rep in &mut case.session.reps {
        let mut short = found.clone();
        (short.code, short.measure, short.margin) =
            ("range-short".into(), "peak-elevation".into(), Some(-1.0));
        rep.findings.push(short);
        rep.verdict = Verdict::Outside;
    }
    let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
    let said = said(
        &case,
        exercise,
        MODELS.patient.words("en").expect("English"),
    );
    let codes: Vec<&str> = said
        .change
        .cues
        .iter()
        .map(|cue| cue.code.as_str())
        .collect();
    assert_eq!(codes, ["range-short", "plane-toward-side"]);
    assert!(!said.change.cues[1].before.is_empty());
}

fn clean(case: &&Case) -> bool {
    let reps = &case.review.session.reps;
    reps.iter().all(|rep| rep.verdict == Verdict::Within)
}

#[test]
fn a_clean_clip_gets_praise_and_no_cue() {
    let mut ran = 0;
    for case in cases().iter().filter(clean) {
        let said = said_in(case, "en");
        assert!(said.change.cues.is_empty(), "{}", case.name);
        assert_eq!(
            said.change.lines,
            ["The camera saw nothing to change. Keep it up."]
        );
        assert!(
            said.praise.lines.len() >= 2,
            "{}: {:?}",
            case.name,
            said.praise.lines
        );
        assert!(
            said.praise
                .lines
                .iter()
                .all(|line| line.ends_with("All 6 times.")),
            "{:?}",
            said.praise.lines
        );
        ran += 1;
    }
    assert!(ran >= 2, "{ran} clean clips");
}

/// What is praised was inside its limits with its whole interval, in as many repetitions as are named.
#[test]
fn praise_is_never_given_for_what_was_outside_or_unseen() {
    let mut praised = 0;
    for case in cases() {
        let exercise = MODELS
            .exercise(&case.review.session.exercise)
            .expect("an exercise");
        let words = MODELS.patient.words("en").expect("English");
        let lines = said_in(case, "en").praise.lines;
        for (praise, text) in words.praises() {
            let Some(line) = lines.iter().find(|line| line.starts_with(text)) else {
                continue;
            };
            if !praise.measures.iter().all(|id| {
                exercise
                    .limit(id)
                    .is_some_and(|limit| praise.is_about(limit))
            }) {
                continue;
            }
            let inside = |rep: &&scaplane::session::Rep| {
                praise.measures.iter().all(|id| {
                    let (row, limit) = (&rep.readings[id], exercise.limit(id).expect("a limit"));
                    let (Some(low), Some(high)) = (row.low, row.high) else {
                        return false;
                    };
                    limit.low.is_none_or(|end| low >= end)
                        && limit.high.is_none_or(|end| high <= end)
                })
            };
            let count = case.review.session.reps.iter().filter(inside).count();
            let named = match line.strip_suffix("All 6 times.") {
                Some(_) => 6,
                None => line
                    .rsplit('.')
                    .nth(1)
                    .and_then(|part| part.split_whitespace().next())
                    .expect("a count")
                    .parse()
                    .expect("a number"),
            };
            assert_eq!(count, named, "{}: {line}", case.name);
            praised += 1;
        }
    }
    assert!(praised >= 20, "{praised} praises");
}

#[test]
fn what_is_only_near_is_neither_asked_for_nor_drawn() {
    let mut ran = 0;
    for case in cases() {
        let reps = &case.review.session.reps;
        let outside = reps
            .iter()
            .any(|rep| rep.findings.iter().any(|f| f.verdict == Verdict::Outside));
        if outside {
            continue;
        }
        let said = said_in(case, "en");
        assert_eq!(said.change.heading, "For next time", "{}", case.name);
        for cue in &said.change.cues {
            assert!(cue.drawing.is_none(), "{}", case.name);
            assert!(
                cue.lines
                    .iter()
                    .any(|line| line == "The camera could not tell if you need it.")
            );
            ran += 1;
        }
    }
    assert!(ran >= 1, "{ran} near cues");
}

/// From the front the plane cannot be told, and with it no repetition.
#[test]
fn a_view_that_can_tell_nothing_sends_the_phone_elsewhere() {
    let case = cases()
        .iter()
        .find(|case| case.name.starts_with("scapular-raise front"))
        .expect("the case");
    let said = said_in(case, "en");
    assert!(said.change.cues.is_empty());
    assert!(said.change.lines[0].starts_with("The camera could not tell what to change."));
    let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
    assert_eq!(
        said.phone.expect("a place").lines,
        std::slice::from_ref(&exercise.views.placement)
    );
    let groups: Vec<Verdict> = said.seen.groups.iter().map(|group| group.verdict).collect();
    assert_eq!(groups, [Verdict::CannotTell]);
    let lines = said.unseen.lines.join(" ");
    assert!(lines.contains(
        "How far to the front or side your arm was. It is hard to see from where the phone stood."
    ));
}

/// No repetition at all, and repetitions that are not whole.
#[test]
fn without_a_whole_repetition_nothing_is_claimed() {
    let mut review = cases()[0].review.clone();
    for rep in &mut review.session.reps {
        rep.complete = false;
    }
    let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
    let words = MODELS.patient.words("en").expect("English");
    for _ in 0..2 {
        let said = said(&review, exercise, words);
        assert_eq!(
            said.seen.headline,
            "The camera saw no full move that it could count."
        );
        assert!(said.seen.groups.is_empty() && said.change.cues.is_empty());
        assert_eq!(said.praise.lines.len(), 1);
        assert!(said.phone.is_some());
        review.session.reps.clear();
        review.session.unseen.clear();
    }
}

#[test]
fn pain_at_the_plans_limit_comes_first_and_asks_for_nothing_else() {
    let mut review = cases()[0].review.clone();
    let exercise = MODELS.exercise("scapular-raise").expect("an exercise");
    let words = MODELS.patient.words("en").expect("English");
    let with = |review: &scaplane::session::Review| said(review, exercise, words);
    review.session.reported = Some(Reported {
        pain_during: Some(4.5),
        ..Reported::default()
    });
    let before = with(&review);
    assert!(before.pain.is_none() && !before.change.cues.is_empty());
    assert!(
        before
            .stop
            .lines
            .iter()
            .any(|line| line.contains("pain as 4.5 out of 10"))
    );
    let plan = |limit| {
        Some(Planned {
            pseudonym: "P".into(),
            side: None,
            phase: None,
            operation_date: None,
            pain_limit: Some(limit),
            prescribed: None,
            done: scaplane::session::Done {
                repetitions: vec![6],
                tempo_s: [None; 3],
            },
            changed_limits: Vec::new(),
        })
    };
    review.session.plan = plan(5.0);
    assert!(with(&review).pain.is_none());
    review.session.plan = plan(4.5);
    let said = with(&review);
    let pain = said.pain.as_ref().expect("said").lines.join(" ");
    assert!(pain.contains("4.5 out of 10") && pain.contains("Call your clinic"));
    assert!(pain.contains("the part of the lift where you reported pain"));
    assert!(said.change.cues.is_empty());
    assert_eq!(
        said.change.lines,
        ["First talk with your clinic. They will tell you how to go on."]
    );
    assert!(
        !said
            .stop
            .lines
            .iter()
            .any(|line| line.contains("out of 10"))
    );
}

/// Sentences of one language that are found in a text of the other.
#[test]
fn a_german_page_has_no_english_sentence_left() {
    let english: Vec<String> = MODELS
        .patient
        .texts()
        .filter(|(_, text)| text["en"].split_whitespace().count() > 1 && text["en"] != text["de"])
        .map(|(_, text)| {
            text["en"]
                .split('{')
                .max_by_key(|part| part.len())
                .unwrap_or("")
                .split('}')
                .next_back()
                .unwrap_or("")
                .trim()
                .to_string()
        })
        .filter(|text| text.split_whitespace().count() > 1)
        .collect();
    assert!(english.len() > 130, "{} texts", english.len());
    for case in cases() {
        let said = said_in(case, "de");
        assert!(said.untranslated.is_empty(), "{:?}", said.untranslated);
        let page = scaplane::report::selfcheck::page(&said).expect("a page");
        let text = whole(&said);
        assert!(page.contains("<html lang=\"de\">"));
        for sentence in &english {
            assert!(
                !text.contains(sentence.as_str()) && !page.contains(sentence.as_str()),
                "{}: {sentence}",
                case.name
            );
        }
        for word in [" the ", " your ", " you ", " and ", " camera "] {
            assert!(!text.contains(word), "{}: {word}", case.name);
        }
    }
}
