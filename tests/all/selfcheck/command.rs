//! The command as a patient runs it: page and terminal say the same, in 80 columns, and no file is half written.

use super::{cases, said_in};
use scaplane::report::selfcheck::{page, terminal};
use scaplane::report::text::Colour;
use std::path::Path;
use std::process::{Command, Output};

const CLIP: &str = "sample-keypoints/plane-drift/track.json.gz";

fn selfcheck(more: &[&str]) -> Output {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["selfcheck", CLIP])
        .args(more)
        .output()
        .expect("the program runs")
}

fn printed(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn the_page_is_written_and_the_words_are_printed_in_both_languages() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().to_str().expect("a name");
    let common = [
        "--exercise",
        "scapular-raise",
        "--side",
        "right",
        "--out",
        out,
    ];
    let english = printed(&selfcheck(&common));
    assert!(english.contains("The camera saw you do this 10 times."));
    assert!(english.contains("> Bring your arm a little more to the front as you lift."));
    assert!(english.contains("It grew toward the end of the set."));
    let german = printed(&selfcheck(&[&common[..], &["--lang", "de"]].concat()));
    assert!(german.contains("Die Kamera hat diese Übung 10-mal gesehen."));
    for text in [&english, &german] {
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        assert!(!text.contains('\u{1b}'));
    }
    let names: Vec<_> = std::fs::read_dir(dir.path())
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name())
        .collect();
    assert_eq!(names, ["selfcheck.html"]);
    let page = std::fs::read_to_string(dir.path().join("selfcheck.html")).expect("the page");
    assert!(page.contains("lang=\"de\"") && page.trim_end().ends_with("</html>"));
}

#[test]
fn both_arms_have_a_page_each() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().to_str().expect("a name");
    let text = printed(&selfcheck(&[
        "--exercise",
        "scapular-raise",
        "--side",
        "both",
        "--out",
        out,
    ]));
    assert!(text.contains("left arm") && text.contains("right arm"));
    for side in ["left", "right"] {
        assert!(
            dir.path().join(side).join("selfcheck.html").is_file(),
            "{side}"
        );
    }
}

#[test]
fn a_plan_tells_exercise_side_and_when_to_stop() {
    let dir = tempfile::tempdir().expect("a folder");
    let plan = dir.path().join("plan.toml");
    std::fs::write(
        &plan,
        "format = \"scaplane.plan/1\"\npseudonym = \"P-07\"\nside = \"right\"\npain_limit = 3\n\
         [[exercise]]\nid = \"scapular-raise\"\nsets = 2\nrepetitions = 10\n",
    )
    .expect("a plan");
    let plan = plan.to_str().expect("a name");
    let calm = printed(&selfcheck(&["--plan", plan, "--pain-after", "2"]));
    assert!(calm.contains("Your plan asks for 2 sets of 10."), "{calm}");
    assert!(calm.contains("You gave your pain as 2 out of 10."));
    assert!(!calm.contains("P-07"));
    let stop = printed(&selfcheck(&["--plan", plan, "--pain-after", "3"]));
    assert!(stop.contains("PLEASE STOP HERE FOR NOW"));
    let (before, after) = (stop.find("PLEASE STOP"), stop.find("WHAT THE CAMERA SAW"));
    assert!(before < after && !stop.contains("> Bring your arm"));
}

#[test]
fn wrong_use_is_told_with_its_remedy() {
    let unknown = selfcheck(&["--exercise", "scapular-raise", "--lang", "xx"]);
    assert_eq!(unknown.status.code(), Some(2));
    let said = String::from_utf8_lossy(&unknown.stderr).into_owned();
    assert!(said.contains("en (English), de (Deutsch)"), "{said}");
    assert_eq!(selfcheck(&[]).status.code(), Some(2));
    let dir = tempfile::tempdir().expect("a folder");
    // A folder that has the page's name: nothing is written, and nothing is left behind.
    std::fs::create_dir(dir.path().join("selfcheck.html")).expect("a folder");
    let out = dir.path().to_str().expect("a name");
    let refused = selfcheck(&["--exercise", "scapular-raise", "--out", out]);
    assert_eq!(refused.status.code(), Some(1), "{refused:?}");
    assert_eq!(std::fs::read_dir(dir.path()).expect("a folder").count(), 1);
}

#[test]
fn an_exercise_of_ones_own_is_said_in_its_own_words() {
    let models = tempfile::tempdir().expect("a folder");
    let folder = models.path().join("exercises");
    std::fs::create_dir(&folder).expect("a folder");
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/exercises/scapular-raise.toml");
    let text = std::fs::read_to_string(own).expect("an exercise");
    let cue = "Bring your arm a little more to the front as you lift.";
    let text = text
        .replace(cue, "Reach for the kitchen door.")
        .replace("patient_title = \"Lift between front and side\"\n", "");
    std::fs::write(folder.join("scapular-raise.toml"), text).expect("written");
    let folder = models.path().to_str().expect("a name");
    let output = selfcheck(&[
        "--exercise",
        "scapular-raise",
        "--lang",
        "de",
        "--models",
        folder,
    ]);
    let german = printed(&output);
    assert!(german.contains("> Reach for the kitchen door."));
    assert!(german.contains("Raise in the scapular plane"));
    assert!(
        String::from_utf8_lossy(&output.stderr)
            .contains("2 texts of this exercise have no words in `de`")
    );
}

/// The text of a page without its tags, entities undone, spaces single.
fn plain(page: &str) -> String {
    let body = page.split_once("<body>").expect("a body").1;
    let mut text = String::new();
    let mut rest = body;
    while let Some((before, after)) = rest.split_once('<') {
        text.push_str(before);
        text.push(' ');
        rest = after.split_once('>').expect("a tag").1;
    }
    let text = text
        .replace("&#x27;", "'")
        .replace("&amp;", "&")
        .replace("&quot;", "\"");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn page_and_terminal_say_the_same() {
    for case in cases() {
        for language in ["en", "de"] {
            let said = said_in(case, language);
            let page = plain(&page(&said).expect("a page"));
            let text = terminal(&said, Colour::Never);
            let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let mut lines = vec![&said.title, &said.summary, &said.seen.headline];
            for part in [&said.praise, &said.unseen, &said.stop]
                .into_iter()
                .chain(&said.phone)
            {
                lines.extend(&part.lines);
            }
            lines.extend(&said.change.lines);
            lines.extend(&said.about);
            for cue in &said.change.cues {
                lines.push(&cue.text);
                lines.extend(&cue.lines);
            }
            for line in lines {
                assert!(
                    page.contains(line.as_str()) && flat.contains(&line.replace("  ", " ")),
                    "{}: {line}",
                    case.name
                );
            }
            for group in &said.seen.groups {
                assert!(
                    page.contains(&group.list) && flat.contains(&group.list),
                    "{}",
                    case.name
                );
            }
            assert!(text.lines().all(|line| line.chars().count() <= 80));
        }
    }
}

#[test]
fn the_page_is_one_file_without_a_script_that_asks_for_nothing() {
    for case in cases() {
        let page = page(&said_in(case, "en")).expect("a page");
        assert!(page.contains("default-src 'none'"));
        for fetch in [
            "<script",
            "http://",
            "https://",
            "@import",
            "url(",
            "<iframe",
            " src=",
            "<link rel=\"style",
        ] {
            assert!(!page.contains(fetch), "{}: {fetch}", case.name);
        }
        assert!(page.len() < 40_000, "{} bytes", page.len());
    }
}
