//! One line of YOLO pose labels and the ways in which its numbers may be laid out.
//!
//! In: a line of text. Out: its numbers, the layouts whose keypoints fit between box and tail, and a
//! [`Detection`]. Which file a line is of is not known here.

use crate::models::{Models, Order};
use crate::readers::clip::USUAL;
use crate::track::Detection;

/// Numbers before the keypoints: class and box.
const BEFORE: usize = 5;
/// Numbers that may follow the keypoints: confidence and id.
const LONGEST_TAIL: usize = 2;
/// How far a point may lie outside its box, as a share of the box; v taken for a coordinate lies farther out
/// (stated choice).
const BEYOND_BOX: f64 = 0.25;
/// Share of points that must lie in the box for a form to be possible (stated choice).
const INSIDE: f64 = 0.8;
/// How many times farther apart the head's points must be in the next best form (stated choice: eyes and ears
/// lie within a tenth of the picture, numbers of other kinds taken for them half a picture apart).
const CLEARLY_CLOSER: f64 = 2.0;
/// Nose, eyes and ears come first in every layout that is usual here.
const HEAD: usize = 5;
/// How far outside 0..1 a number of the box may lie: boxes at the edge are rounded (stated choice).
const ROUNDING: f64 = 0.01;

/// Numbers of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// In their order.
    pub numbers: Vec<f64>,
}

impl Line {
    /// Numbers parted by white space; `None` if something else is there.
    pub fn parse(text: &str) -> Option<Line> {
        let numbers: Option<Vec<f64>> = text
            .split_whitespace()
            .map(|word| word.parse().ok())
            .collect();
        Some(Line {
            numbers: numbers.filter(|numbers| !numbers.is_empty())?,
        })
    }

    /// Whether it begins with a class and a box in shares of the picture.
    pub fn has_box(&self) -> bool {
        let inside = |share: &f64| (-ROUNDING..=1.0 + ROUNDING).contains(share);
        match self.numbers.as_slice() {
            [class, sides @ ..] => {
                class.fract() == 0.0
                    && *class >= 0.0
                    && sides.len() > 4
                    && sides.iter().take(4).all(inside)
            }
            [] => false,
        }
    }

    /// Left, top, right, bottom of the box.
    fn corners(&self) -> Option<[f64; 4]> {
        match *self.numbers.as_slice() {
            [_, x, y, w, h, ..] => Some([x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0]),
            _ => None,
        }
    }

    /// Area that two boxes share, as a share of both together.
    pub fn overlap(&self, other: &Line) -> f64 {
        let (Some(a), Some(b)) = (self.corners(), other.corners()) else {
            return 0.0;
        };
        let area = |[left, top, right, bottom]: [f64; 4]| {
            (right - left).max(0.0) * (bottom - top).max(0.0)
        };
        let shared = area([
            a[0].max(b[0]),
            a[1].max(b[1]),
            a[2].min(b[2]),
            a[3].min(b[3]),
        ]);
        let both = area(a) + area(b) - shared;
        if both > 0.0 { shared / both } else { 0.0 }
    }
}

/// How the numbers of a line are laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// Layout id.
    pub layout: String,
    /// Number of keypoints.
    pub points: usize,
    /// Numbers of each: x, y or x, y, v.
    pub each: usize,
    /// Numbers after them.
    pub tail: usize,
}

impl Form {
    /// Numbers of a line.
    pub fn length(&self) -> usize {
        BEFORE + self.points * self.each + self.tail
    }

    /// In words.
    pub fn describe(&self) -> String {
        format!(
            "{} points ({}) with {} numbers each and {} after them",
            self.points, self.layout, self.each, self.tail
        )
    }

    /// The points as x, y, v; `None` if the line has another length.
    fn points_of(&self, line: &Line) -> Option<Vec<[f64; 3]>> {
        if line.numbers.len() != self.length() {
            return None;
        }
        let numbers = line.numbers.get(BEFORE..BEFORE + self.points * self.each)?;
        Some(
            numbers
                .chunks_exact(self.each)
                .map(|chunk| match *chunk {
                    [x, y] => [x, y, 1.0],
                    [x, y, v] => [x, y, v],
                    _ => [f64::NAN; 3],
                })
                .map(|[x, y, v]| {
                    if x == 0.0 && y == 0.0 {
                        [x, y, 0.0]
                    } else {
                        [x, y, v]
                    }
                })
                .collect(),
        )
    }

    /// The person; the id is the last number of the tail. `None` if the line has another length.
    pub fn detection(&self, line: &Line) -> Option<Detection> {
        let picture = self.points_of(line)?;
        Some(Detection {
            id: (self.tail > 0)
                .then(|| line.numbers.last().map(|id| format!("{id}")))
                .flatten(),
            picture: picture
                .into_iter()
                .map(|point| point.map(|value| value as f32))
                .collect(),
            space: Vec::new(),
        })
    }

    /// Largest distance of the eyes and ears from the nose; `None` if less than two points of the head are seen.
    fn head(&self, line: &Line) -> Option<f64> {
        let points = self.points_of(line)?;
        let mut seen = points.iter().take(HEAD).filter(|point| point[2] > 0.0);
        let first = seen.next()?;
        seen.map(|point| (point[0] - first[0]).hypot(point[1] - first[1]))
            .max_by(f64::total_cmp)
    }

