//! The page: whole without a script or a network, with words for every drawing.

use super::command::{program, sample};

#[test]
fn the_page_holds_everything_and_asks_for_nothing() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let output = program()
        .args(["--quiet", "compare", &sample("clean-raise/track.csv.gz")])
        .args([&sample("plane-drift/track.json.gz"), "--side", "right"])
        .args([
            "--exercise",
            "scapular-raise",
            "--name-a",
            "<b>day</b>",
            "--out",
        ])
        .arg(dir.path())
        .output()
        .expect("the program runs");
    assert!(output.status.success());
    let mut names: Vec<String> = std::fs::read_dir(dir.path())
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    assert_eq!(names, ["compare.html", "compare.json"]);
    let page = std::fs::read_to_string(dir.path().join("compare.html")).expect("the page");
    let rows = page.matches("<article class=\"measure\"").count();
    let drawings = page
        .matches("<svg class=\"chart square\" role=\"img\" aria-label=\"")
        .count();
    assert!(rows >= 5, "{rows} measures");
    assert_eq!(drawings, 2 * rows);
    assert!(page.contains("&lt;b&gt;day&lt;") && !page.contains("<b>day</b>"));
    for word in ["<script", "http://", "https://", "NaN", "inf "] {
        let found = page.replace("http://www.w3.org", "").contains(word);
        assert!(!found, "`{word}` in the page");
    }
    for word in [
        "Cautions",
        "no diagnosis",
        "Kolber",
        "common practice, no source",
        "95 % interval",
    ] {
        assert!(page.contains(word), "no `{word}` in the page");
    }
}
