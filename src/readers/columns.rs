//! What the columns of a table mean.
//!
//! Wide tables have one row a frame and several columns for each point: `x0`, `wx_12`, `landmark_0_x`,
//! `left_shoulder_x`, `Nose.likelihood`. Long tables have one row a point: `frame,time,point,x,y,z,score`,
//! with the aliases people use. In: column names. Out: the columns of each coordinate.

use super::depth_camera;
use super::gather::{Cell, Key};
use super::stamps::Unit;
use super::table::{Row, plain};
use crate::note::{Fault, FaultKind};

/// What a column holds of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Axis {
    X,
    Y,
    Z,
    Score,
}

/// A point with its columns.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Point {
    /// Name, or the digits of its number.
    pub name: String,
    /// Picture columns x and y.
    pub picture: Option<[usize; 2]>,
    /// Third picture column.
    pub depth: Option<usize>,
    /// World columns x, y and z.
    pub world: Option<[usize; 3]>,
    /// Score column.
    pub score: Option<usize>,
    /// Name of the score column's kind, compared form.
    pub score_word: String,
}

fn axis_of(word: &str) -> Option<(Axis, bool)> {
    let (bare, world) = match word.strip_prefix('w') {
        Some(bare) if !bare.is_empty() => (bare, true),
        _ => (word, false),
    };
    Some(match bare {
        "x" => (Axis::X, world),
        "y" => (Axis::Y, world),
        "z" => (Axis::Z, world),
        "v" | "c" | "vis" | "visibility" | "score" | "conf" | "confidence" | "likelihood"
        | "tracked" | "trackingstate" | "state" | "confidencelevel"
            if !world =>
        {
            (Axis::Score, false)
        }
        _ => return None,
    })
}

/// The digits of `0`, `landmark_0`, `kp12`, `point 3`; `None` for a real name.
fn number_of(name: &str) -> Option<String> {
    let bare = plain(name);
    let digits = bare.trim_start_matches(|c: char| c.is_alphabetic());
    let word = bare.strip_suffix(digits)?;
    let words = [
        "", "landmark", "lm", "kp", "keypoint", "point", "joint", "p",
    ];
    (!digits.is_empty() && words.contains(&word) && digits.bytes().all(|b| b.is_ascii_digit()))
        .then(|| digits.to_string())
}

/// Ends of a column of tracking states that are two words.
const LEVEL_ENDS: [&str; 4] = [
    "_tracking_state",
    ".tracking_state",
    "_confidence_level",
    ".confidence_level",
];
/// Ends of a name that say that its columns are no place but a direction.
const TURNS: [&str; 4] = ["orientation", "rotation", "quaternion", "quat"];
/// Ends of a name that say that its columns are a place.
const PLACES: [&str; 4] = ["_position", ".position", " position", "_pos"];

/// Where the axis begins in a name that is written in one, such as `SpineBaseX`.
fn joined_axis(column: &str) -> Option<usize> {
    let mut ends = column.char_indices().rev();
    let ((at, axis), (_, before)) = (ends.next()?, ends.next()?);
    (matches!(axis, 'X' | 'Y' | 'Z') && (before.is_lowercase() || before.is_ascii_digit()))
        .then_some(at)
}

/// Name, axis, whether it is a world coordinate, and the word for the axis.
fn split(column: &str) -> Option<(String, Axis, bool, String)> {
    let lower = column.trim().to_lowercase();
    let digits_at = lower.find(|c: char| c.is_ascii_digit());
    if let Some((word, digits)) = digits_at.map(|at| lower.split_at(at)) {
        let word = word.trim_end_matches(['_', '.', ' ', ':']);
        let (word, long) = match word.strip_prefix("world_") {
            Some(word) => (word, true),
            None => (word, false),
        };
        if digits.bytes().all(|b| b.is_ascii_digit())
            && let Some((axis, world)) = axis_of(word)
        {
            return Some((digits.to_string(), axis, world || long, word.to_string()));
        }
    }
    let column = column.trim();
    let lower = column.to_lowercase();
    let level = LEVEL_ENDS.iter().find_map(|end| lower.strip_suffix(end));
    let cut = match (level, column.rfind(['_', '.', ':', ' '])) {
        (Some(name), _) => name.len(),
        (None, Some(cut)) => cut,
        (None, None) => joined_axis(column)?,
    };
    let (name, word) = (column.get(..cut)?, column.get(cut..)?);
    let mut word = word.trim_start_matches(['_', '.', ':', ' ']).to_lowercase();
    if level.is_some() {
        word = plain(&word);
    }
    let (axis, world) = axis_of(&word)?;
    let lower = name.to_lowercase();
    let name = match (lower.strip_prefix("world"), lower.strip_suffix("world")) {
        (Some(rest), _) => (name.get(name.len() - rest.len()..)?, true),
        (None, Some(rest)) => (name.get(..rest.len())?, true),
        (None, None) => (name, false),
    };
    let bare = name.0.trim_matches(['_', '.', ':', ' ']);
    let ends = bare.to_lowercase();
    if TURNS.iter().any(|end| ends.ends_with(end)) {
        return None;
    }
    let place = PLACES.iter().find_map(|end| ends.strip_suffix(end));
    let bare = place
        .and_then(|rest| bare.get(..rest.len()))
        .unwrap_or(bare);
    (!bare.is_empty()).then(|| {
        let known = number_of(bare).unwrap_or_else(|| bare.to_string());
        (known, axis, world || name.1, word)
    })
}

