//! A table as Apache Parquet: one group of rows at a time is kept in memory, columns pressed with Snappy.
//!
//! Whole numbers are INT64, numbers DOUBLE, text BYTE_ARRAY marked as UTF-8 strings, truth BOOLEAN. A column
//! that always has a value is REQUIRED, any other OPTIONAL.

use super::{Cell, Column, Kind, Sink};
use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use std::io::{self, BufWriter};
use std::sync::Arc;
use tempfile::NamedTempFile;

/// Cells of a group of rows: a few megabytes, whatever the width of the table.
const CELLS: usize = 1 << 18;

type Output = BufWriter<NamedTempFile>;

/// The values of a column in the group at hand; a level is 1 where there is a value.
enum Values {
    Whole(Vec<i64>),
    Number(Vec<f64>),
    Text(Vec<ByteArray>),
    Truth(Vec<bool>),
}

struct Buffer {
    values: Values,
    /// None for a column that always has a value.
    levels: Option<Vec<i16>>,
}

pub(super) struct Parquet {
    writer: SerializedFileWriter<Output>,
    buffers: Vec<Buffer>,
    rows: usize,
    most_rows: usize,
}

fn refused(error: ParquetError) -> io::Error {
    match error {
        ParquetError::External(source) => match source.downcast::<io::Error>() {
            Ok(error) => *error,
            Err(other) => io::Error::other(other.to_string()),
        },
        other => io::Error::other(other.to_string()),
    }
}

impl Parquet {
    pub(super) fn new(file: NamedTempFile, columns: &[Column]) -> io::Result<Parquet> {
        let fields: Result<Vec<Arc<Type>>, ParquetError> = columns.iter().map(field).collect();
        let schema = Type::group_type_builder("table")
            .with_fields(fields.map_err(refused)?)
            .build()
            .map_err(refused)?;
        let properties = WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_created_by(concat!("scaplane ", env!("CARGO_PKG_VERSION")).to_string())
            .build();
        let writer =
            SerializedFileWriter::new(BufWriter::new(file), Arc::new(schema), Arc::new(properties))
                .map_err(refused)?;
        Ok(Parquet {
            writer,
            buffers: columns.iter().map(Buffer::new).collect(),
            rows: 0,
            most_rows: (CELLS / columns.len().max(1)).max(1),
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut group = self.writer.next_row_group().map_err(refused)?;
        for buffer in &mut self.buffers {
            buffer.write(&mut group).map_err(refused)?;
        }
        group.close().map_err(refused)?;
        self.rows = 0;
        Ok(())
    }
}

fn field(column: &Column) -> Result<Arc<Type>, ParquetError> {
    let physical = match column.kind {
        Kind::Whole => Physical::INT64,
        Kind::Number => Physical::DOUBLE,
        Kind::Text => Physical::BYTE_ARRAY,
        Kind::Truth => Physical::BOOLEAN,
    };
    let repetition = match column.always {
        true => Repetition::REQUIRED,
        false => Repetition::OPTIONAL,
    };
    Type::primitive_type_builder(&column.name, physical)
        .with_repetition(repetition)
        .with_logical_type((column.kind == Kind::Text).then_some(LogicalType::String))
        .build()
        .map(Arc::new)
}

impl Buffer {
    fn new(column: &Column) -> Buffer {
        Buffer {
            values: match column.kind {
                Kind::Whole => Values::Whole(Vec::new()),
                Kind::Number => Values::Number(Vec::new()),
                Kind::Text => Values::Text(Vec::new()),
                Kind::Truth => Values::Truth(Vec::new()),
            },
            levels: (!column.always).then(Vec::new),
        }
    }

    fn push(&mut self, cell: Cell) -> io::Result<()> {
        let there = match (&mut self.values, cell) {
            (_, Cell::Null) => false,
            (Values::Whole(all), Cell::Whole(value)) => {
                all.push(value);
                true
            }
            (Values::Number(all), Cell::Number(value)) => {
                all.push(value);
                true
            }
            (Values::Text(all), Cell::Text(value)) => {
                all.push(ByteArray::from(value.into_bytes()));
                true
            }
            (Values::Truth(all), Cell::Truth(value)) => {
                all.push(value);
                true
            }
            (_, other) => {
                return Err(io::Error::other(format!(
                    "{other:?} in a column of another kind"
                )));
            }
        };
        match &mut self.levels {
            Some(levels) => levels.push(i16::from(there)),
            None if there => {}
            None => {
                return Err(io::Error::other(
                    "nothing in a column that always has a value",
                ));
            }
        }
        Ok(())
    }

    fn write(
        &mut self,
        group: &mut SerializedRowGroupWriter<'_, Output>,
    ) -> Result<(), ParquetError> {
        let levels = self.levels.as_deref();
        match &mut self.values {
            Values::Whole(all) => column::<Int64Type>(group, all, levels)?,
            Values::Number(all) => column::<DoubleType>(group, all, levels)?,
            Values::Text(all) => column::<ByteArrayType>(group, all, levels)?,
            Values::Truth(all) => column::<BoolType>(group, all, levels)?,
        }
        if let Some(levels) = &mut self.levels {
            levels.clear();
        }
        Ok(())
    }
}

fn column<T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, Output>,
    values: &mut Vec<T::T>,
    levels: Option<&[i16]>,
) -> Result<(), ParquetError> {
    let missing = || ParquetError::General("fewer columns than the schema has".into());
    let mut column = group.next_column()?.ok_or_else(missing)?;
    column.typed::<T>().write_batch(values, levels, None)?;
    values.clear();
    column.close()
}

impl Sink for Parquet {
    fn row(&mut self, cells: Vec<Cell>) -> io::Result<()> {
        if cells.len() != self.buffers.len() {
            return Err(io::Error::other("a row of another length"));
        }
        for (buffer, cell) in self.buffers.iter_mut().zip(cells) {
            buffer.push(cell)?;
        }
        self.rows += 1;
        if self.rows >= self.most_rows {
            self.flush()?;
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> io::Result<NamedTempFile> {
        self.flush()?;
        let buffer = self.writer.into_inner().map_err(refused)?;
        buffer.into_inner().map_err(|error| error.into_error())
    }
}
