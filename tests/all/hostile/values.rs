//! Text that is well formed as a file and hostile in what it says, given to the program in every layout that
//! the simulation writes.

use super::{finished, program, read, unsound};
use scaplane::simulate::{Clip, Format, Recipe, simulate};
use std::process::Command;
use std::sync::LazyLock;

/// A clip of a few frames.
static CLIP: LazyLock<Clip> = LazyLock::new(|| {
    let recipe = Recipe {
        reps: 1,
        ..Recipe::default()
    };
    let mut clip = simulate(&recipe).expect("a sound recipe");
    clip.frames.truncate(20);
    clip.truth.frames.truncate(20);
    clip
});

/// The clip in a layout, as text.
fn text(format: Format) -> String {
    String::from_utf8(CLIP.bytes(format).expect("bytes")).expect("text")
}

/// Place of the number in the middle of a text, after its signs.
fn middle_number(text: &str) -> std::ops::Range<usize> {
    let bytes = text.as_bytes();
    let digit = |at: &usize| bytes[*at].is_ascii_digit();
    let apart = |at: &usize| matches!(bytes[*at - 1], b',' | b'[' | b':' | b'\t' | b' ' | b'\n');
    let start = (bytes.len() / 2..bytes.len())
        .find(|at| digit(at) && apart(at))
        .expect("a number");
    let number = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'.' | b'e' | b'-');
    let length = bytes[start..]
        .iter()
        .take_while(|byte| number(byte))
        .count();
    start..start + length
}

/// The text with its middle number replaced.
fn with_number(text: &str, value: &str) -> String {
    let range = middle_number(text);
    format!("{}{value}{}", &text[..range.start], &text[range.end..])
}

/// Values for a number.
const VALUES: [&str; 16] = [
    "NaN",
    "-NaN",
    "Infinity",
    "-Infinity",
    "1e400",
    "-1e400",
    "1e308",
    "1e-400",
    "99999999999999999999999999999999",
    "-0",
    "null",
    "\"\"",
    "0x10",
    "1,5",
    "1e",
    "--1",
];

/// The program on bytes: whether it converted, and its message.
fn run(bytes: &[u8]) -> (bool, String) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let clip = folder.path().join("clip");
    std::fs::write(&clip, bytes).expect("the clip");
    let mut command = Command::new(program());
    command.arg("inspect").arg(&clip);
    let run = finished(command.args(["--fps", "30", "--size", "1080x1920"]));
    let message = String::from_utf8_lossy(&run.stderr).into_owned();
    let clean = !message.contains("panicked") && run.status.code().is_some_and(|code| code < 2);
    assert!(clean, "{:?}: {message}", run.status);
    if !run.status.success() {
        let whole = message.starts_with("error[")
            && message.contains("\n   at ")
            && message.contains("\n   try ");
        assert!(whole, "{message}");
    }
    (run.status.success(), message)
}

#[test]
fn odd_numbers_are_refused_or_missing() {
    let (mut kept, mut refused) = (0, 0);
    for format in Format::ALL {
        let good = text(format);
        for value in VALUES {
            let result = read(format.id(), with_number(&good, value).into_bytes());
            assert_eq!(unsound(&result), None, "{} with {value}", format.id());
            if let Ok(opened) = &result {
                let layers = [&opened.track.picture, &opened.track.space];
                for layer in layers.into_iter().flatten() {
                    assert_eq!(layer.frames(), opened.track.frames(), "{}", format.id());
                }
            }
            match result {
                Ok(_) => kept += 1,
                Err(_) => refused += 1,
            }
        }
        // One of them through the program itself.
        run(with_number(&good, "1e400").as_bytes());
    }
    println!("{kept} read, {refused} refused");
    assert!(kept > 0 && refused > 0);
}

#[test]
fn a_mark_at_the_start_and_other_line_ends_change_nothing() {
    let mut ran = 0;
    for format in Format::ALL {
        let good = text(format);
        let whole = |text: String| {
            let opened = read(format.id(), text.into_bytes());
            let opened = opened.unwrap_or_else(|fault| panic!("{}: {fault}", format.id()));
            format!("{:?}", opened.track)
        };
        let plain = whole(good.clone());
        assert_eq!(whole(format!("\u{feff}{good}")), plain, "{}", format.id());
        assert_eq!(whole(good.replace('\n', "\r\n")), plain, "{}", format.id());
        let mut marked = vec![0xef, 0xbb, 0xbf];
        marked.extend(good.replace('\n', "\r\n").bytes());
        assert!(run(&marked).0, "{}", format.id());
        ran += 1;
    }
    println!("{ran} layouts with a byte order mark and with CRLF");
}

#[test]
fn bytes_that_are_no_text_are_refused() {
    let mut ran = 0;
    for format in Format::ALL {
        let good = text(format).into_bytes();
        for step in 1..20 {
            for bad in [&b"\xff"[..], b"\xc3\x28", b"\xed\xa0\x80", b"\0"] {
                let mut bytes = good.clone();
                let at = step * good.len() / 20;
                bytes.splice(at..at, bad.iter().copied());
                let result = read(format.id(), bytes);
                assert_eq!(
                    unsound(&result),
                    None,
                    "{} with {bad:?} at {at}",
                    format.id()
                );
                ran += 1;
            }
        }
        let mut bytes = good.clone();
        bytes.splice(good.len() / 2..good.len() / 2, *b"\xff\xfe");
        run(&bytes);
    }
    println!("{ran} files with bytes that are no text");
}

#[test]
fn a_key_given_twice_is_refused_or_read_in_one_way() {
    let (mut read_in, mut refused) = (0, 0);
    for format in Format::ALL {
        let good = text(format);
        if !good.starts_with(['{', '[']) {
            continue;
        }
        for value in ["1", "null", "[]", "\"x\"", "{}"] {
            // Doubles every key once, with another value before the true one.
            let keys: std::collections::BTreeSet<&str> = good
                .split('"')
                .skip(1)
                .step_by(2)
                .filter(|key| good.contains(&format!("\"{key}\":")))
                .collect();
            for key in keys.into_iter().take(40) {
                let bytes = good.replacen(
                    &format!("\"{key}\":"),
                    &format!("\"{key}\":{value},\"{key}\":"),
                    1,
                );
                let result = read(format.id(), bytes.into_bytes());
                assert_eq!(unsound(&result), None, "{} {key} {value}", format.id());
                match result {
                    Ok(_) => read_in += 1,
                    Err(_) => refused += 1,
                }
            }
        }
    }
    println!("{read_in} read, {refused} refused");
    assert!(refused > 0);
}

#[test]
fn what_is_nested_deeply_is_refused() {
    let mut ran = 0;
    for depth in [49, 128, 1000, 1_000_000] {
        for (open, close) in [
            ("[", "]"),
            ("{\"people\":", "}"),
            ("[{\"keypoints\":", "}]"),
        ] {
            let text = format!("{}1{}", open.repeat(depth), close.repeat(depth));
            let (good, message) = run(text.as_bytes());
            let named = message.starts_with("error[read/depth]");
            assert!(!good && named, "{depth} of {open}: {message}");
            ran += 1;
        }
        // Inside a good file, after frames that were read.
        let good = text(Format::Body25);
        let bad = with_number(
            &good,
            &format!("{}{}", "[".repeat(depth), "]".repeat(depth)),
        );
        assert!(run(bad.as_bytes()).1.starts_with("error[read/depth]"));
        ran += 1;
    }
    println!("{ran} deeply nested files");
}
