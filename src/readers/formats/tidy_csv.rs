//! Any point, by name, in a table: `frame,time,person,point,x,y[,z][,score]`, or one row a frame with columns
//! `<point>_x,<point>_y[,<point>_z]`.
//!
//! With z the coordinates are world coordinates, in any unit and with any axis up; without z they are picture
//! coordinates. It is also what `convert` writes, with three more columns: `presence` (points were accepted
//! already), `width` and `height`, or `depth` (guessed or measured).

use super::sleap_csv;
use crate::models::Models;
use crate::note::{Fault, Note};
use crate::readers::columns::{self, Point};
use crate::readers::gather::{Cell, Gather};
use crate::readers::key_columns::{self, Keys, LongColumns};
use crate::readers::layout::Known;
use crate::readers::probe::Shape;
use crate::readers::table::{Row, Table, plain};
use crate::readers::{
    Fit, Layout, Member, Probe, ReadOptions, Reader, Source, depth_camera, landmarks, limits,
    stamps,
};
use crate::track::{PictureSize, Recording};
use std::collections::HashMap;

/// Score below which a point counts as not seen, by the word the column is called (common practice,
/// no source). Where points were accepted before they were written, every score counts.
const LEAST: [(&str, f64); 4] = [
    ("visibility", landmarks::LEAST_VISIBILITY),
    ("likelihood", 0.6),
    ("tracked", 0.0),
    ("", 0.3),
];

/// Layouts of numbered points, most usual first: with two coordinates, and with three.
const USUAL: &[&str] = &["coco-17", "body-25", "coco-18", "halpe-26", "wholebody-133"];
const USUAL_SPACE: &[&str] = &["kinect-25", "azure-32", "h36m-17"];

/// Points with columns x and y from which on a table with unknown names is one of points: shoulder, elbow and
/// something of the trunk is the least that can be measured (stated choice).
const ENOUGH_COLUMNS: usize = 4;

/// The reader.
pub struct TidyCsv;

impl Reader for TidyCsv {
    fn id(&self) -> &'static str {
        "tidy-csv"
    }

    fn title(&self) -> &'static str {
        "table of named points, CSV"
    }

    fn about(&self) -> &'static str {
        "Reads one row a point (frame, time, person, point, x, y, z, score, with the usual other words), or \
         one row a frame with columns such as left_shoulder_x. Names are compared without case, spaces and \
         separators. Without z the coordinates are pixels, or shares of the picture, which need --size. With z \
         they are world coordinates: the unit is told by the bones and the upward axis by the trunk, or by \
         --up; depth is taken as measured unless a column `depth` says guessed."
    }

    fn fit(&self, probe: &Probe, models: &Models) -> Fit {
        let Shape::Table { header, rows } = &probe.shape else {
            return Fit::no("not a table");
        };
        if sleap_csv::is_header(header) {
            return Fit::no(
                "it has the columns of a SLEAP analysis, which has a reader of its own",
            );
        }
        if let Some(long) = LongColumns::of(header) {
            let names: Vec<&str> = rows
                .iter()
                .filter_map(|row| row.get(long.point))
                .map(String::as_str)
                .collect();
            return match landmarks::base_of(&names, models) {
                Some(_) => {
                    Fit::no("the points are the 33 landmarks, which have a reader of their own")
                }
                None => Fit::certain("columns for frame or time, point, x and y"),
            };
        }
        let points = columns::points(header);
        let names: Vec<String> = points.into_iter().map(|point| point.name).collect();
        if landmarks::base_of(&names, models).is_some() {
            return Fit::no("the columns are the 33 landmarks, which have a reader of their own");
        }
        let known = names.iter().filter(|name| models.knows_point(name)).count();
        match known {
            0 | 1 if names.len() < ENOUGH_COLUMNS => {
                Fit::no("neither a point column nor columns named after body points")
            }
            0 | 1 => Fit::possible("columns x and y of several points"),
            known => Fit::certain(format!("columns of {known} body points")),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let mut table = Table::open(member)?;
        let header = table.header().to_vec();
        let mut rows = Rows::of(&header);
        while let Some(row) = table.next_row()? {
            rows.take(&row)?;
        }
        rows.finish(self.id(), &header, member, options, models)
    }
}

