//! Before the program is built: the definition files once more, as JSON, which is read some ten times faster.
//!
//! In: `models/`. Out: `parsed.rs`, a list of paths and JSON texts. What it cannot read it leaves out; the
//! program then reads the file itself and says what is wrong.

use std::fmt::Write;
use std::path::Path;

fn main() {
    let models = Path::new(&variable("CARGO_MANIFEST_DIR")).join("models");
    let mut out = String::from("&[\n");
    for folder in ["", "exercises", "skeletons"] {
        let below = models.join(folder);
        println!("cargo::rerun-if-changed={}", below.display());
        let Ok(entries) = std::fs::read_dir(&below) else {
            continue;
        };
        let mut paths: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
        paths.sort();
        for path in paths {
            let toml = path.extension().is_some_and(|end| end == "toml");
            if let (true, Some(name), Some(json)) = (toml, path.file_name(), json(&path)) {
                let name = Path::new(folder).join(name);
                let name = name.to_string_lossy().replace('\\', "/");
                let _ = writeln!(out, "({name:?}, {json:?}),");
            }
        }
    }
    out.push(']');
    let to = Path::new(&variable("OUT_DIR")).join("parsed.rs");
    if let Err(error) = std::fs::write(&to, out) {
        panic!("{}: {error}", to.display());
    }
}

fn json(path: &Path) -> Option<String> {
    let table: toml::Table = toml::from_str(&std::fs::read_to_string(path).ok()?).ok()?;
    serde_json::to_string(&table).ok()
}

fn variable(name: &str) -> String {
    std::env::var(name).unwrap_or_default()
}
