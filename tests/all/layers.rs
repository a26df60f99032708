//! Data goes one way: a folder imports only from those before it.

use std::path::{Path, PathBuf};

/// Groups in order; a module may use its own group's other members only where `SAME` allows it.
const ORDER: [&[&str]; 18] = [
    &[
        "digest", "dsp", "geom", "note", "reading", "simulate", "threads",
    ],
    &["body"],
    &["models"],
    &["track"],
    &["readers", "convert", "plan"],
    &["session"],
    &["kinematics", "reps"],
    &["condition"],
    &["measures"],
    &["judge"],
    &["pipeline"],
    &["patient", "compare", "fhir"],
    &["store"],
    &["course"],
    &["report"],
    &["batch"],
    &["media"],
    &["cli"],
];

fn rank(module: &str) -> Option<usize> {
    ORDER.iter().position(|group| group.contains(&module))
}

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|end| end == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn imports_go_one_way() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    files(&root, &mut all);
    let mut wrong = Vec::new();
    let mut looked_at = 0;
    for path in all {
        let inner = path.strip_prefix(&root).expect("below src");
        let module = inner
            .components()
            .next()
            .expect("a part")
            .as_os_str()
            .to_string_lossy();
        let module = module.trim_end_matches(".rs");
        if ["lib", "main"].contains(&module) {
            continue;
        }
        let own = rank(module).unwrap_or_else(|| panic!("{module} has no place in the order"));
        let text = std::fs::read_to_string(&path).expect("text");
        // Tests inside a module may look anywhere.
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for (number, line) in code.lines().enumerate() {
            if line.trim_start().starts_with("//") {
                continue;
            }
            for used in line.split("crate::").skip(1) {
                let name: String = used
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                looked_at += 1;
                if name != module && rank(&name).is_some_and(|other| other > own) {
                    wrong.push(format!(
                        "{}:{}: {module} uses {name}",
                        inner.display(),
                        number + 1
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(looked_at > 150, "only {looked_at} imports");
}

#[test]
fn outside_crates_stay_in_their_room() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let rooms: [(&str, &[&str]); 9] = [
        ("clap", &["cli"]),
        ("plotters", &["report"]),
        ("imageproc", &["report"]),
        ("minijinja", &["report"]),
        ("rand_chacha", &["simulate"]),
        ("parquet", &["batch"]),
        ("indicatif", &["cli"]),
        ("rusqlite", &["store"]),
        ("opencv", &["media"]),
    ];
    let mut all = Vec::new();
    files(&root, &mut all);
    for path in all {
        let inner = path.strip_prefix(&root).expect("below src");
        let module = inner
            .components()
            .next()
            .expect("a part")
            .as_os_str()
            .to_string_lossy();
        let text = std::fs::read_to_string(&path).expect("text");
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for (name, allowed) in rooms {
            let used = code.contains(&format!("{name}::"));
            let stem = module.trim_end_matches(".rs");
            assert!(
                !used || allowed.contains(&stem) || stem == "lib",
                "{name} in {}",
                inner.display()
            );
        }
    }
}
