//! The 33-landmark body model as a table, in every form that people write it.
//!
//! One row a frame: `x0,y0,z0,v0,...,wx0,...`, `nose_x`, `landmark_0_x`, counted from 0 or 1, or 99 or 132
//! numbers without names. One row a landmark: `frame,landmark,x,y,z,visibility`, with the frame left out, or
//! with the landmark left out where 33 rows follow each other. Meaning of the columns as in the JSON form. A
//! frame without anybody has empty cells, zeros, or no row.

use super::sleap_csv;
use crate::models::Models;
use crate::note::{Fault, FaultKind};
use crate::readers::columns::{self, Point};
use crate::readers::gather::{Cell, Gather, Key};
use crate::readers::key_columns::{self, Keys, LongColumns, RowColumns};
use crate::readers::probe::Shape;
use crate::readers::table::{Row, Table, parse_number};
use crate::readers::{
    Fit, Member, Probe, ReadOptions, Reader, Source, landmarks, landmarks_axes, stamps,
};
use crate::track::Recording;

/// The reader.
pub struct Landmarks33Csv;

/// Landmarks of a person.
const COUNT: usize = 33;
/// Numbers of a row without names: x, y, z and visibility, or x, y, z of each landmark.
const BARE: [usize; 2] = [4 * COUNT, 3 * COUNT];

/// The form of a table.
enum Form {
    /// One row a frame.
    Wide(Vec<Point>),
    /// One row a landmark.
    Long(LongColumns),
    /// One row a landmark that does not say its frame.
    Frameless(LongColumns),
    /// One row a landmark that does not say which.
    Nameless(RowColumns),
    /// One row a frame, numbers only, so many for each landmark.
    Bare(usize),
}

impl Form {
    fn of(header: &[String]) -> Form {
        let number = |cell: &String| parse_number(cell, b',').is_some() && !cell.is_empty();
        if BARE.contains(&header.len()) && header.iter().all(number) {
            return Form::Bare(header.len() / COUNT);
        }
        if let Some(long) = LongColumns::of(header) {
            return Form::Long(long);
        }
        if let Some(long) = LongColumns::without_frame(header) {
            return Form::Frameless(long);
        }
        let points = columns::points(header);
        match RowColumns::of(header) {
            Some(columns) if points.is_empty() => Form::Nameless(columns),
            _ => Form::Wide(points),
        }
    }
}

impl Reader for Landmarks33Csv {
    fn id(&self) -> &'static str {
        "landmarks33-csv"
    }

    fn title(&self) -> &'static str {
        "33-landmark body model, CSV"
    }

    fn about(&self) -> &'static str {
        "Reads one row a frame with columns such as x0,y0,z0,v0 (and wx0,wy0,wz0 for world coordinates), \
         nose_x or landmark_0_x, counted from 0 or 1, or 132 or 99 numbers without names; or one row a \
         landmark with frame, landmark, x, y, z, visibility, where the frame or the landmark may be left out. \
         Picture coordinates in pixels, or as shares of the picture, which need --size; world coordinates do \
         not. Coordinates about the middle of the hips are world coordinates; y that counts upward is turned \
         over; a note says so. Points with a visibility below 0.2 count as not seen."
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
        let points_of = |column: usize| {
            let cells = rows.iter().filter_map(|row| row.get(column));
            cells.map(String::as_str).collect::<Vec<_>>()
        };
        match Form::of(header) {
            Form::Wide(points) => {
                let names: Vec<&str> = points.iter().map(|point| point.name.as_str()).collect();
                match landmarks::base_of(&names, models) {
                    Some(base) => Fit::certain(format!("columns of the 33 landmarks, from {base}")),
                    None => Fit::no("no columns of the 33 landmarks"),
                }
            }
            Form::Long(long) | Form::Frameless(long) => {
                match landmarks::base_of(&points_of(long.point), models) {
                    Some(_) => Fit::certain("rows of the 33 landmarks"),
                    None => Fit::no("the point column does not hold the 33 landmarks"),
                }
            }
            Form::Nameless(_) => Fit::possible("columns x and y without a point: 33 rows a frame"),
            Form::Bare(each) => {
                Fit::possible(format!("{} numbers a row without names", each * COUNT))
            }
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let count = options
            .layout
            .as_deref()
            .and_then(|id| models.skeleton(id))
            .or_else(|| models.skeleton(landmarks::LAYOUT))
            .map_or(0, |layout| layout.keypoints.len());
        let layout = landmarks::layout(count, options.layout.as_deref(), models, &member.place())?;
        let header = Table::open(member)?.header().to_vec();
        let mut recording = landmarks::recording(self.id(), &layout);
        let mut gather = Gather::default();
        match Form::of(&header) {
            Form::Wide(points) => wide(member, &points, models, &mut gather)?,
            Form::Long(long) => self::long(member, &long, models, &mut gather)?,
            Form::Frameless(long) => frameless(member, &long, models, &mut gather)?,
            Form::Nameless(columns) => {
                recording.layout_by_count = true;
                nameless(member, &columns, &mut gather)?;
            }
            Form::Bare(each) => {
                recording.layout_by_count = true;
                bare(member, each, &mut gather)?;
            }
        }
        recording.frames = gather.finish(&layout);
        let unit = key_columns::time_unit(&header);
        stamps::settle(&mut recording.frames, unit, &mut recording.notes);
        landmarks_axes::settle(&mut recording, options.size, &member.place())?;
        Ok(recording)
    }
}

