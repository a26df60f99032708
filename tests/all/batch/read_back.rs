//! The tables as other tools read them: pandas, Polars and DuckDB, run by SCAPLANE_PYTHON.

use super::Study;
use std::path::Path;
use std::process::Command;

#[test]
fn other_tools_read_the_same_tables() {
    let Some(python) = std::env::var_os("SCAPLANE_PYTHON") else {
        println!("SCAPLANE_PYTHON is not set: 0 tables were read back");
        return;
    };
    let study = Study::new(6);
    study.run("out", &[]);
    let schema = super::program()
        .args(["schema", "tables"])
        .output()
        .expect("the program runs");
    std::fs::write(study.path("schema.json"), schema.stdout).expect("the schema");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/tables/read_back.py");
    let run = Command::new(python)
        .arg(script)
        .arg(study.path("out"))
        .arg(study.path("schema.json"))
        .output()
        .expect("SCAPLANE_PYTHON can be run");
    let said = String::from_utf8_lossy(&run.stdout).into_owned();
    assert!(
        run.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&run.stderr)
    );
    print!("{said}");
    assert!(said.contains("4 tables read by 3 tools"), "{said}");
}
