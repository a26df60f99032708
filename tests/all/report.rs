//! Reports of every sample clip, made through the library as a program would make them.
//!
//! Each test asserts how many cases it ran, so that a missing folder cannot pass as success.

mod files;
mod summary;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use scaplane::body::Side;
use scaplane::models::{Exercise, Models};
use scaplane::pipeline::{self, Ask, Provenance};
use scaplane::readers::{self, ReadOptions};
use scaplane::report::{self, Context, text};
use scaplane::session::{Reason, Review, Session};
use serde_json::{Value, json};

/// Samples that come with the program.
const SAMPLES: usize = 5;

/// A sample with its review.
struct Case {
    name: String,
    review: Review,
    context: Context,
}

/// Every sample, reviewed once for all tests.
fn cases() -> &'static [Case] {
    static CASES: OnceLock<Vec<Case>> = OnceLock::new();
    CASES.get_or_init(|| {
        let models = Models::embedded().expect("the embedded definitions");
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-keypoints");
        let mut folders: Vec<PathBuf> = fs::read_dir(&root)
            .expect("the folder of samples")
            .map(|entry| entry.expect("an entry").path())
            .filter(|path| path.join("case.toml").is_file())
            .collect();
        folders.sort();
        let cases: Vec<Case> = folders.iter().map(|dir| case(dir, &models)).collect();
        assert_eq!(cases.len(), SAMPLES, "samples in {}", root.display());
        cases
    })
}

fn case(dir: &Path, models: &Models) -> Case {
    let about = fs::read_to_string(dir.join("case.toml")).expect("case.toml");
    let about: toml::Table = about.parse().expect("valid TOML");
    let word = |key: &str| about.get(key).and_then(|v| v.as_str()).expect("a string");
    let exercise: &Exercise = models.exercise(word("exercise")).expect("a known exercise");
    let track = fs::read_dir(dir)
        .expect("the sample's folder")
        .map(|entry| entry.expect("an entry").path())
        .find(|path| {
            path.file_name()
                .is_some_and(|name| name.to_string_lossy().starts_with("track"))
        })
        .expect("a track");
    let opened = readers::open(&track, &ReadOptions::default(), models)
        .unwrap_or_else(|fault| panic!("{}: {fault}", dir.display()));
    let provenance = Provenance {
        source: track
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned(),
        sha256: opened.sha256,
        reader: opened.facts.reader.to_string(),
        notes: opened.notes,
    };
    let ask = Ask {
        side: Some(match word("side") {
            "left" => Side::Left,
            _ => Side::Right,
        }),
        ..Ask::default()
    };
    Case {
        name: dir
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned(),
        review: pipeline::review(opened.track, &provenance, exercise, models, &ask),
        context: Context::of(exercise, models),
    }
}

/// A folder with the reports of a case in it.
fn written(case: &Case) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a temporary folder");
    report::write_all(dir.path(), &case.review, &case.context).expect("the reports");
    dir
}

#[test]
fn every_sample_has_repetitions_a_figure_and_words_for_each() {
    let mut ran = 0;
    for case in cases() {
        let reps = case.review.session.reps.len();
        let view = report::View::of(&case.review.session, &case.context);
        assert!(reps > 0, "{}", case.name);
        assert_eq!(view.reps.len(), reps, "{}", case.name);
        let counted: usize = view.counts.iter().map(|count| count.count).sum();
        assert_eq!(counted, reps, "{}", case.name);
        assert!(
            !case.review.traces.figure.frames.is_empty(),
            "{}",
            case.name
        );
        // A column of absences tells a reader nothing.
        for (column, title) in view.key_titles.iter().enumerate() {
            let told = view
                .reps
                .iter()
                .filter(|row| row.key[column].value != "cannot tell");
            assert!(told.count() > 0, "{}: {title}", case.name);
        }
        ran += reps;
    }
    println!("{ran} repetitions in {SAMPLES} samples");
    assert!(ran >= 30, "{ran} repetitions");
}

#[test]
fn a_finding_that_is_only_near_is_never_told_as_certain() {
    let mut near = 0;
    for case in cases() {
        let view = report::View::of(&case.review.session, &case.context);
        for row in &view.findings {
            let hedged = row.text.starts_with("Not certain: ");
            assert_eq!(hedged, row.verdict == "near", "{}: {}", case.name, row.text);
            near += usize::from(hedged);
        }
    }
    assert!(near >= 3, "{near} near findings");
}