/// Groups columns into points, in the order in which they first occur. Columns that belong to no point are
/// passed over. `<name>_u` and `<name>_v` side by side are pixel places, not a score.
pub fn points(header: &[String]) -> Vec<Point> {
    let all: std::collections::HashSet<String> = header.iter().map(|name| plain(name)).collect();
    let has = |name: &str, end: &str| all.contains(&(plain(name) + end));
    let mut found: Vec<Point> = Vec::new();
    let mut places: std::collections::HashMap<String, usize> = std::collections::HashMap::new();
    let mut axes: Vec<[Option<usize>; 6]> = Vec::new();
    for (index, column) in header.iter().enumerate() {
        let Some((name, axis, world, word)) = split(column) else {
            continue;
        };
        if word == "v" && has(&name, "u") {
            continue;
        }
        let place = *places.entry(plain(&name)).or_insert_with(|| {
            found.push(Point {
                name: name.clone(),
                ..Point::default()
            });
            axes.push([None; 6]);
            found.len() - 1
        });
        let slot = match (axis, world) {
            (Axis::X, false) => 0,
            (Axis::Y, false) => 1,
            (Axis::Z, false) => 2,
            (Axis::X, true) => 3,
            (Axis::Y, true) => 4,
            (Axis::Z, true) => 5,
            (Axis::Score, _) => {
                if let Some(point) = found.get_mut(place)
                    && point.score.is_none()
                {
                    (point.score, point.score_word) = (Some(index), word);
                }
                continue;
            }
        };
        if let Some(slot) = axes.get_mut(place).and_then(|axes| axes.get_mut(slot)) {
            slot.get_or_insert(index);
        }
    }
    for (point, axes) in found.iter_mut().zip(&axes) {
        let [x, y, z, wx, wy, wz] = *axes;
        point.picture = x.zip(y).map(|(x, y)| [x, y]);
        point.depth = z;
        point.world = wx.zip(wy).zip(wz).map(|((x, y), z)| [x, y, z]);
    }
    found.retain(|point| point.picture.is_some() || point.world.is_some());
    found
}

impl Point {
    /// The point in a row.
    ///
    /// # Errors
    /// A cell is no number.
    pub fn cell(&self, row: &Row<'_>) -> Result<Cell, Fault> {
        let picture = self
            .picture
            .map(|[x, y]| Ok::<_, Fault>([row.number(x)?, row.number(y)?]))
            .transpose()?;
        let space = self
            .world
            .map(|[x, y, z]| Ok::<_, Fault>([row.number(x)?, row.number(y)?, row.number(z)?]))
            .transpose()?;
        let score = self
            .score
            .map_or(Ok(1.0), |column| score_of(row, column, &self.score_word))?;
        Ok(Cell {
            picture,
            space,
            score,
        })
    }
}

/// A score, which depth cameras give as a word or a level: not tracked, inferred or low, tracked or medium.
fn score_of(row: &Row<'_>, column: usize, word: &str) -> Result<f64, Fault> {
    if let Some(score) = depth_camera::score_of_word(row.text(column)) {
        return Ok(score);
    }
    let number = row.number(column)?;
    match LEVELS.contains(&word) {
        true => Ok(depth_camera::score_of_level(number)),
        false => Ok(number),
    }
}

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
/// Words for a level of tracking, 0 to 2 or 3, instead of a score.
const LEVELS: [&str; 4] = ["trackingstate", "state", "confidencelevel", "jointstate"];
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

#[cfg(test)]
mod tests {
    use super::*;

    fn check(header: &[&str], expected: &[(&str, bool, bool, bool)]) {
        let header: Vec<String> = header.iter().map(|column| (*column).to_string()).collect();
        let found = points(&header);
        let short: Vec<_> = found
            .iter()
            .map(|p| {
                (
                    p.name.as_str(),
                    p.picture.is_some(),
                    p.world.is_some(),
                    p.score.is_some(),
                )
            })
            .collect();
        assert_eq!(short, expected);
    }

    #[test]
    fn the_ways_columns_are_named() {
        check(
            &[
                "frame", "time_s", "x0", "y0", "z0", "v0", "wx0", "wy0", "wz0",
            ],
            &[("0", true, true, true)],
        );
        check(
            &["class", "x1", "y1", "z1", "v1", "x2", "y2"],
            &[("1", true, false, true), ("2", true, false, false)],
        );
        check(
            &["landmark_11_x", "landmark_11_y", "landmark_11_visibility"],
            &[("11", true, false, true)],
        );
        check(
            &[
                "left_shoulder_x",
                "left_shoulder_y",
                "world_left_shoulder_x",
                "world_left_shoulder_y",
                "world_left_shoulder_z",
            ],
            &[("left_shoulder", true, true, false)],
        );
        check(
            &["Nose.x", "Nose.y", "Nose.likelihood"],
            &[("Nose", true, false, true)],
        );
        check(
            &[
                "Head_x",
                "Head_y",
                "Head_z",
                "Head_tracked",
                "Head_u",
                "Head_v",
            ],
            &[("Head", true, false, true)],
        );
        check(&["x", "y", "size_x"], &[]);
    }

    #[test]
    fn pixel_places_are_no_score() {
        let header = ["Head_x", "Head_y", "Head_u", "Head_v"].map(String::from);
        assert_eq!(points(&header)[0].score, None);
    }
}
