//! SLEAP analysis tables: `track,frame_idx,instance.score,<node>.x,<node>.y,<node>.score,...`, one row for
//! each instance of each frame.
//!
//! Frames without an instance have no row. The track is empty where instances were not tracked; several rows
//! of a frame are then several people. Names of nodes are the user's own.

use crate::models::Models;
use crate::note::Fault;
use crate::readers::columns::{self, Point};
use crate::readers::gather::Gather;
use crate::readers::key_columns::Keys;
use crate::readers::layout::Known;
use crate::readers::probe::Shape;
use crate::readers::table::{Row, Table, plain};
use crate::readers::{Fit, Layout, Probe, ReadOptions, Reader, Source, limits};
use crate::track::{Detection, Recording, Scale};

/// Score below which a node counts as not seen: the program's own default threshold of a peak (from memory,
/// not verified).
const LEAST_SCORE: f64 = 0.2;

/// The reader.
pub struct SleapCsv;

/// Whether a table is of this kind.
pub fn is_header(header: &[String]) -> bool {
    let has = |word: &str| header.iter().any(|name| plain(name) == word);
    has("track") && has("frameidx") && has("instancescore")
}

impl Reader for SleapCsv {
    fn id(&self) -> &'static str {
        "sleap-csv"
    }

    fn title(&self) -> &'static str {
        "SLEAP analysis, CSV"
    }

    fn about(&self) -> &'static str {
        "Reads the table with track, frame_idx, instance.score and x, y, score of each node; pixels. There is \
         no rate (--fps) and no picture size (--size). Without tracks, people are joined from frame to frame \
         by their place. Nodes with a score below 0.2 count as not seen; one without a score was placed by \
         hand and counts. Names are compared without case, spaces and separators; --map left_shoulder=NAME \
         says what a name means."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Shape::Table { header, .. } = &probe.shape else {
            return Fit::no("not a table");
        };
        match is_header(header) {
            true => Fit::certain("columns `track`, `frame_idx` and `instance.score`"),
            false => Fit::no("no columns `track`, `frame_idx` and `instance.score`"),
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
        let points = columns::points(&header);
        let names: Vec<String> = points.iter().map(|point| point.name.clone()).collect();
        let known = Known {
            names: Some(&names),
            count: names.len(),
            stated: options.layout.as_deref(),
            usual: &[],
        };
        let layout = Layout::settle(known, models, &member.place().field("nodes"))?;
        let keys = Keys::of(&header);
        let mut gather = Gather::default();
        let mut index = 0;
        while let Some(row) = table.next_row()? {
            let (key, _) = keys.key(&row, index)?;
            index += 1;
            let frame = gather.frame(key, f64::NAN, &row.place())?;
            let one = instance(&row, &points, keys.person)?;
            if !gather.whole(frame, one) {
                return Err(limits::people(row.place()));
            }
        }
        let mut recording = Recording {
            scale: Scale::Pixels,
            least_score: LEAST_SCORE,
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        layout.tell_unused(&names, &mut recording);
        recording.frames = gather.finish(&layout);
        Ok(recording)
    }
}

/// A row as keypoints.
fn instance(row: &Row<'_>, points: &[Point], person: Option<usize>) -> Result<Detection, Fault> {
    let mut picture = Vec::with_capacity(points.len());
    for point in points {
        let cell = point.cell(row)?;
        let [x, y] = cell.picture.unwrap_or([f64::NAN; 2]);
        // A node without a score was placed by hand.
        let score = if cell.score.is_nan() { 1.0 } else { cell.score };
        picture.push([x as f32, y as f32, score as f32]);
    }
    let id = person
        .map(|column| row.text(column))
        .filter(|id| !id.is_empty() && !id.eq_ignore_ascii_case("nan"));
    Ok(Detection {
        id: id.map(str::to_string),
        picture,
        space: Vec::new(),
    })
}
