//! The files of a report: what is in the table and the picture, and what happens where nothing can be written.
#![allow(clippy::result_large_err)] // a fault ends the work; its size is paid once

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use scaplane::note::{Fault, FaultKind, Place};
use scaplane::report::{self, Context, Writer};
use scaplane::session::{Review, Verdict};

use super::{cases, written};

/// Names in a folder, sorted.
fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(dir)
        .expect("a folder")
        .map(|entry| {
            let name = entry.expect("an entry").file_name();
            name.to_string_lossy().into_owned()
        })
        .collect();
    names.sort();
    names
}

#[test]
fn the_table_has_a_row_for_each_repetition_and_units_in_its_columns() {
    let mut cells = 0;
    for case in cases() {
        let dir = written(case);
        let mut reader = csv::Reader::from_path(dir.path().join("reps.csv")).expect("reps.csv");
        let head: Vec<String> = reader.headers().unwrap().iter().map(String::from).collect();
        let mut unique = head.clone();
        unique.sort();
        unique.dedup();
        assert_eq!(unique.len(), head.len(), "{}: {head:?}", case.name);
        let rows: Vec<BTreeMap<String, String>> = reader
            .records()
            .map(|record| {
                let record = record.expect("an even row");
                head.iter()
                    .cloned()
                    .zip(record.iter().map(String::from))
                    .collect()
            })
            .collect();
        let reps = &case.review.session.reps;
        assert_eq!(rows.len(), reps.len(), "{}", case.name);
        for (row, rep) in rows.iter().zip(reps) {
            assert_eq!(row["number"], rep.number.to_string());
            for (column, seconds) in [("start_s", rep.start_s), ("end_s", rep.end_s)] {
                close(&row[column], seconds, 0.0006);
            }
            for (measure, reading) in &rep.readings {
                let stem = measure.replace('-', "_");
                let column = match reading.unit.as_str() {
                    "1" => stem.clone(),
                    unit => format!("{stem}_{unit}"),
                };
                close(&row[&column], reading.value, 0.0001);
                close(&row[&format!("{column}_low")], reading.low, 0.0001);
                close(&row[&format!("{column}_high")], reading.high, 0.0001);
                let why = reading.why.as_ref().map_or("", |why| why.code.as_str());
                assert_eq!(row[&format!("{stem}_why")], why, "{}: {measure}", case.name);
                cells += 1;
            }
        }
    }
    println!("{cells} readings compared");
    assert!(cells > 300);
}

/// A cell holds the number, or nothing where there is none.
fn close(cell: &str, number: Option<f64>, error: f64) {
    match number {
        None => assert_eq!(cell, ""),
        Some(number) => {
            let read: f64 = cell.parse().expect("a number");
            assert!((read - number).abs() <= error, "{read} for {number}");
        }
    }
}

#[test]
fn the_contact_sheet_decodes_and_shows_an_arm_in_every_panel() {
    // The measured arm's blue, Okabe and Ito's.
    const ARM: image::Rgb<u8> = image::Rgb([0x00, 0x72, 0xb2]);
    let mut sheets = 0;
    for case in cases() {
        let dir = written(case);
        let path = dir.path().join("worst-moments.png");
        let moments = case
            .review
            .session
            .reps
            .iter()
            .flat_map(|rep| &rep.findings);
        let any = moments
            .clone()
            .any(|f| f.worst_frame.is_some() && f.verdict != Verdict::CannotTell);
        if !path.exists() {
            assert!(
                !any,
                "{}: a finding with a moment, but no picture",
                case.name
            );
            continue;
        }
        let picture = image::open(&path).expect("a picture").to_rgb8();
        let arm = picture.pixels().filter(|pixel| **pixel == ARM).count();
        let (width, height) = picture.dimensions();
        println!("{}: {width} x {height}, {arm} pixels of arm", case.name);
        assert!(width >= 480 && height >= 640, "{}", case.name);
        // Panels are at most four side by side and 480 pixels wide.
        for panel in 0..(width / 480) {
            let left = panel * 480;
            let columns = left..(left + 480);
            let arm = picture
                .enumerate_pixels()
                .filter(|(x, y, pixel)| columns.contains(x) && *y < 640 && **pixel == ARM)
                .count();
            assert!(arm > 500, "{} panel {panel}: {arm}", case.name);
        }
        sheets += 1;
    }
    assert!(sheets >= 2, "{sheets} sheets");
}