/// The cell with x, y, z as a candidate for world coordinates, where the table has none of its own.
fn candidate(cell: Cell, z: Option<f64>) -> Cell {
    let space = match (cell.picture, z) {
        (Some([x, y]), Some(z)) => Some([x, y, z]),
        _ => None,
    };
    Cell {
        space: cell.space.or(space),
        ..cell
    }
}

fn base(member: &Member, long: &LongColumns, models: &Models) -> Result<usize, Fault> {
    let mut table = Table::open(member)?;
    let mut names: Vec<String> = Vec::new();
    while let Some(row) = table.next_row()? {
        let name = row.text(long.point);
        // The list of distinct names is as long as the layout; a longer one is some other file.
        if !names.iter().any(|known| known == name) && names.len() < 3 * COUNT {
            names.push(name.to_string());
        }
    }
    Ok(landmarks::base_of(&names, models).unwrap_or(0))
}

fn long_cell(row: &Row<'_>, long: &LongColumns) -> Result<Cell, Fault> {
    let z = long.z.map(|column| row.number(column)).transpose()?;
    Ok(candidate(long.cell(row)?, z))
}

fn long(
    member: &Member,
    long: &LongColumns,
    models: &Models,
    gather: &mut Gather,
) -> Result<(), Fault> {
    // Whether numbers count from 0 or 1 is known at the end only.
    let base = base(member, long, models)?;
    let mut table = Table::open(member)?;
    while let Some(row) = table.next_row()? {
        let (key, stamp) = long.key(&row)?;
        let frame = gather.frame(key, stamp, &row.place())?;
        if let Some(point) = landmarks::index_of(row.text(long.point), base, models) {
            let person = long.person.map(|column| row.text(column));
            gather.point(frame, person, point, long_cell(&row, long)?);
        }
    }
    Ok(())
}

/// A frame that has not as many landmarks as it must, so that where frames begin cannot be trusted.
fn not_whole(row_place: crate::note::Place, frame: i64, count: usize) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/length",
        format!("{count} rows where a frame has {COUNT}"),
        row_place.frame(frame),
        "exporting again with a column for the frame and one for the landmark",
    )
}

