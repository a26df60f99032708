//! What the columns of a wide table mean, which has one row a frame and several columns for each point.
//!
//! In: column names such as `x0`, `wx_12`, `landmark_0_x`, `left_shoulder_x`, `Nose.likelihood`. Out: the columns
//! of each point's coordinates.

use super::depth_camera;
use super::gather::Cell;
use super::table::{Row, plain};
use crate::note::Fault;

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
pub fn score_of(row: &Row<'_>, column: usize, word: &str) -> Result<f64, Fault> {
    if let Some(score) = depth_camera::score_of_word(row.text(column)) {
        return Ok(score);
    }
    let number = row.number(column)?;
    match LEVELS.contains(&word) {
        true => Ok(depth_camera::score_of_level(number)),
        false => Ok(number),
    }
}

/// Words for a level of tracking, 0 to 2 or 3, instead of a score.
const LEVELS: [&str; 4] = ["trackingstate", "state", "confidencelevel", "jointstate"];

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
