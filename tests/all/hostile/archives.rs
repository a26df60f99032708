//! Archives: read as the folder or file inside, and refused in words where they cannot be.

use super::packed::{Files, frames, gz, table, tar, zip};
use super::{files_below, finished, not_refused, options, program, read, review, unsound};
use crate::support::MODELS;
use scaplane::convert::{Target, bytes};
use scaplane::readers::{Opened, Source, open, open_source};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Frames of the archives here: enough for a track.
const FRAMES: usize = 40;

/// The track as text, with which two are compared.
fn track(opened: &Opened) -> String {
    let table = bytes(&opened.track, Target::Tidy2d).expect("a table");
    String::from_utf8(table).expect("text")
}

/// The three packings of files.
fn packings(files: &Files) -> [(&'static str, Vec<u8>); 3] {
    let tarred = tar(files);
    let packed = gz(&tarred);
    [
        ("a.zip", zip(files)),
        ("a.tar", tarred),
        ("a.tar.gz", packed),
    ]
}

/// `scaplane convert` of a clip to a table.
fn convert(clip: &Path) -> Command {
    let mut command = Command::new(program());
    command.arg("convert").arg(clip);
    command.args(["--to", "tidy-2d", "--fps", "30", "--size", "1080x1920"]);
    command
}

#[test]
fn an_archive_of_frames_is_read_as_the_folder() {
    // As `convert` reads.
    let models = MODELS.clone().with_every_joint();
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, bytes) in frames(FRAMES, "") {
        std::fs::write(folder.path().join(name), bytes).expect("a frame");
    }
    let plain = open(folder.path(), &options(), &models).expect("the folder");
    assert_eq!(plain.facts.frames, FRAMES);
    let converted = finished(&mut convert(folder.path())).stdout;
    let converted = String::from_utf8(converted).expect("text");
    assert!(converted.lines().count() > FRAMES);
    let mut files = frames(FRAMES, "clip/");
    // Entries out of order, and what systems add.
    files.reverse();
    files.push((
        "__MACOSX/clip/._track_000000000000_keypoints.json".into(),
        vec![0, 5],
    ));
    files.push(("clip/.DS_Store".into(), vec![0; 9]));
    let mut ran = 0;
    for (name, bytes) in packings(&files) {
        let source = Source::from_bytes(name, bytes.clone());
        let opened = open_source(&source, &options(), &models)
            .unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(track(&opened), track(&plain), "{name}");
        assert_eq!(opened.facts.reader, "openpose");
        assert!(
            opened
                .notes
                .iter()
                .all(|note| note.code != "read/mixed-folder")
        );
        // The hash is that of the archive, whatever is in it.
        let path = folder.path().join("packed");
        std::fs::write(&path, &bytes).expect("the archive");
        let stored = Source::from_bytes(name, bytes.clone())
            .sha256()
            .expect("a hash");
        assert_eq!(opened.sha256, stored, "{name}");
        let on_disk = open(&path, &options(), &models).expect("by its bytes, not its name");
        assert_eq!(
            (track(&on_disk), on_disk.sha256),
            (track(&plain), stored),
            "{name}"
        );
        // Standard input.
        let mut child = convert(Path::new("-"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut input = child.stdin.take().expect("its input");
        input.write_all(&bytes).expect("it reads");
        drop(input);
        let run = child.wait_with_output().expect("it ends");
        let answer = String::from_utf8_lossy(&run.stdout);
        assert!(
            run.status.success() && answer == converted,
            "{name}: {run:?}"
        );
        ran += 1;
    }
    println!("{ran} packings, each from memory, from disk and piped in");
}

#[test]
fn an_archive_of_one_export_is_that_file() {
    let table = table();
    let plain = read("a.csv", table.clone()).expect("the table");
    let files = vec![
        ("export/README.md".to_string(), b"# about".to_vec()),
        ("export/track.csv".to_string(), table.clone()),
        ("export/preview.png".to_string(), b"\x89PNG\0".to_vec()),
    ];
    for (name, bytes) in packings(&files) {
        let opened = read(name, bytes).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(track(&opened), track(&plain), "{name}");
        let note = opened
            .notes
            .iter()
            .find(|note| note.code == "read/mixed-folder");
        assert!(
            note.is_some_and(|note| note.text.starts_with("2 entries")),
            "{note:?}"
        );
    }
    // A compressed table inside is one, too; and a fault inside names both.
    let packed = zip(&vec![("track.csv.gz".to_string(), gz(&table))]);
    assert_eq!(
        track(&read("a.zip", packed).expect("the table")),
        track(&plain)
    );
    let broken = zip(&vec![(
        "t.csv".to_string(),
        b"frame,point,x,y\n1,nose,a,2\n".to_vec(),
    )]);
    let fault = read("a.zip", broken).expect_err("not a number");
    assert_eq!(fault.place.file.as_deref(), Some("a.zip/t.csv"), "{fault}");
}

#[test]
fn names_of_an_archive_lead_nowhere() {
    // Not a hidden folder: what lies in one is passed over.
    let folder = tempfile::Builder::new().prefix("names-").tempdir();
    let folder = folder.expect("a temporary folder");
    let deep = folder.path().join("a/b/c/d");
    std::fs::create_dir_all(&deep).expect("folders");
    let absolute = folder
        .path()
        .join("absolute-evil.csv")
        .display()
        .to_string();
    let windows = "..\\..\\evil.csv".to_string();
    let names = [
        "../../evil.csv".to_string(),
        absolute,
        windows,
        "a/../../evil.csv".into(),
    ];
    let mut ran = 0;
    for name in names {
        let files = vec![(name.clone(), table())];
        for (packing, bytes) in packings(&files) {
            let clip = deep.join(packing);
            std::fs::write(&clip, bytes).expect("the archive");
            let before = files_below(folder.path());
            let run = finished(
                Command::new(program())
                    .args(["convert", packing, "--to", "tidy-2d"])
                    .current_dir(&deep),
            );
            assert!(run.status.success(), "{name} in {packing}: {run:?}");
            assert_eq!(files_below(folder.path()), before, "{name} in {packing}");
            std::fs::remove_file(&clip).expect("the archive");
            ran += 1;
        }
    }
    println!("{ran} archives with names that lead elsewhere; nothing was written");
}

/// Changes bytes in an archive without touching its sums.
fn replaced(mut bytes: Vec<u8>, old: &[u8], new: &[u8]) -> Vec<u8> {
    assert_eq!(old.len(), new.len());
    let mut count = 0;
    for at in 0..bytes.len().saturating_sub(old.len()) {
        if bytes[at..].starts_with(old) {
            bytes[at..at + old.len()].copy_from_slice(new);
            count += 1;
        }
    }
    assert!(count > 0, "nothing was replaced");
    bytes
}

/// A zip archive whose entries say that they are encrypted: bit 0 of the flags, in both headers.
fn locked(mut bytes: Vec<u8>) -> Vec<u8> {
    for at in 0..bytes.len() {
        if bytes[at..].starts_with(b"PK\x03\x04") {
            bytes[at + 6] |= 1;
        } else if bytes[at..].starts_with(b"PK\x01\x02") {
            bytes[at + 8] |= 1;
        }
    }
    bytes
}

/// A tar archive with a link to each kind of trouble beside the frames.
fn with_links(files: &Files) -> Vec<u8> {
    let mut archive = tar::Builder::new(tar(files));
    // The end of the archive inside is taken off, so that more can follow.
    let inner = archive.get_mut();
    let end = inner.len() - 1024;
    inner.truncate(end);
    for (name, kind, target) in [
        ("loop.json", tar::EntryType::Symlink, "loop.json"),
        ("passwords.json", tar::EntryType::Symlink, "/etc/passwd"),
        ("hard.json", tar::EntryType::Link, "../../x.json"),
        ("pipe.json", tar::EntryType::Fifo, ""),
        ("disk.json", tar::EntryType::Block, ""),
    ] {
        let mut header = tar::Header::new_gnu();
        header.set_entry_type(kind);
        header.set_size(0);
        header.set_path(name).expect("a name");
        let field = &mut header.as_old_mut().linkname;
        field[..target.len()].copy_from_slice(target.as_bytes());
        header.set_cksum();
        archive.append(&header, &b""[..]).expect("an entry");
    }
    archive.into_inner().expect("an archive")
}

#[test]
fn links_in_an_archive_are_not_followed() {
    let opened = read("a.tar", with_links(&frames(FRAMES, ""))).expect("the frames");
    assert_eq!(opened.facts.frames, FRAMES);
    let note = opened
        .notes
        .iter()
        .find(|note| note.code == "read/mixed-folder");
    assert!(
        note.is_some_and(|note| note.text.starts_with("5 entries")),
        "{note:?}"
    );
}

#[test]
fn archives_that_cannot_be_read_are_refused_in_words() {
    let one = |name: &str, bytes: Vec<u8>| vec![(name.to_string(), bytes)];
    let few = frames(12, "");
    let twice = replaced(zip(&few), b"000000000001_key", b"000000000000_key");
    let mut in_tar = few.clone();
    in_tar.push(few[3].clone());
    let two_clips: Files = frames(12, "a/")
        .into_iter()
        .chain(frames(12, "b/"))
        .collect();
    let mixed = [few.clone(), one("track.csv", table())].concat();
    let cases: Vec<(&str, Vec<u8>, &str, &str)> = vec![
        ("locked", locked(zip(&few)), "read/archive", "password"),
        ("twice in a zip", twice, "read/archive", "both called"),
        (
            "twice in a tar",
            tar(&in_tar),
            "read/archive",
            "both called",
        ),
        ("two clips", zip(&two_clips), "read/archive", "2 folders"),
        ("two kinds", zip(&mixed), "read/archive", "13 exports"),
        (
            "a zip in a zip",
            zip(&one("a.zip", zip(&few))),
            "read/archive",
            "inside",
        ),
        (
            "a tar in a zip",
            zip(&one("a", tar(&few))),
            "read/archive",
            "inside",
        ),
        (
            "a tar.gz in a tar",
            tar(&one("a.tar.gz", gz(&tar(&few)))),
            "read/archive",
            "inside",
        ),
        ("a zip in gzip", gz(&zip(&few)), "read/archive", "once more"),
        (
            "zips in a zip",
            zip(&[one("a.zip", zip(&few)), one("b.zip", zip(&few))].concat()),
            "read/archive",
            "inside",
        ),
        (
            "no export",
            zip(&[one("a.png", vec![1]), one("b.doc", vec![2])].concat()),
            "read/folder",
            "none of the 2",
        ),
        ("empty zip", zip(&Vec::new()), "read/folder", "no file"),
        (
            "only folders",
            tar(&one("clip/", Vec::new())),
            "read/folder",
            "no file",
        ),
        (
            "an empty export",
            zip(&one("a.json", Vec::new())),
            "read/empty",
            "nothing",
        ),
    ];
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (clip, out) = (folder.path().join("clip"), folder.path().join("out"));
    for (case, bytes, code, words) in &cases {
        std::fs::write(&clip, bytes).expect("the archive");
        let run = finished(&mut review(&clip, &out));
        assert_eq!(not_refused(&run, code), None, "{case}");
        let message = String::from_utf8_lossy(&run.stderr);
        assert!(
            message.contains(words) && message.contains("/clip"),
            "{case}: {message}"
        );
        assert!(!out.exists(), "{case}: something was written");
    }
    println!("{} archives refused", cases.len());
}

#[test]
fn an_archive_cut_short_is_never_read_as_a_shorter_clip() {
    let mut ran = 0;
    for (name, whole) in packings(&frames(FRAMES, "")) {
        assert!(read(name, whole.clone()).is_ok());
        // Cuts between entries are the dangerous ones: a tar is in blocks of 512 bytes.
        let step = whole.len() / 64;
        let even = (0..64).map(|cut| cut * step);
        let blocks = (1..whole.len() / 512).map(|block| block * 512);
        let cuts: Vec<usize> = match name {
            "a.tar" => even
                .chain(blocks.filter(|cut| *cut + 1024 < whole.len()))
                .collect(),
            _ => even.chain((whole.len() - 40)..whole.len()).collect(),
        };
        for cut in cuts {
            let result = read(name, whole[..cut].to_vec());
            assert_eq!(unsound(&result), None, "{name} cut at {cut}");
            assert!(
                result.is_err(),
                "{name} cut at {cut} of {} was read",
                whole.len()
            );
            ran += 1;
        }
    }
    println!("{ran} archives cut short");
    assert!(ran > 200);
}

#[test]
fn flipped_bytes_of_an_archive_are_noticed_or_do_nothing() {
    let files = vec![("track.csv".to_string(), table())];
    let (mut same, mut refused) = (0, 0);
    for (name, whole) in packings(&files) {
        let plain = track(&read(name, whole.clone()).expect("the table"));
        for step in 0..96 {
            let at = step * whole.len() / 96;
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << (step % 8);
            let result = read(name, bytes);
            assert_eq!(unsound(&result), None, "{name} flipped at {at}");
            match result {
                Err(_) => refused += 1,
                // A tar has no sum over its contents: there a digit may change, as in any text.
                Ok(opened) if name == "a.tar" || track(&opened) == plain => same += 1,
                Ok(_) => panic!("{name} flipped at {at}: another track"),
            }
        }
    }
    println!("{refused} refused, {same} read");
    assert!(refused > 96);
}
