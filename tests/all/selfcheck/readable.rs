//! Every text is easy to read, kind, and there in both languages.

use super::grade::{ease, grade};
use super::{cases, said_in};
use crate::support::MODELS;
use scaplane::models::Exercise;
use scaplane::patient::Said;
use scaplane::reading::Why;
use std::collections::BTreeSet;

/// Hardest grade of an English text; sixth grade is what is asked of patient material (common practice, no source).
const HARDEST: f64 = 6.0;
/// Least reading ease of a German page: plain begins at 60 (Amstad 1978, from memory).
const PLAIN: f64 = 60.0;

/// A placeholder's value as it may stand in a text.
fn filled(text: &str) -> String {
    let values = [
        ("praise", "Your body stayed still."),
        ("thing", "How high your arm went"),
        ("why", "It did not show in this clip."),
        ("exercise", "Lift to the side"),
        ("arm", "right arm"),
        ("list", "2 to 4"),
        ("first", "2"),
        ("last", "4"),
    ];
    let mut text = text.to_string();
    for (name, value) in values {
        text = text.replace(&format!("{{{name}}}"), value);
    }
    while let Some((before, after)) = text.split_once('{') {
        let (_, rest) = after.split_once('}').expect("a closed brace");
        text = format!("{before}10{rest}");
    }
    text
}

/// The texts of an exercise file that a patient reads.
fn of_exercise(exercise: &Exercise) -> Vec<&str> {
    let limits = exercise.limits.iter().chain(&exercise.settable);
    let cues = limits.flat_map(|limit| {
        let ends = [&limit.below, &limit.above].into_iter().flatten();
        ends.map(|end| end.patient_cue.as_str())
    });
    [
        exercise.patient_title.as_str(),
        &exercise.patient_summary,
        &exercise.views.placement,
    ]
    .into_iter()
    .chain(cues)
    .collect()
}

#[test]
fn every_english_text_is_of_grade_six_or_lower() {
    let mut texts: BTreeSet<String> = MODELS
        .patient
        .texts()
        .map(|(_, text)| filled(&text["en"]))
        .collect();
    texts.extend(
        MODELS
            .exercises
            .values()
            .flat_map(of_exercise)
            .map(String::from),
    );
    let hard: Vec<String> = texts
        .iter()
        .filter(|text| grade(text) > HARDEST)
        .map(|text| format!("{:.1}: {text}", grade(text)))
        .collect();
    assert!(hard.is_empty(), "{}", hard.join("\n"));
    println!(
        "{} English texts, grade {HARDEST} or lower each",
        texts.len()
    );
    assert!(texts.len() > 150, "{} texts", texts.len());
}

/// Everything said, as one text.
pub fn whole(said: &Said) -> String {
    let mut all = vec![said.title.clone(), said.summary.clone()];
    for part in said
        .pain
        .iter()
        .chain([&said.praise, &said.unseen])
        .chain(&said.phone)
        .chain([&said.stop])
    {
        all.push(part.heading.clone());
        all.extend(part.lines.clone());
    }
    all.extend([
        said.seen.heading.clone(),
        said.seen.headline.clone(),
        said.seen.as_far.clone(),
    ]);
    all.extend(said.seen.lines.clone());
    all.extend(
        said.seen
            .groups
            .iter()
            .flat_map(|group| [group.label.clone(), group.list.clone()]),
    );
    all.push(said.change.heading.clone());
    all.extend(said.change.lines.clone());
    for cue in &said.change.cues {
        all.extend([cue.before.clone(), cue.text.clone()]);
        all.extend(cue.lines.clone());
        if let Some(drawing) = &cue.drawing {
            let captions = drawing.captions.clone();
            all.extend([
                captions.now,
                captions.aim,
                captions.now_name,
                captions.aim_name,
            ]);
            all.extend([captions.sign, captions.view]);
            all.extend(captions.pace);
        }
    }
    all.extend(said.about.clone());
    let ended =
        all.iter()
            .filter(|line| !line.is_empty())
            .map(|line| match line.ends_with(['.', ':']) {
                true => line.clone(),
                false => format!("{line}."),
            });
    ended.collect::<Vec<_>>().join(" ")
}

#[test]
fn whole_pages_are_easy_in_both_languages() {
    for case in cases() {
        let (en, de) = (whole(&said_in(case, "en")), whole(&said_in(case, "de")));
        println!(
            "{}: grade {:.1}, ease {:.0}",
            case.name,
            grade(&en),
            ease(&de)
        );
        assert!(grade(&en) <= HARDEST, "{}", case.name);
        assert!(ease(&de) >= PLAIN, "{}: {:.0}", case.name, ease(&de));
    }
}

#[test]
fn every_text_is_there_in_both_languages() {
    let (en, de) = (
        MODELS.patient.words("en").expect("English"),
        MODELS.patient.words("de").expect("German"),
    );
    let mut looked_up = 0;
    for exercise in MODELS.exercises.values() {
        for text in of_exercise(exercise) {
            assert_eq!(en.of_exercise(text), Some(text), "{}", exercise.id);
            let other = de.of_exercise(text);
            assert!(
                other.is_some_and(|other| other != text),
                "{}: {text}",
                exercise.id
            );
            looked_up += 1;
        }
        for limit in exercise.limits.iter().chain(&exercise.settable) {
            for words in [en, de] {
                assert_ne!(
                    words.thing(&limit.measure),
                    words.say("thing_other", &[]),
                    "{}",
                    limit.measure
                );
            }
        }
    }
    let listed: String = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("models/patient-words.toml"),
    )
    .expect("the words");
    for why in Why::ALL {
        assert!(
            listed.contains(&format!("\"{}\"", why.code())),
            "{}",
            why.code()
        );
    }
    for (key, text) in MODELS
        .patient
        .texts()
        .filter(|(key, _)| key != "page.title")
    {
        let frame = ["page.unseen_whole"].contains(&key.as_str());
        assert!(frame || text["en"] != text["de"], "{key}: {text:?}");
    }
    assert!(looked_up > 90, "{looked_up}");
}

/// Words that frighten, blame, or belong to the trade; common practice, no source.
const UNWANTED: [&str; 22] = [
    "impinge",
    "tear",
    "damage",
    "injur",
    "danger",
    "harm",
    "fail",
    "bad",
    "pinch",
    "squeez",
    "rupture",
    "never",
    "must",
    "mistake",
    "fault",
    "worse",
    "score",
    "deviation",
    "elevation",
    "scapula",
    "degree",
    "verdict",
];

#[test]
fn no_word_frightens_blames_or_belongs_to_the_trade() {
    let shown = MODELS.patient.texts().map(|(_, text)| text["en"].clone());
    let of_files = MODELS
        .exercises
        .values()
        .flat_map(of_exercise)
        .map(String::from);
    for text in shown.chain(of_files) {
        let lower = text.to_lowercase();
        for word in UNWANTED {
            let found = lower
                .split(|c: char| !c.is_alphabetic())
                .any(|part| part.starts_with(word));
            assert!(!found, "`{word}` in: {text}");
        }
    }
}
