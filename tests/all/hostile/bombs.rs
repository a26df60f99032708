//! Small files that unpack to very much: refused early, with little memory and in little time.

use super::packed::{gz, tar};
use super::{finished, not_refused, review, unsound};
use std::io::{Cursor, Read, Write};
use std::time::Instant;
use zip::write::SimpleFileOptions;

/// Bytes of what the bombs here unpack to; more than any limit that depends on the packed size.
const LARGE: u64 = 400 << 20;

/// A zip archive of entries of spaces.
fn zip_of_spaces(entries: usize, each: u64) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for entry in 0..entries {
        let options = SimpleFileOptions::default().large_file(each >= 1 << 32);
        archive
            .start_file(format!("{entry}.json"), options)
            .expect("an entry");
        let mut spaces = std::io::repeat(b' ').take(each);
        std::io::copy(&mut spaces, &mut archive).expect("memory takes bytes");
    }
    archive.finish().expect("an archive").into_inner()
}

fn gz_of(start: &[u8], filler: u8, length: u64) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    encoder.write_all(start).expect("memory takes bytes");
    let mut filling = std::io::repeat(filler).take(length);
    std::io::copy(&mut filling, &mut encoder).expect("memory takes bytes");
    encoder.finish().expect("memory takes bytes")
}

/// A zip archive whose end says that it has so many entries, which it has not.
fn lying_end(count: u16) -> Vec<u8> {
    let mut bytes = zip_of_spaces(2, 10);
    let end = bytes.len() - 22;
    assert!(bytes[end..].starts_with(b"PK\x05\x06"));
    for at in [end + 8, end + 10] {
        bytes[at..at + 2].copy_from_slice(&count.to_le_bytes());
    }
    bytes
}

/// A tar archive of one name that is as long as a film, in gzip.
fn endless_name() -> Vec<u8> {
    let length: u64 = 60 << 20;
    let mut header = tar::Header::new_gnu();
    header.set_path("././@LongLink").expect("a name");
    header.set_entry_type(tar::EntryType::GNULongName);
    header.set_size(length);
    header.set_cksum();
    let start = header.as_bytes().to_vec();
    gz_of(&start, b'x', length)
}

/// A tar archive of nothing but headers, in gzip.
fn endless_entries() -> Vec<u8> {
    let one = tar(&vec![("a.json".to_string(), Vec::new())]);
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    // A little more than may be unpacked whatever the ratio.
    for _ in 0..(70 << 20) / 512 {
        encoder.write_all(&one[..512]).expect("memory takes bytes");
    }
    encoder.finish().expect("memory takes bytes")
}

#[test]
fn bombs_are_refused() {
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        (
            "gzip of spaces after JSON",
            gz_of(b"[", b' ', LARGE),
            "read/limit",
        ),
        ("gzip of brackets", gz_of(b"", b'[', LARGE), "read/depth"),
        (
            "gzip of one line",
            gz_of(b"frame,x", b'x', LARGE),
            "read/limit",
        ),
        (
            "gzip of empty lines",
            gz_of(b"frame,point,x,y\n", b'\n', LARGE),
            "read/limit",
        ),
        ("one large entry", zip_of_spaces(1, LARGE), "read/limit"),
        (
            "many entries",
            zip_of_spaces(200, LARGE / 200),
            "read/limit",
        ),
        ("an end that lies", lying_end(60_000), "read/archive"),
        ("an endless name", endless_name(), "read/archive"),
        ("endless entries", endless_entries(), "read/limit"),
    ];
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (clip, out) = (folder.path().join("clip"), folder.path().join("out"));
    for (case, bytes, code) in &cases {
        std::fs::write(&clip, bytes).expect("the bomb");
        let started = Instant::now();
        let run = finished(&mut review(&clip, &out));
        assert_eq!(not_refused(&run, code), None, "{case}");
        assert!(!out.exists(), "{case}");
        println!(
            "{case}: {} kB, refused in {:.1} s",
            bytes.len() / 1024,
            started.elapsed().as_secs_f64()
        );
    }
}

/// More entries than the limit, each real.
#[test]
fn an_archive_with_too_many_entries_is_refused() {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for entry in 0..=scaplane::readers::limits::ENTRIES {
        archive
            .start_file(format!("{entry}.json"), stored)
            .expect("an entry");
    }
    let bytes = archive.finish().expect("an archive").into_inner();
    let result = super::read("many.zip", bytes);
    assert_eq!(unsound(&result), None);
    assert_eq!(result.expect_err("too many").code, "read/limit");
    // As a tar: half a kilobyte each.
    let one = tar(&vec![("a.json".to_string(), Vec::new())]);
    let many = one[..512].repeat(scaplane::readers::limits::ENTRIES + 2);
    assert_eq!(
        super::read("many.tar", many).expect_err("too many").code,
        "read/limit"
    );
    let packed = gz(&one);
    assert!(super::read("one.tar.gz", packed).is_err());
}
