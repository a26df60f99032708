//! A table as CSV (RFC 4180): a line of names, empty cells for what is missing.
//!
//! A text that a spreadsheet would take for a formula is written with an apostrophe before it: names of files
//! and people come from outside.

use super::{Cell, Column, Sink};
use std::io::{self, BufWriter};
use tempfile::NamedTempFile;

pub(super) struct Comma(csv::Writer<BufWriter<NamedTempFile>>);

impl Comma {
    pub(super) fn new(file: NamedTempFile, columns: &[Column]) -> io::Result<Comma> {
        let mut writer = csv::Writer::from_writer(BufWriter::new(file));
        writer.write_record(columns.iter().map(|column| &column.name))?;
        Ok(Comma(writer))
    }
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Null => String::new(),
        Cell::Whole(value) => value.to_string(),
        Cell::Number(value) => value.to_string(),
        Cell::Truth(value) => value.to_string(),
        Cell::Text(value) if value.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
            format!("'{value}")
        }
        Cell::Text(value) => value.clone(),
    }
}

impl Sink for Comma {
    fn row(&mut self, cells: Vec<Cell>) -> io::Result<()> {
        Ok(self.0.write_record(cells.iter().map(text))?)
    }

    fn finish(self: Box<Self>) -> io::Result<NamedTempFile> {
        let buffer = self.0.into_inner().map_err(|error| error.into_error())?;
        buffer.into_inner().map_err(|error| error.into_error())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_becomes_a_formula_and_numbers_keep_all_their_figures() {
        assert_eq!(text(&Cell::Text("=1+1".into())), "'=1+1");
        assert_eq!(text(&Cell::Text("P1".into())), "P1");
        assert_eq!(text(&Cell::Number(-0.123_456_789)), "-0.123456789");
        assert_eq!(text(&Cell::Number(f64::NAN).clone()), "NaN");
        assert_eq!(Cell::from(f64::NAN), Cell::Null);
    }
}
