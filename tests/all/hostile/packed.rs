//! Archives made for the tests.

use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

/// Names and bytes.
pub type Files = Vec<(String, Vec<u8>)>;

/// A zip archive of files.
pub fn zip(files: &Files) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        archive
            .start_file(name.as_str(), SimpleFileOptions::default())
            .expect("an entry");
        archive.write_all(bytes).expect("memory takes bytes");
    }
    archive.finish().expect("an archive").into_inner()
}

/// A tar archive of files; names are written as they are.
pub fn tar(files: &Files) -> Vec<u8> {
    let mut archive = tar::Builder::new(Vec::new());
    for (name, bytes) in files {
        let mut header = tar::Header::new_gnu();
        let field = &mut header.as_old_mut().name;
        field[..name.len()].copy_from_slice(name.as_bytes());
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        header.set_entry_type(tar::EntryType::Regular);
        header.set_cksum();
        archive.append(&header, bytes.as_slice()).expect("an entry");
    }
    archive.into_inner().expect("an archive")
}

/// Gzip of bytes.
pub fn gz(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(bytes).expect("memory takes bytes");
    encoder.finish().expect("memory takes bytes")
}

/// The frame files of the sample that has one file a frame, the first so many, below a folder.
pub fn frames(count: usize, folder: &str) -> Files {
    let all = super::files_below(&super::project("sample-keypoints/flared-elbow/track"));
    assert!(all.len() >= count, "the sample is shorter");
    all.iter()
        .take(count)
        .map(|path| {
            let name = path.file_name().expect("a name").to_string_lossy();
            let bytes = std::fs::read(path).expect("a frame");
            (format!("{folder}{name}"), bytes)
        })
        .collect()
}

/// A table that can be read: the same frames in one file.
pub fn table() -> Vec<u8> {
    use scaplane::convert::{Target, bytes};
    let opened = super::read("frames.tar", tar(&frames(40, ""))).expect("the sample");
    bytes(&opened.track, Target::Tidy2d).expect("a table")
}