fn frameless(
    member: &Member,
    long: &LongColumns,
    models: &Models,
    gather: &mut Gather,
) -> Result<(), Fault> {
    let base = base(member, long, models)?;
    let mut table = Table::open(member)?;
    let (mut number, mut seen) = (0_i64, Vec::with_capacity(COUNT));
    let mut last = member.place();
    while let Some(row) = table.next_row()? {
        let Some(point) = landmarks::index_of(row.text(long.point), base, models) else {
            continue;
        };
        if seen.contains(&point) {
            if seen.len() != COUNT {
                return Err(not_whole(row.place(), number, seen.len()));
            }
            seen.clear();
            number += 1;
        }
        seen.push(point);
        last = row.place();
        let frame = gather.frame(Key::Number(number), f64::NAN, &last)?;
        gather.point(frame, None, point, long_cell(&row, long)?);
    }
    match seen.len() {
        COUNT => Ok(()),
        count => Err(not_whole(last, number, count)),
    }
}

fn nameless(member: &Member, columns: &RowColumns, gather: &mut Gather) -> Result<(), Fault> {
    let mut table = Table::open(member)?;
    let (mut place, mut rows) = (member.place(), 0_usize);
    let mut current: Option<Key> = None;
    let mut in_frame = 0;
    while let Some(row) = table.next_row()? {
        let (key, stamp) = columns.key(&row, (rows / COUNT) as i64)?;
        if current != Some(key) {
            if current.is_some() && in_frame != COUNT {
                return Err(not_whole(row.place(), (rows / COUNT) as i64, in_frame));
            }
            (current, in_frame) = (Some(key), 0);
        }
        if in_frame == COUNT {
            return Err(not_whole(row.place(), (rows / COUNT) as i64, COUNT + 1));
        }
        place = row.place();
        let frame = gather.frame(key, stamp, &place)?;
        let (cell, z) = columns.cell(&row)?;
        gather.point(frame, None, in_frame, candidate(cell, z));
        (in_frame, rows) = (in_frame + 1, rows + 1);
    }
    match in_frame {
        COUNT => Ok(()),
        count => Err(not_whole(place, (rows / COUNT) as i64, count)),
    }
}

fn bare(member: &Member, each: usize, gather: &mut Gather) -> Result<(), Fault> {
    let mut table = Table::open_bare(member)?;
    let mut number = 0;
    while let Some(row) = table.next_row()? {
        let frame = gather.frame(Key::Number(number), f64::NAN, &row.place())?;
        number += 1;
        let mut numbers = Vec::with_capacity(each * COUNT);
        for column in 0..each * COUNT {
            numbers.push(row.number(column)?);
        }
        if numbers.iter().all(|value| *value == 0.0) {
            // Zeros stand for nobody.
            continue;
        }
        for (point, values) in numbers.chunks(each).enumerate() {
            let at = |index: usize| values.get(index).copied();
            let cell = Cell {
                picture: at(0).zip(at(1)).map(|(x, y)| [x, y]),
                space: None,
                score: at(3).unwrap_or(1.0),
            };
            gather.point(frame, None, point, candidate(cell, at(2)));
        }
    }
    Ok(())
}

fn wide(
    member: &Member,
    points: &[Point],
    models: &Models,
    gather: &mut Gather,
) -> Result<(), Fault> {
    let mut table = Table::open(member)?;
    let names: Vec<&str> = points.iter().map(|point| point.name.as_str()).collect();
    let base = landmarks::base_of(&names, models).unwrap_or(0);
    let places: Vec<Option<usize>> = names
        .iter()
        .map(|name| landmarks::index_of(name, base, models))
        .collect();
    let header = table.header().to_vec();
    let keys = Keys::of(&header);
    let mut index = 0_i64;
    while let Some(row) = table.next_row()? {
        let (key, stamp) = keys.key(&row, index)?;
        index += 1;
        let frame = gather.frame(key, stamp, &row.place())?;
        let person = keys.person.map(|column| row.text(column));
        for (point, place) in points.iter().zip(&places) {
            let Some(place) = place else { continue };
            let z = point.depth.map(|column| row.number(column)).transpose()?;
            gather.point(frame, person, *place, candidate(point.cell(&row)?, z));
        }
    }
    Ok(())
}
