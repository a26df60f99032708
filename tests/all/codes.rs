//! Every code that the program can print is explained, and every reason has a remedy.

use crate::support::MODELS;
use scaplane::reading::Why;
use std::path::Path;

fn sources(folder: &Path, into: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|end| end == "rs") {
            into.push(std::fs::read_to_string(&path).expect("text"));
        }
    }
}

#[test]
fn every_code_is_explained() {
    for why in Why::ALL {
        let found = MODELS
            .explain(why.code())
            .unwrap_or_else(|| panic!("no {}", why.code()));
        assert!(!found.remedy.is_empty(), "{}: no remedy", why.code());
    }
    let mut texts = Vec::new();
    sources(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut texts,
    );
    let stages = [
        "read/",
        "condition/",
        "kinematics/",
        "lift/",
        "space/",
        "reps/",
        "usage/",
        "write/",
        "batch/",
        "plan/",
        "person/",
        "calibration/",
        "compare/",
        "casebook/",
        "video/",
        "stickers/",
    ];
    let mut looked_up = 0;
    for text in &texts {
        for literal in text.split('"').skip(1).step_by(1) {
            let is_code = stages.iter().any(|stage| {
                literal.strip_prefix(stage).is_some_and(|rest| {
                    !rest.is_empty() && rest.chars().all(|c| c.is_ascii_lowercase() || c == '-')
                })
            });
            if is_code {
                assert!(
                    MODELS.explain(literal).is_some(),
                    "`{literal}` is not explained"
                );
                looked_up += 1;
            }
        }
    }
    println!("{looked_up} codes looked up");
    assert!(looked_up > 50);
}