    /// Whether the points lie in the box and the tail is a confidence and an id.
    fn makes_sense(&self, line: &Line) -> bool {
        let (Some(points), Some([left, top, right, bottom])) =
            (self.points_of(line), line.corners())
        else {
            return false;
        };
        let (beyond_x, beyond_y) = (BEYOND_BOX * (right - left), BEYOND_BOX * (bottom - top));
        let there: Vec<&[f64; 3]> = points.iter().filter(|point| point[2] > 0.0).collect();
        let inside = there
            .iter()
            .filter(|[x, y, _]| {
                (left - beyond_x..=right + beyond_x).contains(x)
                    && (top - beyond_y..=bottom + beyond_y).contains(y)
            })
            .count();
        let is_share = |value: f64| (0.0..=1.0).contains(&value);
        let is_id = |value: f64| value >= 1.0 && value.fract() == 0.0;
        let tail = line
            .numbers
            .get(self.length() - self.tail..)
            .unwrap_or_default();
        let tail_fits = match *tail {
            [] => true,
            [one] => is_share(one) || is_id(one),
            [confidence, id] => is_share(confidence) && is_id(id),
            _ => false,
        };
        let scores_fit = self.each == 2 || points.iter().all(|[_, _, v]| is_share(*v) || *v == 2.0);
        tail_fits && scores_fit && inside as f64 >= INSIDE * there.len() as f64
    }
}

/// Every form that a line may have, among the stated layout or the usual ones.
pub fn forms_of(line: &Line, stated: Option<&str>, models: &Models) -> Vec<Form> {
    if !line.has_box() {
        return Vec::new();
    }
    let mut forms: Vec<Form> = models
        .skeletons
        .values()
        .filter(|skeleton| skeleton.order == Order::Fixed)
        .filter(|skeleton| match stated {
            Some(stated) => stated == skeleton.id,
            None => USUAL.contains(&skeleton.id.as_str()),
        })
        .map(|skeleton| (&skeleton.id, skeleton.keypoints.len()))
        .flat_map(|(layout, points)| {
            [2, 3].into_iter().flat_map(move |each| {
                (0..=LONGEST_TAIL).map(move |tail| Form {
                    layout: layout.clone(),
                    points,
                    each,
                    tail,
                })
            })
        })
        .filter(|form| form.length() == line.numbers.len())
        .collect();
    if forms.len() > 1 {
        forms.retain(|form| form.makes_sense(line));
    }
    clearest(forms, line)
}

/// The form in which the head's points lie clearly closest together, if one does, else all.
fn clearest(forms: Vec<Form>, line: &Line) -> Vec<Form> {
    let mut spread: Vec<(f64, Form)> = forms
        .into_iter()
        .map(|form| (form.head(line).unwrap_or(f64::INFINITY), form))
        .collect();
    spread.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let clear = match spread.as_slice() {
        [(first, _), (second, _), ..] => second.is_finite() && CLEARLY_CLOSER * first < *second,
        _ => false,
    };
    if clear {
        spread.truncate(1);
    }
    spread.into_iter().map(|(_, form)| form).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: usize, with_v: bool, tail: &[f64]) -> Line {
        let mut numbers = vec![0.0, 0.5, 0.5, 0.2, 0.8];
        for index in 0..points {
            let share = index as f64 / points as f64;
            numbers.extend([0.41 + 0.18 * share, 0.12 + 0.75 * share]);
            if with_v {
                numbers.push(0.9 - 0.1 * share);
            }
        }
        numbers.extend(tail);
        Line { numbers }
    }

    #[test]
    fn the_length_tells_the_form() {
        let models = Models::embedded().unwrap();
        for (points, with_v, tail) in [
            (17, false, &[][..]),
            (17, false, &[0.8]),
            (17, false, &[0.8, 3.0]),
            (17, true, &[]),
            (17, true, &[0.8]),
            (17, true, &[0.8, 3.0]),
            (26, false, &[]),
            (26, true, &[0.8, 3.0]),
            (133, true, &[]),
        ] {
            let line = line(points, with_v, tail);
            let forms = forms_of(&line, None, &models);
            assert_eq!(forms.len(), 1, "{points} {with_v} {tail:?}: {forms:?}");
            let each = if with_v { 3 } else { 2 };
            let found = (forms[0].points, forms[0].each, forms[0].tail);
            assert_eq!(found, (points, each, tail.len()));
        }
        assert!(forms_of(&line(11, true, &[]), None, &models).is_empty());
    }

    #[test]
    fn zero_zero_is_missing_and_the_id_comes_last() {
        let models = Models::embedded().unwrap();
        let mut line = line(17, true, &[0.8, 3.0]);
        (line.numbers[5], line.numbers[6]) = (0.0, 0.0);
        let form = forms_of(&line, None, &models).remove(0);
        let one = form.detection(&line).unwrap();
        assert_eq!(one.id.as_deref(), Some("3"));
        assert_eq!(one.picture[0], [0.0; 3]);
        assert!(one.picture[1][2] > 0.0);
        line.numbers.pop();
        assert_eq!(form.detection(&line), None);
    }

    #[test]
    fn only_a_class_and_a_box_begin_a_line() {
        for (text, is_box) in [
            ("0 0.5 0.5 0.2 0.8 0.1 0.1", true),
            ("0.5 0.5 0.5 0.2 0.8 0.1 0.1", false),
            ("0 12 0.5 0.2 0.8 0.1 0.1", false),
            ("0 0.5 0.5 0.2 0.8", false),
        ] {
            assert_eq!(Line::parse(text).unwrap().has_box(), is_box, "{text}");
        }
        assert_eq!(Line::parse("person 0.5"), None);
        assert_eq!(Line::parse("  "), None);
    }
}
