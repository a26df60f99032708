//! Tables of text: delimiter, decimal sign, header, cells.
//!
//! In: a [`Member`]. Out: rows as cells with their line numbers, and numbers or faults with line and column.
//! It accepts `,` `;` and tab, CRLF, quoted cells, a decimal comma where the delimiter is not a comma, and
//! `NaN NA null None` and empty cells as nothing.

use super::limits;
use super::source::{Member, io_fault};
use crate::note::{Fault, FaultKind, Place};
use csv::StringRecord;
use std::io::{BufRead, Read};

/// The table of a file.
pub struct Table {
    place: Place,
    delimiter: u8,
    header: Vec<String>,
    rows: csv::Reader<Box<dyn BufRead>>,
    record: StringRecord,
}

/// What the first row of a table holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum First {
    Names,
    Data,
}

/// The delimiter of a header line: the one of `,` `;` tab that occurs most often outside quotes.
pub fn delimiter_of(header: &str) -> u8 {
    let mut counts = [(b'\t', 0_usize), (b';', 0), (b',', 0)];
    let mut quoted = false;
    for byte in header.bytes() {
        quoted ^= byte == b'"';
        for (delimiter, count) in &mut counts {
            *count += usize::from(!quoted && byte == *delimiter);
        }
    }
    counts
        .iter()
        .max_by_key(|(_, count)| *count)
        .map_or(b',', |(delimiter, _)| *delimiter)
}

impl Table {
    /// Opens a table and reads its header.
    ///
    /// # Errors
    /// Not readable, no header, or more columns than the limit.
    pub fn open(member: &Member) -> Result<Table, Fault> {
        Table::begin(member, First::Names)
    }

    /// Opens a table whose first row is data already.
    ///
    /// # Errors
    /// See [`Table::open`].
    pub fn open_bare(member: &Member) -> Result<Table, Fault> {
        Table::begin(member, First::Data)
    }

    fn begin(member: &Member, first_row: First) -> Result<Table, Fault> {
        let mut reader = member.open()?;
        let mut first = Vec::new();
        (&mut reader)
            .take(limits::HEAD as u64)
            .read_until(b'\n', &mut first)
            .map_err(|error| io_fault(member.place(), &error))?;
        let delimiter = delimiter_of(&String::from_utf8_lossy(&first));
        let whole: Box<dyn BufRead> = Box::new(std::io::BufReader::new(
            std::io::Cursor::new(first).chain(reader),
        ));
        let mut rows = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            // A carriage return before it is trimmed from the last cell; so lines are counted right.
            .terminator(csv::Terminator::Any(b'\n'))
            .flexible(true)
            .has_headers(first_row == First::Names)
            .from_reader(whole);
        let header = rows
            .headers()
            .map_err(|error| csv_fault(member.place(), error))?
            .iter()
            .map(|cell| cell.trim().trim_matches('"').to_string())
            .collect::<Vec<_>>();
        if header.len() > limits::COLUMNS {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!("the table has more than {} columns", limits::COLUMNS),
                member.place().line(1),
                "exporting the long form: one row for each point",
            ));
        }
        Ok(Table {
            place: member.place(),
            delimiter,
            header,
            rows,
            record: StringRecord::new(),
        })
    }

    /// Column names, trimmed.
    pub fn header(&self) -> &[String] {
        &self.header
    }

    /// The next row, or `None` at the end. Empty rows are passed over.
    ///
    /// # Errors
    /// Not UTF-8, or a row with fewer or more cells than the header (empty cells beyond it are tolerated).
    pub fn next_row(&mut self) -> Result<Option<Row<'_>>, Fault> {
        loop {
            let more = self
                .rows
                .read_record(&mut self.record)
                .map_err(|error| csv_fault(self.place.clone(), error))?;
            if !more {
                return Ok(None);
            }
            if self.record.iter().any(|cell| !cell.trim().is_empty()) {
                break;
            }
        }
        let line = self.record.position().map_or(0, csv::Position::line);
        let (cells, columns) = (self.record.len(), self.header.len());
        let beyond = self
            .record
            .iter()
            .skip(columns)
            .any(|cell| !cell.trim().is_empty());
        if cells < columns || beyond {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("{cells} cells where the header has {columns}"),
                self.place.clone().line(line),
                "exporting again; if it is the last row, the file was cut off",
            ));
        }
        Ok(Some(Row {
            record: &self.record,
            header: &self.header,
            place: &self.place,
            delimiter: self.delimiter,
            line,
        }))
    }
}

