//! Columns of a DeepLabCut table, by their names.
//!
//! In: the names of the columns (scorer, perhaps individual, body part, coordinate) and the rows. Out: points of
//! people in frames. How the table is stored is not known here.

use super::gather::{Cell, Gather, Key};
use super::hdf5_file::File;
use super::limits;
use crate::note::{Fault, FaultKind};

/// The fault for a table that is not as pandas writes it.
pub fn broken(file: &File, field: &str, what: impl Into<String>) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/syntax",
        what,
        file.place().field(field),
        "exporting the same keypoints as CSV",
    )
}

/// The columns of one point of one person.
pub struct Column {
    /// Individual, if the table has some.
    person: Option<String>,
    /// Place of the body part in the list of names.
    pub point: usize,
    x: Option<usize>,
    y: Option<usize>,
    z: Option<usize>,
    score: Option<usize>,
}

/// What the columns hold.
pub struct Columns {
    /// Body parts, each once.
    pub names: Vec<String>,
    /// One for each point of each person.
    pub all: Vec<Column>,
}

impl Columns {
    /// Sorts the columns.
    ///
    /// # Errors
    /// They are not those of keypoints.
    pub fn of(file: &File, names: &[Vec<String>]) -> Result<Columns, Fault> {
        let mut columns = Columns {
            names: Vec::new(),
            all: Vec::new(),
        };
        for (index, name) in names.iter().enumerate() {
            let (person, part, coordinate) = match name.as_slice() {
                [_, part, coordinate] => (None, part, coordinate),
                [_, person, part, coordinate] => (Some(person.clone()), part, coordinate),
                _ => {
                    return Err(broken(
                        file,
                        "columns",
                        format!(
                            "a column has {} names, not scorer, body part and coordinate",
                            name.len()
                        ),
                    ));
                }
            };
            let known = columns.names.iter().position(|known| known == part);
            let point = known.unwrap_or_else(|| {
                columns.names.push(part.clone());
                columns.names.len() - 1
            });
            if columns.names.len() > limits::KEYPOINTS {
                return Err(broken(file, "columns", "there are too many body parts"));
            }
            let at = columns
                .all
                .iter()
                .position(|one| one.point == point && one.person == person);
            let at = at.unwrap_or_else(|| {
                columns.all.push(Column {
                    person,
                    point,
                    x: None,
                    y: None,
                    z: None,
                    score: None,
                });
                columns.all.len() - 1
            });
            let Some(column) = columns.all.get_mut(at) else {
                continue;
            };
            match coordinate.as_str() {
                "x" => column.x = Some(index),
                "y" => column.y = Some(index),
                "z" => column.z = Some(index),
                "likelihood" => column.score = Some(index),
                _ => {}
            }
        }
        match columns
            .all
            .iter()
            .any(|one| one.x.is_some() && one.y.is_some())
        {
            true => Ok(columns),
            false => Err(broken(
                file,
                "columns",
                "no body part has the columns x and y",
            )),
        }
    }
}

/// Frames as they are read.
pub struct Rows<'a> {
    /// The file, as a place.
    pub file: &'a File,
    /// What was read.
    pub gather: Gather,
    /// Columns that a joint is taken from.
    pub columns: Vec<&'a Column>,
}

impl Rows<'_> {
    /// Takes a row.
    ///
    /// # Errors
    /// More frames than the limit.
    pub fn add(&mut self, number: i64, values: &[f32]) -> Result<(), Fault> {
        let place = self.file.place().frame(number);
        let frame = self.gather.frame(Key::Number(number), f64::NAN, &place)?;
        for column in &self.columns {
            let at = |index: Option<usize>| index.and_then(|index| values.get(index).copied());
            let (Some(x), Some(y)) = (at(column.x), at(column.y)) else {
                continue;
            };
            let score = at(column.score).unwrap_or(1.0);
            let z = at(column.z);
            if ![x, y, score, z.unwrap_or(0.0)]
                .iter()
                .all(|v| v.is_finite())
            {
                continue;
            }
            let [x, y, score] = [x, y, score].map(f64::from);
            let cell = Cell {
                picture: z.is_none().then_some([x, y]),
                space: z.map(|z| [x, y, f64::from(z)]),
                score,
            };
            self.gather
                .point(frame, column.person.as_deref(), column.point, cell);
        }
        Ok(())
    }
}
