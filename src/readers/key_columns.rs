//! The columns of a table that say which frame, time, person and point a row is about.
//!
//! In: column names. Out: where the keys of a row are, and the coordinates of tables with one row a point, with
//! the aliases people use.

use super::columns::score_of;
use super::gather::{Cell, Key};
use super::stamps::Unit;
use super::table::{Row, plain};
use crate::note::{Fault, FaultKind};

const FRAME: [&str; 9] = [
    "frame",
    "framenumber",
    "frameid",
    "frameindex",
    "frameidx",
    "framenum",
    "framenr",
    "imageid",
    "index",
];
const PERSON: [&str; 6] = [
    "person",
    "personid",
    "track",
    "trackid",
    "subject",
    "individual",
];
const POINT: [&str; 17] = [
    "point",
    "landmark",
    "keypoint",
    "joint",
    "name",
    "marker",
    "bodypart",
    "landmarkid",
    "landmarkname",
    "keypointid",
    "keypointname",
    "jointname",
    "landmarkindex",
    "jointtype",
    "jointid",
    "jointindex",
    "node",
];
const SCORE: [&str; 12] = [
    "score",
    "visibility",
    "confidence",
    "likelihood",
    "conf",
    "c",
    "v",
    "tracked",
    "trackingstate",
    "state",
    "confidencelevel",
    "jointstate",
];

fn is_time(name: &str) -> bool {
    let plain = plain(name);
    plain == "t" || plain.starts_with("time") || plain == "seconds" || plain == "ms"
}

fn find(header: &[String], words: &[&str]) -> Option<usize> {
    // Words are tried in order, so that `frame` wins over `index`.
    words
        .iter()
        .find_map(|word| header.iter().position(|name| plain(name) == *word))
}

/// Unit that the name of the time column tells.
pub fn time_unit(header: &[String]) -> Option<Unit> {
    header
        .iter()
        .find(|name| is_time(name))
        .and_then(|name| Unit::of_key(name))
}

/// The columns that tell frame, time and person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keys {
    frame: Option<usize>,
    time: Option<usize>,
    /// Person column.
    pub person: Option<usize>,
}

impl Keys {
    /// Finds them.
    pub fn of(header: &[String]) -> Keys {
        Keys {
            frame: find(header, &FRAME),
            time: header.iter().position(|name| is_time(name)),
            person: find(header, &PERSON),
        }
    }

    /// Key and stamp of a row; `counted` is the number of the row.
    ///
    /// # Errors
    /// Frame or time is no number.
    pub fn key(&self, row: &Row<'_>, counted: i64) -> Result<(Key, f64), Fault> {
        let stamp = self
            .time
            .map_or(Ok(f64::NAN), |column| row.number(column))?;
        let Some(column) = self.frame else {
            return Ok((Key::Number(counted), stamp));
        };
        let number = row.number(column)?;
        // Beyond 2^53 neighbouring frame numbers could not be told apart.
        if !(number.is_finite() && number.abs() < 9e15) {
            return Err(Fault::new(
                FaultKind::Malformed,
                "read/number",
                format!("`{}` is no frame number", row.text(column)),
                row.place(),
                "numbering the frames 0, 1, 2, ...",
            ));
        }
        Ok((Key::Number(number.round() as i64), stamp))
    }
}

/// The columns of a long table.
#[derive(Debug, Clone, PartialEq)]
pub struct LongColumns {
    keys: Keys,
    /// Person column.
    pub person: Option<usize>,
    /// Point column.
    pub point: usize,
    /// x and y.
    pub xy: [usize; 2],
    /// z.
    pub z: Option<usize>,
    /// World x, y, z beside picture coordinates.
    pub world: Option<[usize; 3]>,
    /// Score and its word.
    pub score: Option<(usize, &'static str)>,
    /// Metres per unit, if the columns name one (`x_mm`).
    pub metres_per_unit: Option<f64>,
}

impl LongColumns {
    /// Finds them; `None` if it is no long table.
    pub fn of(header: &[String]) -> Option<LongColumns> {
        LongColumns::without_frame(header)
            .filter(|long| long.keys.frame.is_some() || long.keys.time.is_some())
    }

