//! The 33-landmark body model as a table: one row a frame (`x0,y0,z0,v0,...,wx0,...`, `nose_x`,
//! `landmark_0_x`), or one row a landmark (`frame,landmark,x,y,z,visibility`).
//!
//! Numbers count from 0 or 1. Meaning of the columns as in the JSON form. A frame without anybody has empty
//! cells, or no row.

use crate::models::Models;
use crate::note::Fault;
use crate::readers::columns::{self, Keys, LongColumns, Point};
use crate::readers::gather::Gather;
use crate::readers::probe::Shape;
use crate::readers::stamps;
use crate::readers::table::Table;
use crate::readers::{Fit, Probe, ReadOptions, Reader, Source, landmarks};
use crate::track::Recording;

/// The reader.
pub struct Landmarks33Csv;

impl Reader for Landmarks33Csv {
    fn id(&self) -> &'static str {
        "landmarks33-csv"
    }

    fn title(&self) -> &'static str {
        "33-landmark body model, CSV"
    }

    fn about(&self) -> &'static str {
        "Reads one row a frame with columns such as x0,y0,z0,v0 (and wx0,wy0,wz0 for world coordinates), \
         nose_x or landmark_0_x, counted from 0 or 1, or one row a landmark with frame, landmark, x, y, z, \
         visibility. Picture coordinates in pixels, or as shares of the picture, which need --size; world \
         coordinates do not. Points with a visibility below 0.2 count as not seen."
    }

    fn fit(&self, probe: &Probe, models: &Models) -> Fit {
        let Shape::Table { header, rows } = &probe.shape else {
            return Fit::no("not a table");
        };
        if let Some(long) = LongColumns::of(header) {
            let names: Vec<&str> = rows
                .iter()
                .filter_map(|row| row.get(long.point))
                .map(String::as_str)
                .collect();
            return match landmarks::base_of(&names, models) {
                Some(_) => Fit::certain("rows of the 33 landmarks"),
                None => Fit::no("the point column does not hold the 33 landmarks"),
            };
        }
        let points = columns::points(header);
        let names: Vec<&str> = points.iter().map(|point| point.name.as_str()).collect();
        match landmarks::base_of(&names, models) {
            Some(base) => Fit::certain(format!("columns of the 33 landmarks, from {base}")),
            None => Fit::no("no columns of the 33 landmarks"),
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
        let mut table = Table::open(member)?;
        let header = table.header().to_vec();
        let mut gather = Gather::default();
        let (mut recording, unit) = (
            landmarks::recording(self.id(), &layout),
            columns::time_unit(&header),
        );
        match LongColumns::of(&header) {
            Some(long) => {
                // Whether numbers count from 0 or 1 is known at the end only.
                let base = long_base(&mut Table::open(member)?, &long, models)?;
                while let Some(row) = table.next_row()? {
                    let (key, stamp) = long.key(&row)?;
                    let frame = gather.frame(key, stamp, &row.place())?;
                    if let Some(point) = landmarks::index_of(row.text(long.point), base, models) {
                        let cell = long.cell(&row)?;
                        let person = long.person.map(|column| row.text(column));
                        gather.point(frame, person, point, cell);
                    }
                }
            }
            None => wide(&mut table, &columns::points(&header), models, &mut gather)?,
        }
        recording.frames = gather.finish(&layout);
        stamps::settle(&mut recording.frames, unit, &mut recording.notes);
        Ok(recording)
    }
}

fn long_base(table: &mut Table, long: &LongColumns, models: &Models) -> Result<usize, Fault> {
    let mut names: Vec<String> = Vec::new();
    while let Some(row) = table.next_row()? {
        let name = row.text(long.point);
        // The list of distinct names is as long as the layout; a longer one is some other file.
        if !names.iter().any(|known| known == name) && names.len() < 100 {
            names.push(name.to_string());
        }
    }
    Ok(landmarks::base_of(&names, models).unwrap_or(0))
}

fn wide(
    table: &mut Table,
    points: &[Point],
    models: &Models,
    gather: &mut Gather,
) -> Result<(), Fault> {
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
            gather.point(frame, person, *place, point.cell(&row)?);
        }
    }
    Ok(())
}