/// For points that are called 0, 1, 2, ... or 1, 2, 3, ...: where each of them is in the list.
fn order_of_numbers(names: &[String]) -> Option<Vec<usize>> {
    let numbers: Option<Vec<usize>> = names.iter().map(|name| name.parse().ok()).collect();
    let numbers = numbers.filter(|numbers| !numbers.is_empty())?;
    let first = numbers.iter().min().copied().filter(|first| *first <= 1)?;
    (first..first + numbers.len())
        .map(|number| numbers.iter().position(|known| *known == number))
        .collect()
}

/// The rows of a table as they are gathered.
struct Rows {
    gather: Gather,
    names: Vec<String>,
    places: HashMap<String, usize>,
    long: Option<LongColumns>,
    keys: Keys,
    wide: Vec<Point>,
    /// Whether there is a third coordinate.
    space: bool,
    extra: Extra,
    counted: i64,
    highest_score: f64,
}

/// Columns that say something about the whole table.
#[derive(Default)]
struct Extra {
    presence: bool,
    width: Option<usize>,
    height: Option<usize>,
    depth: Option<usize>,
    size: Option<PictureSize>,
    guessed: Option<bool>,
}

impl Rows {
    fn of(header: &[String]) -> Rows {
        let column = |word: &str| header.iter().position(|name| plain(name) == word);
        let long = LongColumns::of(header);
        let wide = match long {
            Some(_) => Vec::new(),
            None => columns::points(header),
        };
        let space = match &long {
            Some(long) => long.z.is_some(),
            None => wide.iter().any(|point| point.depth.is_some()),
        };
        Rows {
            gather: Gather::default(),
            names: wide.iter().map(|point| point.name.clone()).collect(),
            places: HashMap::new(),
            keys: Keys::of(header),
            long,
            wide,
            space,
            extra: Extra {
                presence: column("presence").is_some(),
                width: column("width"),
                height: column("height"),
                depth: column("depth"),
                ..Extra::default()
            },
            counted: 0,
            highest_score: 0.0,
        }
    }

    fn take(&mut self, row: &Row<'_>) -> Result<(), Fault> {
        self.whole_table(row)?;
        match self.long.clone() {
            Some(long) => self.long_row(row, &long),
            None => self.wide_row(row),
        }
    }

    /// What the first row says about the whole table.
    fn whole_table(&mut self, row: &Row<'_>) -> Result<(), Fault> {
        let extra = &mut self.extra;
        if let (Some(width), Some(height), None) = (extra.width, extra.height, extra.size) {
            let (width, height) = (row.number(width)?, row.number(height)?);
            extra.size =
                Some(PictureSize { width, height }).filter(|_| width > 0.0 && height > 0.0);
        }
        if let (Some(depth), None) = (extra.depth, extra.guessed) {
            extra.guessed = Some(row.text(depth).eq_ignore_ascii_case("guessed"));
        }
        Ok(())
    }

    fn long_row(&mut self, row: &Row<'_>, long: &LongColumns) -> Result<(), Fault> {
        let (key, stamp) = long.key(row)?;
        let frame = self.gather.frame(key, stamp, &row.place())?;
        let name = row.text(long.point);
        if name.is_empty() {
            // A frame that is named to say that nobody is in it.
            return Ok(());
        }
        let place = match self.places.get(name) {
            Some(place) => *place,
            None if self.names.len() >= limits::KEYPOINTS => {
                return Err(Fault::new(
                    crate::note::FaultKind::Limit,
                    "read/limit",
                    format!("there are more than {} different points", limits::KEYPOINTS),
                    row.place().keypoint(name),
                    "giving the point's name in the point column",
                ));
            }
            None => {
                self.names.push(name.to_string());
                self.places.insert(name.to_string(), self.names.len() - 1);
                self.names.len() - 1
            }
        };
        let mut cell = long.cell(row)?;
        if let (Some(z), Some([x, y])) = (long.z, cell.picture) {
            cell = Cell {
                picture: None,
                space: Some([x, y, row.number(z)?]),
                ..cell
            };
        }
        let person = long
            .person
            .map(|column| row.text(column))
            .filter(|id| !id.is_empty());
        self.point(frame, person, place, cell);
        Ok(())
    }