/// A report with a name and bytes of our choice.
struct Made(&'static str, Result<&'static [u8], &'static str>);

impl Writer for Made {
    fn id(&self) -> &'static str {
        "made"
    }
    fn title(&self) -> &'static str {
        "For this test"
    }
    fn file_name(&self) -> &'static str {
        self.0
    }
    fn write(&self, _: &Review, _: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        match self.1 {
            Ok([]) => Ok(Vec::new()),
            Ok(bytes) => Ok(vec![(self.0.to_string(), bytes.to_vec())]),
            Err(why) => Err(Fault::new(
                FaultKind::Io,
                "report/writer",
                why,
                Place::file(self.0),
                "another writer",
            )),
        }
    }
}

#[test]
fn a_folder_that_cannot_be_written_gives_a_fault_and_nothing_half_written() {
    let case = &cases()[0];
    let mut ran = 0;
    let mut refused = |dir: &Path, watched: &Path, before: &[&str]| {
        let fault = report::write_all(dir, &case.review, &case.context)
            .expect_err("nothing can be written here");
        assert!(matches!(fault.kind, FaultKind::Io), "{fault}");
        assert_eq!(fault.exit_status(), 1, "{fault}");
        assert!(!fault.remedy.is_empty());
        assert_eq!(names(watched), before, "{fault}");
        ran += 1;
    };
    let home = tempfile::tempdir().expect("a temporary folder");

    // A file stands where the folder should be, or on the way to it.
    fs::write(home.path().join("file"), b"kept").expect("a file");
    refused(&home.path().join("file"), home.path(), &["file"]);
    refused(&home.path().join("file/out"), home.path(), &["file"]);
    assert_eq!(
        fs::read(home.path().join("file")).expect("the file"),
        b"kept"
    );

    // A folder stands where the last report should be: the first ones must not appear either.
    for name in ["review.html", "review.json", "reps.csv"] {
        let dir = tempfile::tempdir().expect("a temporary folder");
        fs::create_dir_all(dir.path().join(name).join("full")).expect("a folder");
        refused(dir.path(), dir.path(), &[name]);
    }
    assert_eq!(ran, 5);
}

#[cfg(unix)]
#[test]
fn a_folder_without_write_permission_stays_as_it_was() {
    use std::os::unix::fs::PermissionsExt;
    let case = &cases()[0];
    let dir = tempfile::tempdir().expect("a temporary folder");
    let shut = |mode| fs::set_permissions(dir.path(), fs::Permissions::from_mode(mode));
    shut(0o555).expect("a mode");
    // The superuser may write anywhere, then permission says nothing.
    let superuser = fs::write(dir.path().join("probe"), b"").is_ok();
    if superuser {
        println!("running as superuser: permission could not be tested");
        return;
    }
    let fault = report::write_all(dir.path(), &case.review, &case.context).expect_err("refused");
    shut(0o755).expect("a mode");
    assert!(fault.remedy.contains("may write"), "{fault}");
    assert!(names(dir.path()).is_empty());
}

#[test]
fn when_one_report_fails_none_is_written_and_old_ones_stay() {
    let case = &cases()[0];
    let write = |dir: &Path, writers: &[&dyn Writer]| {
        report::write_with(
            writers,
            dir,
            &case.review,
            &case.context,
            report::Settling::Now,
        )
    };
    let dir = tempfile::tempdir().expect("a temporary folder");
    let old = Made("a.txt", Ok(b"old"));
    let new = Made("a.txt", Ok(b"new"));
    let failing = Made("b.txt", Err("the encoder failed"));
    let nowhere = Made("missing/b.txt", Ok(b"lost"));
    write(dir.path(), &[&old]).expect("written");
    for bad in [&failing, &nowhere] {
        write(dir.path(), &[&new, bad]).expect_err("refused");
        assert_eq!(names(dir.path()), ["a.txt"], "{}", bad.0);
        let kept = fs::read(dir.path().join("a.txt")).expect("the old report");
        assert_eq!(kept, b"old", "{}", bad.0);
    }
    let paths = write(dir.path(), &[&new]).expect("written");
    assert_eq!(paths, [dir.path().join("a.txt")]);
    assert_eq!(fs::read(&paths[0]).expect("the new report"), b"new");

    // A report that has nothing to show this time leaves no picture of another clip behind.
    let silent = Made("a.txt", Ok(b""));
    assert!(write(dir.path(), &[&silent]).expect("nothing").is_empty());
    assert!(names(dir.path()).is_empty());
}
