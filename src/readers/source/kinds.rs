//! Which files of a folder or archive are exports, told by the end of their names.

/// Kinds of files of which a folder holds one for each frame. A folder with both is one of JSON: label files
/// stand beside it as notes do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FrameFile {
    /// A file of labels.
    Text,
    /// A file of JSON.
    Json,
}

impl FrameFile {
    /// The kind by the name; hidden files are none.
    pub fn of(name: &str) -> Option<FrameFile> {
        match ending(name)?.as_str() {
            "json" => Some(FrameFile::Json),
            "txt" => Some(FrameFile::Text),
            _ => None,
        }
    }

    /// The kind by the name in a folder of frames: a label file there has the number of its frame in its name;
    /// names of classes and notes have none.
    pub fn of_frame(name: &str) -> Option<FrameFile> {
        let numbered = name.bytes().any(|byte| byte.is_ascii_digit());
        FrameFile::of(name).filter(|kind| *kind != FrameFile::Text || numbered)
    }
}

/// Endings of a single file that holds a whole clip, beside those of [`FrameFile`].
const WHOLE: [&str; 8] = ["csv", "tsv", "trc", "c3d", "npy", "h5", "hdf5", "slp"];

/// Endings of archives.
const PACKED: [&str; 8] = ["zip", "tar", "tgz", "npz", "7z", "rar", "bz2", "xz"];

/// Whether the name is that of a file that holds a whole clip and never one frame.
pub fn is_whole(name: &str) -> bool {
    ending(name).is_some_and(|end| WHOLE.contains(&end.as_str()))
}

/// Whether the name is that of a NumPy array.
pub(super) fn is_array(name: &str) -> bool {
    ending(name).is_some_and(|end| end == "npy")
}

/// Whether the name is that of an archive.
pub fn is_packed(name: &str) -> bool {
    ending(name).is_some_and(|end| PACKED.contains(&end.as_str()))
}

/// The ending in small letters, that before `.gz` if there is one; none of a hidden file.
fn ending(name: &str) -> Option<String> {
    let lower = name.to_ascii_lowercase();
    let stem = lower.strip_suffix(".gz").unwrap_or(&lower);
    let (_, end) = stem.rsplit_once('.')?;
    (!lower.starts_with('.')).then(|| end.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_what_a_file_may_be() {
        assert_eq!(FrameFile::of("A_1.JSON.gz"), Some(FrameFile::Json));
        assert_eq!(FrameFile::of("7.txt"), Some(FrameFile::Text));
        assert_eq!(FrameFile::of("._7.json"), None);
        assert!(is_whole("walk.trc") && is_whole("a.csv.gz") && !is_whole("a.json"));
        assert!(is_packed("a.tar.gz") && is_packed("a.zip") && !is_packed("a.json.gz"));
        assert!(is_array("S.npy") && !is_array("npy"));
    }
}