#[test]
fn every_result_follows_the_schema() {
    let schema = report::json::schema();
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let mut ran = 0;
    for case in cases() {
        let dir = written(case);
        let text = fs::read_to_string(dir.path().join("review.json")).expect("review.json");
        let value: Value = serde_json::from_str(&text).expect("JSON");
        let errors: Vec<String> = validator
            .iter_errors(&value)
            .map(|error| format!("{error} at {}", error.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:?}", case.name);
        let back: Session = serde_json::from_value(value).expect("a session");
        assert_eq!(back.reps.len(), case.review.session.reps.len());
        ran += 1;
    }
    assert_eq!(ran, SAMPLES);
}

/// Something done to a sound result.
type Break<'a> = Box<dyn Fn(&mut Value) + 'a>;

#[test]
fn a_broken_result_does_not_follow_the_schema() {
    let validator = jsonschema::validator_for(&report::json::schema()).expect("a valid schema");
    let sound: serde_json::Value =
        serde_json::from_str(&report::json::review(&cases()[0].review.session)).unwrap();
    assert!(validator.is_valid(&sound));
    // A measure that has a value in the first repetition.
    let measure = sound["reps"][0]["readings"]
        .as_object()
        .expect("readings")
        .iter()
        .find(|(_, row)| row["value"].is_number())
        .map(|(id, _)| id.clone())
        .expect("a reading with a value");
    let reading = format!("/reps/0/readings/{measure}");
    let breaks: Vec<(&str, Break<'_>)> = vec![
        (
            "another format",
            Box::new(|v| v["format"] = json!("other/1")),
        ),
        ("no repetitions", Box::new(|v| drop(remove(v, "", "reps")))),
        ("a side that is none", Box::new(|v| v["side"] = json!("up"))),
        (
            "a verdict that is none",
            Box::new(|v| v["reps"][0]["verdict"] = json!("good")),
        ),
        (
            "a value in words",
            Box::new(|v| *v.pointer_mut(&format!("{reading}/value")).unwrap() = json!("31")),
        ),
        (
            "a value without its interval",
            Box::new(|v| drop(remove(v, &reading, "low"))),
        ),
        (
            "an absence without a reason",
            Box::new(|v| {
                *v.pointer_mut(&reading).unwrap() = json!({ "value": null, "unit": "deg" });
            }),
        ),
        (
            "a value that also has a reason for its absence",
            Box::new(|v| {
                v.pointer_mut(&reading).unwrap()["why"] = json!({ "code": "x", "text": "y" });
            }),
        ),
    ];
    for (what, break_it) in &breaks {
        let mut value = sound.clone();
        break_it(&mut value);
        assert!(!validator.is_valid(&value), "{what} passes");
    }
    assert_eq!(breaks.len(), 8);
}

fn remove(value: &mut Value, at: &str, key: &str) -> Value {
    value
        .pointer_mut(at)
        .and_then(Value::as_object_mut)
        .and_then(|map| map.remove(key))
        .expect("something to remove")
}

/// Values of an attribute in a page. The `=` keeps words of the text apart.
fn attributes<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let start = format!(" {name}=\"");
    page.match_indices(&start)
        .filter_map(|(at, _)| page[at + start.len()..].split('"').next())
        .collect()
}

#[test]
fn the_page_is_one_file_that_asks_for_nothing() {
    let mut ran = 0;
    for case in cases() {
        let dir = written(case);
        let page = fs::read_to_string(dir.path().join("review.html")).expect("review.html");
        for fetch in [
            "http://",
            "https://",
            "ftp://",
            "//cdn",
            "@import",
            "url(",
            "fetch(",
            "XMLHttpRequest",
            "WebSocket",
            "EventSource",
            "import(",
            "sendBeacon",
            "<iframe",
            "<object",
            "<embed",
            "<base",
        ] {
            assert!(!page.contains(fetch), "{}: {fetch}", case.name);
        }
        let links = attributes(&page, "href");
        assert!(links.len() >= 2, "{}: {links:?}", case.name);
        for link in links {
            let inside = link
                .strip_prefix('#')
                .is_some_and(|id| !id.is_empty() && page.contains(&format!("id=\"{id}\"")));
            assert!(inside || link == "data:,", "{}: {link}", case.name);
        }
        for name in ["src", "srcset", "action", "poster", "xlink:href"] {
            assert_eq!(attributes(&page, name), Vec::<&str>::new(), "{}", case.name);
        }
        assert!(page.contains("default-src 'none'"), "{}", case.name);
        // What a reader on a phone line can take for a clip of under a minute.
        assert!(page.len() < 600_000, "{}: {} bytes", case.name, page.len());
        ran += 1;
    }
    assert_eq!(ran, SAMPLES);
}

#[test]
fn what_the_file_calls_itself_cannot_become_part_of_the_page() {
    let case = &cases()[0];
    let scripts = |page: &str| page.matches("<script").count();
    let plain = report::html::page(&case.review, &case.context).expect("a page");
    let mut review = case.review.clone();
    let hostile = "</script><script>alert(1)</script>\"'&.json";
    review.session.clip.source = hostile.into();
    review.session.clip.person = hostile.into();
    review
        .session
        .notes
        .iter_mut()
        .for_each(|note| note.text = hostile.into());
    for rep in &mut review.session.reps {
        for row in rep.readings.values_mut().filter(|row| row.value.is_none()) {
            row.why = Some(Reason {
                code: hostile.into(),
                text: hostile.into(),
            });
        }
    }
    let page = report::html::page(&review, &case.context).expect("a page");
    assert!(page.contains("alert(1)"));
    assert!(!page.contains("<script>alert"));
    assert_eq!(scripts(&page), scripts(&plain));
}

#[test]
fn page_and_summary_say_the_same_counts() {
    for case in cases() {
        let summary = text::terminal(&case.review.session, &case.context, text::Colour::Never);
        let page = report::html::page(&case.review, &case.context).expect("a page");
        let headline = page
            .split_once("<p class=\"headline\">")
            .and_then(|(_, rest)| rest.split_once("</p>"))
            .map(|(headline, _)| headline)
            .expect("a headline");
        let flat = summary.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(headline), "{}: {headline}", case.name);
    }
    assert_eq!(cases().len(), SAMPLES);
}