    fn wide_row(&mut self, row: &Row<'_>) -> Result<(), Fault> {
        let (key, stamp) = self.keys.key(row, self.counted)?;
        self.counted += 1;
        let frame = self.gather.frame(key, stamp, &row.place())?;
        let person = self
            .keys
            .person
            .map(|column| row.text(column))
            .filter(|id| !id.is_empty());
        for place in 0..self.wide.len() {
            let Some(point) = self.wide.get(place) else {
                continue;
            };
            let mut cell = point.cell(row)?;
            if self.space
                && let Some([x, y]) = cell.picture
            {
                let z = point
                    .depth
                    .map_or(Ok(f64::NAN), |column| row.number(column))?;
                cell = Cell {
                    picture: None,
                    space: Some([x, y, z]),
                    ..cell
                };
            }
            self.point(frame, person, place, cell);
        }
        Ok(())
    }

    fn point(&mut self, frame: usize, person: Option<&str>, place: usize, cell: Cell) {
        if cell.score.is_finite() {
            self.highest_score = self.highest_score.max(cell.score);
        }
        self.gather.point(frame, person, place, cell);
    }

    fn finish(
        self,
        reader: &'static str,
        header: &[String],
        member: &Member,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let order = order_of_numbers(&self.names);
        let known = Known {
            names: order.is_none().then_some(self.names.as_slice()),
            count: self.names.len(),
            stated: options.layout.as_deref(),
            usual: if self.space { USUAL_SPACE } else { USUAL },
        };
        let mut layout = Layout::settle(known, models, &member.place().field("point"))?;
        if let Some(order) = &order {
            layout = layout.reordered(order);
        }
        let word = match &self.long {
            Some(long) => long.score.map_or("", |(_, word)| word).to_string(),
            None => self
                .wide
                .iter()
                .map(|p| p.score_word.clone())
                .find(|w| !w.is_empty())
                .unwrap_or_default(),
        };
        let mut recording = Recording {
            layout_by_count: layout.by_count,
            size: self.extra.size,
            metres_per_unit: self.long.as_ref().and_then(|long| long.metres_per_unit),
            measured_depth: self.space && self.extra.guessed != Some(true),
            least_score: self.least_score(&word),
            ..Recording::new(reader, layout.id.clone(), layout.joints.clone())
        };
        if self.highest_score > 1.0 {
            recording.notes.push(Note::new(
                "read/score-over-one",
                format!(
                    "Scores reach {}, so that only 0 counts as not seen.",
                    self.highest_score
                ),
            ));
        }
        if order.is_none() {
            layout.tell_unused(&self.names, &mut recording);
        }
        if self.space && self.extra.guessed.is_none() {
            recording.notes.push(Note::new(
                "read/depth-assumed",
                "The third coordinate was taken as measured, not as guessed from one picture.",
            ));
        }
        if self.gather.doubles > 0 {
            recording.notes.push(Note::new(
                "read/duplicate-points",
                format!(
                    "{} points came twice in a frame; the first counts.",
                    self.gather.doubles
                ),
            ));
        }
        recording.frames = self.gather.finish(&layout);
        depth_camera::settle_axes(&mut recording, options.up);
        stamps::settle(
            &mut recording.frames,
            key_columns::time_unit(header),
            &mut recording.notes,
        );
        Ok(recording)
    }

    fn least_score(&self, word: &str) -> f64 {
        if self.extra.presence || self.highest_score > 1.0 {
            return 0.0;
        }
        let found = LEAST
            .iter()
            .find(|(name, _)| *name == word || name.is_empty());
        found.map_or(0.0, |(_, least)| *least)
    }
}
