//! DeepLabCut tables as pandas stores them in HDF5.
//!
//! In: a group of an open HDF5 file. Out: a recording. Both forms are read: "table", one compound dataset whose
//! column names are pickled in an attribute, and "fixed", one block of numbers with the names as levels and
//! codes. A column is named by scorer, perhaps individual, body part and coordinate. Names of datasets and
//! attributes are those of files written by pandas 3 with PyTables.

use super::gather::Gather;
use super::hdf5_file::{File, WINDOW};
use super::layout::{Known, Layout};
use super::pandas_columns::{Columns, Rows, broken};
use super::pickled_names;
use super::sketch::listed;
use super::{ReadOptions, limits};
use crate::models::Models;
use crate::note::{Fault, Note};
use crate::track::{Recording, Scale};
use hdf5_reader::group::Group;
use hdf5_reader::{ByteOrder, Dataset, Datatype};

/// Likelihood below which a point counts as not seen: the estimator's own cut-off for plots and videos
/// (`pcutoff`, from memory, not verified), as for its CSV.
const LEAST_LIKELIHOOD: f64 = 0.6;

/// Most levels of column names.
const LEVELS: usize = 4;

/// Whether a group holds a table of pandas.
///
/// # Errors
/// The group is damaged.
pub fn is_table(file: &File, group: &Group) -> Result<bool, Fault> {
    let attributes = file.told(group.attributes())?;
    Ok(attributes.iter().any(|one| one.name == "pandas_type"))
}

/// Reads the table.
///
/// # Errors
/// It is damaged, its columns are not those of keypoints, or no name is known.
pub fn read(
    reader: &'static str,
    file: &File,
    group: &Group,
    options: &ReadOptions,
    models: &Models,
) -> Result<Recording, Fault> {
    let table = file.dataset(group, "table")?;
    let names = match &table {
        Some(table) => table_names(file, table)?,
        None => fixed_names(file, group)?,
    };
    let columns = Columns::of(file, &names)?;
    let known = Known {
        names: Some(&columns.names),
        count: columns.names.len(),
        stated: options.layout.as_deref(),
        usual: &[],
    };
    let layout = Layout::settle(known, models, &file.place().field("bodyparts"))?;
    let mut recording = Recording {
        scale: Scale::Pixels,
        least_score: LEAST_LIKELIHOOD,
        ..Recording::new(reader, layout.id.clone(), layout.joints.clone())
    };
    let unused = layout.unused(&columns.names);
    if !unused.is_empty() {
        recording.notes.push(Note::new(
            "read/points-unused",
            format!("No joint is taken from the points {}.", listed(&unused)),
        ));
    }
    let mut rows = Rows {
        file,
        gather: Gather::default(),
        columns: columns
            .all
            .iter()
            .filter(|column| {
                let name = columns.names.get(column.point);
                name.is_some_and(|name| !unused.contains(&name.as_str()))
            })
            .collect(),
    };
    match &table {
        Some(table) => table_rows(file, table, names.len(), &mut rows)?,
        None => fixed_rows(file, group, names.len(), &mut rows)?,
    }
    recording.frames = rows.gather.finish(&layout);
    Ok(recording)
}

/// Names of the columns of a "table", block after block.
fn table_names(file: &File, table: &Dataset) -> Result<Vec<Vec<String>>, Fault> {
    let mut names = Vec::new();
    for (block, _, width) in blocks(file, table)? {
        let attribute = file.told(table.attribute(&format!("{block}_kind")))?;
        // The pickle's text is in Latin-1.
        let text: String = attribute
            .raw_data
            .iter()
            .take_while(|byte| **byte != 0)
            .map(|byte| char::from(*byte))
            .collect();
        let more = pickled_names::tuples(&text)
            .filter(|more| more.len() == width)
            .ok_or_else(|| {
                broken(
                    file,
                    &block,
                    "the names of the columns cannot be understood",
                )
            })?;
        names.extend(more);
    }
    Ok(names)
}

/// A number in a row.
#[derive(Clone, Copy)]
struct Number {
    offset: usize,
    size: usize,
    order: ByteOrder,
}

impl Number {
    fn of(datatype: &Datatype, offset: usize) -> Option<Number> {
        match datatype {
            Datatype::FloatingPoint { size, byte_order } if matches!(size, 4 | 8) => Some(Number {
                offset,
                size: usize::from(*size),
                order: *byte_order,
            }),
            _ => None,
        }
    }

    /// The number at a place of a list.
    fn read(self, row: &[u8], index: usize) -> f32 {
        let start = self.offset + index * self.size;
        let bytes = row.get(start..start + self.size).unwrap_or_default();
        let little = matches!(self.order, ByteOrder::LittleEndian);
        match (<[u8; 4]>::try_from(bytes), <[u8; 8]>::try_from(bytes)) {
            (Ok(four), _) if little => f32::from_le_bytes(four),
            (Ok(four), _) => f32::from_be_bytes(four),
            (_, Ok(eight)) if little => f64::from_le_bytes(eight) as f32,
            (_, Ok(eight)) => f64::from_be_bytes(eight) as f32,
            _ => f32::NAN,
        }
    }
}

