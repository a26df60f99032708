//! HDF5 files: opening, and numbers and texts of one dataset.
//!
//! In: a member of a source. Out: the file behind a door that turns its errors into faults and bounds the memory
//! that a file can ask for. What the datasets mean is not known here. Numbers are read in windows of the frame
//! axis, never a whole dataset at once.

use super::source::io_fault;
use super::{Member, limits};
use crate::note::{Fault, FaultKind, Place};
use hdf5_reader::error::Error;
use hdf5_reader::group::Group;
use hdf5_reader::storage::FileStorage;
use hdf5_reader::{Dataset, Datatype, Hdf5File, OpenOptions, SliceInfo, SliceInfoElem};
use std::io;
use std::sync::Arc;

/// Most bytes of one decoded chunk: writers of the formats read here choose chunks of a megabyte at most.
const CHUNK: usize = 64 << 20;

/// Most bytes of one reading: a window of frames, or the list of names.
const READING: usize = 128 << 20;

/// Most bytes of the head of one object; column names of a table are kept in it, up to 64 kB each.
const OBJECT_HEAD: usize = 4 << 20;

/// Frames of a window.
pub const WINDOW: u64 = 4096;

/// An HDF5 file.
pub struct File {
    inner: Hdf5File,
    place: Place,
}

impl File {
    /// Opens a member. An HDF5 file is read here and there, so it is copied to a temporary file if it may be
    /// packed; the copy has no name and vanishes with its last use.
    ///
    /// # Errors
    /// It could not be read, or is no whole HDF5 file.
    pub fn open(member: &Member) -> Result<File, Fault> {
        let place = member.place();
        let failed = |error: &io::Error| io_fault(member.place(), error);
        let mut copy = tempfile::tempfile().map_err(|error| failed(&error))?;
        io::copy(&mut *member.open()?, &mut copy).map_err(|error| failed(&error))?;
        let options = OpenOptions::default()
            .with_max_chunk_bytes(CHUNK)
            .with_max_read_bytes(READING)
            .with_max_object_header_bytes(OBJECT_HEAD);
        let inner = FileStorage::from_file(copy)
            .and_then(|storage| Hdf5File::from_storage_with_options(Arc::new(storage), options))
            .map_err(|error| fault(&place, &error))?;
        Ok(File { inner, place })
    }

    /// The top group.
    ///
    /// # Errors
    /// It is damaged.
    pub fn root(&self) -> Result<Group, Fault> {
        self.told(self.inner.root_group())
    }

    /// The file as a place.
    pub fn place(&self) -> Place {
        self.place.clone()
    }

    /// The result, with the fault in words.
    ///
    /// # Errors
    /// Those of the result.
    pub fn told<T>(&self, result: Result<T, Error>) -> Result<T, Fault> {
        result.map_err(|error| fault(&self.place, &error))
    }

    /// A dataset of a group, or `None` if it has none of that name.
    ///
    /// # Errors
    /// It is damaged.
    pub fn dataset(&self, group: &Group, name: &str) -> Result<Option<Dataset>, Fault> {
        let (_, names) = self.told(group.member_names())?;
        match names.iter().any(|known| known == name) {
            true => self.told(group.dataset(name)).map(Some),
            false => Ok(None),
        }
    }

    /// Texts of a dataset, without what fills them up.
    ///
    /// # Errors
    /// It does not hold texts, or more than a file of keypoints has.
    pub fn texts(&self, dataset: &Dataset) -> Result<Vec<String>, Fault> {
        let count = self.told(dataset.num_elements())?;
        if count > limits::COLUMNS as u64 {
            return Err(self.too_many(dataset, count));
        }
        let texts = self.told(dataset.read_strings())?;
        let trim = |text: String| text.trim_matches(['\0', ' ']).to_string();
        Ok(texts.into_iter().map(trim).collect())
    }

    /// Whole numbers of a dataset, which must be few.
    ///
    /// # Errors
    /// It does not hold whole numbers, or too many.
    pub fn integers(&self, dataset: &Dataset) -> Result<Vec<i64>, Fault> {
        let count = self.told(dataset.num_elements())?;
        if count > limits::FRAMES as u64 {
            return Err(self.too_many(dataset, count));
        }
        let all = SliceInfo::all(dataset.ndim());
        let wide = |values: Vec<i32>| values.into_iter().map(i64::from).collect();
        let values = match dataset.dtype() {
            Datatype::FixedPoint { size: 8, .. } => dataset
                .read_slice::<i64>(&all)
                .map(|a| a.into_iter().collect()),
            Datatype::FixedPoint { size: 4, .. } => dataset
                .read_slice::<i32>(&all)
                .map(|a| wide(a.into_iter().collect())),
            Datatype::FixedPoint { size: 2, .. } => dataset
                .read_slice::<i16>(&all)
                .map(|a| wide(a.into_iter().map(i32::from).collect())),
            _ => dataset
                .read_slice::<i8>(&all)
                .map(|a| wide(a.into_iter().map(i32::from).collect())),
        };
        self.told(values)
    }

    /// Numbers of a window along one axis, in the order of the file.
    ///
    /// # Errors
    /// It is damaged or holds other numbers.
    pub fn window(&self, dataset: &Dataset, axis: usize, start: u64) -> Result<Vec<f32>, Fault> {
        let mut slice = SliceInfo::all(dataset.ndim());
        let end = dataset.shape().get(axis).copied().unwrap_or(0);
        if let Some(range) = slice.selections.get_mut(axis) {
            *range = SliceInfoElem::Slice {
                start,
                end: end.min(start + WINDOW),
                step: 1,
            };
        }
        let values = match dataset.dtype() {
            Datatype::FloatingPoint { size: 4, .. } => dataset
                .read_slice::<f32>(&slice)
                .map(|a| a.into_iter().collect()),
            _ => dataset
                .read_slice::<f64>(&slice)
                .map(|a| a.into_iter().map(|value| value as f32).collect()),
        };
        self.told(values)
    }

    /// The fault for a dataset that is longer than any of its kind.
    pub fn too_many(&self, dataset: &Dataset, count: u64) -> Fault {
        Fault::new(
            FaultKind::Limit,
            "read/limit",
            format!("the dataset `{}` states {count} entries", dataset.name()),
            self.place(),
            "cutting the clip into shorter ones",
        )
    }
}

/// The innermost error: the outer ones only name the object.
fn innermost(error: &Error) -> &Error {
    match error {
        Error::Context { source, .. } => innermost(source),
        other => other,
    }
}

fn fault(place: &Place, error: &Error) -> Fault {
    let (kind, code, what, remedy) = match innermost(error) {
        Error::Io(inner) if inner.kind() != io::ErrorKind::UnexpectedEof => {
            return io_fault(place.clone(), inner);
        }
        Error::UnsupportedFilter(_) | Error::UnsupportedEncoding(_) => (
            FaultKind::Unsupported,
            "read/unknown-format",
            "the HDF5 file is packed in a way that is not read here",
            "exporting the same keypoints as CSV",
        ),
        Error::ResourceLimit(_) => (
            FaultKind::Limit,
            "read/limit",
            "the HDF5 file asks for more memory than keypoints need",
            "exporting the same keypoints as CSV",
        ),
        _ => (
            FaultKind::Malformed,
            "read/syntax",
            "the HDF5 file is cut off or damaged",
            "copying the file again, or exporting the same keypoints as CSV",
        ),
    };
    let detail: String = error.to_string().chars().take(200).collect();
    Fault::new(
        kind,
        code,
        format!("{what} ({detail})"),
        place.clone(),
        remedy,
    )
}