/// One row.
pub struct Row<'a> {
    record: &'a StringRecord,
    header: &'a [String],
    place: &'a Place,
    delimiter: u8,
    /// Line in the file, from 1.
    pub line: u64,
}

impl Row<'_> {
    /// A cell, trimmed; empty if there is none.
    pub fn text(&self, column: usize) -> &str {
        self.record.get(column).unwrap_or_default().trim()
    }

    /// A cell as a number; not-a-number where it says nothing.
    ///
    /// # Errors
    /// The cell is neither.
    pub fn number(&self, column: usize) -> Result<f64, Fault> {
        parse_number(self.text(column), self.delimiter).ok_or_else(|| {
            let cell: String = self.text(column).chars().take(40).collect();
            let field = self.header.get(column).cloned().unwrap_or_default();
            Fault::new(
                FaultKind::Malformed,
                "read/number",
                format!("`{cell}` is not a number"),
                self.place.clone().line(self.line).field(field),
                "correcting the cell, or leaving it empty if the point was not seen",
            )
        })
    }

    /// The place of this row.
    pub fn place(&self) -> Place {
        self.place.clone().line(self.line)
    }
}

/// A number; not-a-number for a cell that says nothing; `None` for anything else.
pub fn parse_number(cell: &str, delimiter: u8) -> Option<f64> {
    const NOTHING: [&str; 6] = ["", "nan", "na", "null", "none", "-"];
    if NOTHING.iter().any(|word| cell.eq_ignore_ascii_case(word)) {
        return Some(f64::NAN);
    }
    if let Ok(value) = cell.parse::<f64>() {
        return Some(value);
    }
    if delimiter != b',' && cell.matches(',').count() == 1 && !cell.contains('.') {
        return cell.replacen(',', ".", 1).parse().ok();
    }
    None
}

/// A column name as compared: lower case, letters and digits only.
pub fn plain(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

fn csv_fault(place: Place, error: csv::Error) -> Fault {
    let line = error.position().map(csv::Position::line);
    let place_of_line = match line {
        Some(line) => place.clone().line(line),
        None => place.clone(),
    };
    match error.into_kind() {
        csv::ErrorKind::Io(error) => io_fault(place, &error),
        csv::ErrorKind::Utf8 { .. } => Fault::new(
            FaultKind::Malformed,
            "read/encoding",
            "the text is not UTF-8",
            place_of_line,
            "saving the table again as UTF-8",
        ),
        _ => Fault::new(
            FaultKind::Malformed,
            "read/syntax",
            "the table cannot be taken apart into cells",
            place_of_line,
            "exporting the table again",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::super::source::Source;
    use super::*;

    #[test]
    fn cells_are_numbers_in_both_notations() {
        for (cell, delimiter, expected) in [
            ("1.5", b',', Some(1.5)),
            ("1,5", b';', Some(1.5)),
            ("-2,5e1", b'\t', Some(-25.0)),
            ("1,5", b',', None),
            ("1.234,5", b';', None),
            ("abc", b',', None),
        ] {
            assert_eq!(parse_number(cell, delimiter), expected, "{cell}");
        }
        for cell in ["", "NaN", "NA", "null", "None"] {
            assert!(parse_number(cell, b',').unwrap().is_nan());
        }
    }

    #[test]
    fn semicolons_quotes_and_line_ends() {
        let source = Source::from_bytes("t", *b"\xef\xbb\xbf\"a\";b\r\n1,5;\"x\"\r\n\r\n2;y\r\n");
        let mut table = Table::open(source.single().unwrap()).unwrap();
        assert_eq!(table.header(), ["a", "b"]);
        let row = table.next_row().unwrap().unwrap();
        assert_eq!(
            (row.number(0).unwrap(), row.text(1), row.line),
            (1.5, "x", 2)
        );
        let row = table.next_row().unwrap().unwrap();
        assert_eq!((row.number(0).unwrap(), row.line), (2.0, 4));
        assert!(table.next_row().unwrap().is_none());
    }

    #[test]
    fn a_short_row_is_told_with_its_line() {
        let source = Source::from_bytes("t", *b"a,b\n1,2\n3\n");
        let mut table = Table::open(source.single().unwrap()).unwrap();
        table.next_row().unwrap();
        let fault = table.next_row().err().unwrap();
        assert_eq!((fault.code, fault.place.line), ("read/length", Some(3)));
    }
}