    /// Finds them in a table that may lack frame and time, so that frames begin where a point comes again.
    pub fn without_frame(header: &[String]) -> Option<LongColumns> {
        let units = [
            ("", None),
            ("m", Some(1.0)),
            ("cm", Some(0.01)),
            ("mm", Some(0.001)),
            ("px", None),
        ];
        let axis = |axis: &str| {
            let named = units.iter().find_map(|(unit, metres)| {
                let column = find(header, &[format!("{axis}{unit}").as_str()])?;
                Some((column, *metres))
            });
            let longer = ["position", "pos", "camera"].map(|word| format!("{word}{axis}"));
            let longer = longer.each_ref().map(String::as_str);
            named.or_else(|| Some((find(header, &longer)?, None)))
        };
        let keys = Keys::of(header);
        let ((x, metres_per_unit), (y, _)) = (axis("x")?, axis("y")?);
        let world = |words: [&str; 3]| {
            let [x, y, z] = words.map(|word| find(header, &[word]));
            Some([x?, y?, z?])
        };
        Some(LongColumns {
            keys,
            person: keys.person,
            point: find(header, &POINT)?,
            xy: [x, y],
            z: axis("z").map(|(column, _)| column),
            world: world(["wx", "wy", "wz"])
                .or_else(|| world(["worldx", "worldy", "worldz"]))
                .or_else(|| world(["xworld", "yworld", "zworld"])),
            score: SCORE
                .iter()
                .find_map(|word| Some((find(header, &[word])?, *word))),
            metres_per_unit,
        })
    }

    /// Key and stamp of a row.
    ///
    /// # Errors
    /// Frame or time is no number.
    pub fn key(&self, row: &Row<'_>) -> Result<(Key, f64), Fault> {
        let (key, stamp) = self.keys.key(row, 0)?;
        match self.keys.frame {
            Some(_) => Ok((key, stamp)),
            None if stamp.is_finite() => Ok((Key::Time(stamp.to_bits()), stamp)),
            None => Err(Fault::new(
                FaultKind::Malformed,
                "read/number",
                "the row has neither a frame nor a time",
                row.place(),
                "numbering the frames 0, 1, 2, ...",
            )),
        }
    }

    /// The point of a row, with x and y as picture coordinates.
    ///
    /// # Errors
    /// A cell is no number.
    pub fn cell(&self, row: &Row<'_>) -> Result<Cell, Fault> {
        let [x, y] = self.xy;
        let space = self
            .world
            .map(|[x, y, z]| Ok::<_, Fault>([row.number(x)?, row.number(y)?, row.number(z)?]))
            .transpose()?;
        let score = self
            .score
            .map_or(Ok(1.0), |(column, word)| score_of(row, column, word))?;
        Ok(Cell {
            picture: Some([row.number(x)?, row.number(y)?]),
            space,
            score,
        })
    }
}

/// The columns of a table with one row a point that does not say which point: frames follow each other.
#[derive(Debug, Clone, PartialEq)]
pub struct RowColumns {
    keys: Keys,
    xy: [usize; 2],
    z: Option<usize>,
    score: Option<usize>,
}

impl RowColumns {
    /// Finds them; `None` if there is no x and y.
    pub fn of(header: &[String]) -> Option<RowColumns> {
        Some(RowColumns {
            keys: Keys::of(header),
            xy: [find(header, &["x"])?, find(header, &["y"])?],
            z: find(header, &["z"]),
            score: find(header, &SCORE),
        })
    }

    /// Key and stamp of a row; `counted` is the number of the frame where the table has none.
    ///
    /// # Errors
    /// Frame or time is no number.
    pub fn key(&self, row: &Row<'_>, counted: i64) -> Result<(Key, f64), Fault> {
        let (key, stamp) = self.keys.key(row, counted)?;
        match self.keys.frame {
            None if stamp.is_finite() => Ok((Key::Time(stamp.to_bits()), stamp)),
            _ => Ok((key, stamp)),
        }
    }

    /// The point of a row, and its z.
    ///
    /// # Errors
    /// A cell is no number.
    pub fn cell(&self, row: &Row<'_>) -> Result<(Cell, Option<f64>), Fault> {
        let [x, y] = self.xy;
        let cell = Cell {
            picture: Some([row.number(x)?, row.number(y)?]),
            space: None,
            score: self.score.map_or(Ok(1.0), |column| row.number(column))?,
        };
        Ok((cell, self.z.map(|column| row.number(column)).transpose()?))
    }
}