/// Blocks of numbers of a row: name, place and number of columns.
fn blocks(file: &File, table: &Dataset) -> Result<Vec<(String, Number, usize)>, Fault> {
    let Datatype::Compound { fields, .. } = table.dtype() else {
        return Err(broken(file, "table", "the table has no columns"));
    };
    let mut all = Vec::new();
    for field in fields
        .iter()
        .filter(|field| field.name.starts_with("values_block_"))
    {
        let (base, width) = match &field.datatype {
            Datatype::Array { base, dims } => (base.as_ref(), dims.iter().product::<u64>()),
            single => (single, 1),
        };
        let number = Number::of(base, field.byte_offset as usize)
            .filter(|_| width <= limits::COLUMNS as u64)
            .ok_or_else(|| broken(file, &field.name, "the columns hold no plain numbers"))?;
        all.push((field.name.clone(), number, width as usize));
    }
    match all.is_empty() {
        false => Ok(all),
        true => Err(broken(file, "table", "the table has no block of numbers")),
    }
}

fn table_rows(file: &File, table: &Dataset, columns: usize, rows: &mut Rows) -> Result<(), Fault> {
    let blocks = blocks(file, table)?;
    let (size, index) = match table.dtype() {
        Datatype::Compound { size, fields } => {
            (*size as usize, fields.iter().find(|f| f.name == "index"))
        }
        _ => (0, None),
    };
    // The index holds frame numbers, or names of pictures in labelled data.
    let numbered = index.and_then(|field| match field.datatype {
        Datatype::FixedPoint { size: 8, .. } => Some(field.byte_offset as usize),
        _ => None,
    });
    let count = table.shape().first().copied().unwrap_or(0);
    if count > limits::FRAMES as u64 {
        return Err(file.too_many(table, count));
    }
    let mut values = Vec::with_capacity(columns);
    for chunk in file.told(table.iter_chunks())? {
        let chunk = file.told(chunk)?;
        let first = chunk.offsets().first().copied().unwrap_or(0);
        for (within, row) in chunk.bytes().chunks_exact(size.max(1)).enumerate() {
            let number = first + within as u64;
            if number >= count {
                break;
            }
            let stated = numbered
                .and_then(|at| row.get(at..at + 8)?.try_into().ok())
                .map(i64::from_le_bytes);
            values.clear();
            for (_, block, width) in &blocks {
                values.extend((0..*width).map(|index| block.read(row, index)));
            }
            rows.add(stated.unwrap_or(number as i64), &values)?;
        }
    }
    Ok(())
}

fn needed(file: &File, group: &Group, name: &str) -> Result<Dataset, Fault> {
    file.dataset(group, name)?
        .ok_or_else(|| broken(file, name, format!("there is no dataset `{name}`")))
}

/// Names of the columns of the one block of a "fixed" table.
fn fixed_names(file: &File, group: &Group) -> Result<Vec<Vec<String>>, Fault> {
    if file.dataset(group, "block1_values")?.is_some() {
        return Err(broken(
            file,
            "block1_values",
            "the table mixes kinds of numbers",
        ));
    }
    let mut names: Vec<Vec<String>> = Vec::new();
    for level in 0..LEVELS {
        let Some(texts) = file.dataset(group, &format!("block0_items_level{level}"))? else {
            break;
        };
        let texts = file.texts(&texts)?;
        let codes = needed(file, group, &format!("block0_items_label{level}"))?;
        let codes = file.integers(&codes)?;
        if level == 0 {
            if codes.len() > limits::COLUMNS {
                return Err(broken(file, "block0_items", "there are too many columns"));
            }
            names = vec![Vec::new(); codes.len()];
        }
        if codes.len() != names.len() {
            return Err(broken(
                file,
                "block0_items",
                "the levels of the column names differ in length",
            ));
        }
        for (name, code) in names.iter_mut().zip(codes) {
            let text = usize::try_from(code).ok().and_then(|code| texts.get(code));
            name.push(text.cloned().unwrap_or_default());
        }
    }
    Ok(names)
}

fn fixed_rows(file: &File, group: &Group, columns: usize, rows: &mut Rows) -> Result<(), Fault> {
    let values = needed(file, group, "block0_values")?;
    let axis = match *values.shape() {
        [_, width] if width == columns as u64 => 0,
        [width, _] if width == columns as u64 => 1,
        _ => {
            return Err(broken(
                file,
                "block0_values",
                format!(
                    "the numbers have the shape {:?}, which does not fit {columns} columns",
                    values.shape()
                ),
            ));
        }
    };
    let count = values.shape().get(axis).copied().unwrap_or(0);
    if count > limits::FRAMES as u64 {
        return Err(file.too_many(&values, count));
    }
    let numbers = match file.dataset(group, "axis1")? {
        Some(index)
            if matches!(index.dtype(), Datatype::FixedPoint { .. }) && index.shape() == [count] =>
        {
            file.integers(&index)?
        }
        _ => Vec::new(),
    };
    let mut row = Vec::with_capacity(columns);
    let mut start = 0;
    while start < count {
        let window = file.window(&values, axis, start)?;
        let here = WINDOW.min(count - start) as usize;
        for frame in 0..here {
            row.clear();
            row.extend((0..columns).map(|column| {
                let at = match axis {
                    0 => frame * columns + column,
                    _ => column * here + frame,
                };
                window.get(at).copied().unwrap_or(f32::NAN)
            }));
            let at = start as usize + frame;
            rows.add(numbers.get(at).copied().unwrap_or(at as i64), &row)?;
        }
        start += WINDOW;
    }
    Ok(())
}
