//! DeepLabCut tables, and those of programs that write the same: three header rows `scorer`, `bodyparts`,
//! `coords`, or four with `individuals` second, then one row a frame.
//!
//! Columns are x, y, likelihood; x, y in files labelled by hand; x, y, z in triangulated ones. The first cell
//! of a row is the frame, or the path of its image, which may be spread over three cells. Names are the
//! user's own. HDF5 twins of these tables are not read here.

use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::gather::{Cell, Gather, Key};
use crate::readers::layout::Known;
use crate::readers::probe::Shape;
use crate::readers::sketch::listed;
use crate::readers::table::{Row, Table};
use crate::readers::{Fit, Layout, Probe, ReadOptions, Reader, Source, limits};
use crate::track::{Recording, Scale};

/// Likelihood below which a point counts as not seen: the program's own default for plots and videos
/// (pcutoff 0.6; from memory, not verified).
const LEAST_LIKELIHOOD: f64 = 0.6;
/// Individual that stands for points which belong to no individual.
const NOBODY: &str = "single";
/// Header rows before the data, at most.
const HEADERS: usize = 4;

/// The reader.
pub struct DeeplabcutCsv;

impl Reader for DeeplabcutCsv {
    fn id(&self) -> &'static str {
        "deeplabcut-csv"
    }

    fn title(&self) -> &'static str {
        "DeepLabCut table, CSV"
    }

    fn about(&self) -> &'static str {
        "Reads the table with the header rows scorer, bodyparts and coords, and individuals where there are \
         several; Lightning Pose writes the same. Coordinates are pixels, or with z those of the calibration. \
         There is no rate (--fps) and no picture size (--size). Points with a likelihood below 0.6 count as \
         not seen; labelled files have none and every label counts. Names are compared without case, spaces \
         and separators; --map left_shoulder=NAME says what a name means. Of the HDF5 twin, export the CSV."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Shape::Table { header, rows } = &probe.shape else {
            return Fit::no("not a table");
        };
        let starts = |row: Option<&Vec<String>>, words: &[&str]| {
            row.and_then(|row| row.first())
                .is_some_and(|cell| words.iter().any(|word| cell.eq_ignore_ascii_case(word)))
        };
        match (
            starts(Some(header), &["scorer"]),
            starts(rows.first(), &["bodyparts", "individuals"]),
        ) {
            (true, true) => Fit::certain("header rows `scorer` and `bodyparts`"),
            (true, false) => Fit::possible("the first cell is `scorer`"),
            _ => Fit::no("the first cell is not `scorer`"),
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
        let head = Head::read(&mut table, &member.place())?;
        let known = Known {
            names: Some(&head.points),
            count: head.points.len(),
            stated: options.layout.as_deref(),
            usual: &[],
        };
        let layout = Layout::settle(known, models, &member.place().field("bodyparts"))?;
        let scored = head.columns.iter().any(|column| column.score.is_some());
        let in_space = head.columns.iter().any(|column| column.z.is_some());
        let mut recording = Recording {
            scale: Scale::Pixels,
            measured_depth: in_space,
            least_score: if scored { LEAST_LIKELIHOOD } else { 0.0 },
            ..Recording::new(self.id(), layout.id.clone(), layout.joints.clone())
        };
        if in_space {
            recording.notes.push(Note::new(
                "read/depth-assumed",
                "The third coordinate was taken as measured with several cameras.",
            ));
        }
        if !head.nobody.is_empty() {
            recording.notes.push(Note::new(
                "read/points-unused",
                format!(
                    "The points {} belong to no individual (`{NOBODY}`) and were left out.",
                    listed(&head.nobody)
                ),
            ));
        }
        layout.tell_unused(&head.points, &mut recording);
        let mut rows = Rows {
            gather: Gather::default(),
            folder: None,
        };
        while let Some(row) = table.next_row()? {
            rows.take(&row, &head)?;
        }
        if rows.gather.doubles > 0 {
            recording.notes.push(Note::new(
                "read/duplicate-points",
                format!(
                    "{} points came twice in a frame; the first counts.",
                    rows.gather.doubles
                ),
            ));
        }
        recording.frames = rows.gather.finish(&layout);
        Ok(recording)
    }
}

/// The columns of one point of one individual.
#[derive(Debug, Default)]
struct Columns {
    individual: String,
    point: usize,
    x: Option<usize>,
    y: Option<usize>,
    z: Option<usize>,
    score: Option<usize>,
}

/// What the header rows say.
#[derive(Debug, Default)]
struct Head {
    /// Cells before the first data column.
    index: usize,
    points: Vec<String>,
    columns: Vec<Columns>,
    /// Points that belong to no individual, beside individuals.
    nobody: Vec<String>,
}

impl Head {
    /// Reads the header rows.
    fn read(table: &mut Table, place: &Place) -> Result<Head, Fault> {
        let scorers = table.header().to_vec();
        let malformed = |line: u64, what: String, remedy: &str| {
            Fault::new(
                FaultKind::Malformed,
                "read/value",
                what,
                place.clone().line(line),
                remedy,
            )
        };
        let mut individuals: Option<Vec<String>> = None;
        let mut bodyparts: Option<Vec<String>> = None;
        let mut coords: Option<Vec<String>> = None;
        for _ in 1..HEADERS {
            let Some(row) = table.next_row()? else { break };
            let cells: Vec<String> = (0..scorers.len())
                .map(|column| row.text(column).to_string())
                .collect();
            match row.text(0).to_lowercase().as_str() {
                "individuals" => individuals = Some(cells),
                "bodyparts" => bodyparts = Some(cells),
                "coords" => coords = Some(cells),
                other => {
                    return Err(malformed(
                        row.line,
                        format!("`{other}` where the header rows bodyparts and coords belong"),
                        "exporting again with all header rows",
                    ));
                }
            }
            if coords.is_some() {
                break;
            }
        }
        let (Some(bodyparts), Some(coords)) = (bodyparts, coords) else {
            return Err(malformed(
                2,
                "one of the header rows bodyparts and coords is missing".to_string(),
                "exporting again with all header rows",
            ));
        };
        let index = coords
            .iter()
            .skip(1)
            .position(|cell| !cell.is_empty())
            .map_or(coords.len(), |at| at + 1);
        let mut known: Vec<&String> = Vec::new();
        for scorer in scorers.iter().skip(index).filter(|name| !name.is_empty()) {
            if !known.contains(&scorer) {
                known.push(scorer);
            }
        }
        if let [first, second, ..] = known.as_slice() {
            return Err(malformed(
                1,
                format!("the points were placed twice, by `{first}` and by `{second}`"),
                "leaving the columns of one scorer in the file",
            ));
        }
        let mut head = Head {
            index,
            ..Head::default()
        };
        for column in index..coords.len() {
            let cell = |cells: &[String]| cells.get(column).cloned().unwrap_or_default();
            let (name, coordinate) = (cell(&bodyparts), cell(&coords).to_lowercase());
            let individual = individuals.as_deref().map(cell).unwrap_or_default();
            if name.is_empty() && coordinate.is_empty() {
                continue;
            }
            head.add(column, &individual, &name, &coordinate)
                .map_err(|what| malformed(3, what, "exporting again with all header rows"))?;
        }
        head.settle_individuals();
        if head.points.len() > limits::KEYPOINTS {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!("there are more than {} different points", limits::KEYPOINTS),
                place.clone().line(2),
                "exporting only the points of the body",
            ));
        }
        Ok(head)
    }

    /// Adds a column.
    fn add(
        &mut self,
        column: usize,
        individual: &str,
        name: &str,
        coordinate: &str,
    ) -> Result<(), String> {
        let point = match self.points.iter().position(|known| known == name) {
            Some(point) => point,
            None => {
                self.points.push(name.to_string());
                self.points.len() - 1
            }
        };
        let same = |one: &Columns| one.point == point && one.individual == individual;
        let at = match self.columns.iter().position(same) {
            Some(at) => at,
            None => {
                self.columns.push(Columns {
                    individual: individual.to_string(),
                    point,
                    ..Columns::default()
                });
                self.columns.len() - 1
            }
        };
        let Some(columns) = self.columns.get_mut(at) else {
            return Ok(());
        };
        let slot = match coordinate {
            "x" => &mut columns.x,
            "y" => &mut columns.y,
            "z" => &mut columns.z,
            "likelihood" => &mut columns.score,
            // Columns of other programs beside these, such as a spread, say nothing that is used.
            _ => return Ok(()),
        };
        match slot.replace(column) {
            None => Ok(()),
            Some(_) => Err(format!("`{name}` has the column {coordinate} twice")),
        }
    }

    /// Points of nobody are somebody's only if there is nobody else.
    fn settle_individuals(&mut self) {
        let is_nobody = |one: &Columns| one.individual == NOBODY;
        if self.columns.iter().all(is_nobody) {
            return;
        }
        let (nobody, rest): (Vec<_>, Vec<_>) = std::mem::take(&mut self.columns)
            .into_iter()
            .partition(is_nobody);
        self.columns = rest;
        let names = nobody.iter().filter_map(|one| self.points.get(one.point));
        self.nobody = names.cloned().collect();
    }
}

struct Rows {
    gather: Gather,
    /// Folder of the images, if rows name images.
    folder: Option<String>,
}

impl Rows {
    fn take(&mut self, row: &Row<'_>, head: &Head) -> Result<(), Fault> {
        let number = self.number(row, head)?;
        let frame = self
            .gather
            .frame(Key::Number(number), f64::NAN, &row.place())?;
        for columns in &head.columns {
            let (Some(x), Some(y)) = (columns.x, columns.y) else {
                continue;
            };
            let (x, y) = (row.number(x)?, row.number(y)?);
            let z = columns.z.map(|z| row.number(z)).transpose()?;
            let cell = Cell {
                picture: z.is_none().then_some([x, y]),
                space: z.map(|z| [x, y, z]),
                score: columns.score.map_or(Ok(1.0), |column| row.number(column))?,
            };
            let person = Some(columns.individual.as_str()).filter(|name| !name.is_empty());
            self.gather.point(frame, person, columns.point, cell);
        }
        Ok(())
    }

    /// The frame of a row: a number, or the last digits of an image's name.
    fn number(&mut self, row: &Row<'_>, head: &Head) -> Result<i64, Fault> {
        let cells: Vec<&str> = (0..head.index).map(|column| row.text(column)).collect();
        if let [only] = cells.as_slice()
            && let Ok(number) = only.parse::<f64>()
            && number.fract() == 0.0
            // Beyond 2^53 neighbouring frame numbers could not be told apart.
            && number.abs() < 9e15
        {
            return Ok(number as i64);
        }
        let path = cells.join("/").replace('\\', "/");
        let (folder, name) = path.rsplit_once('/').unwrap_or(("", &path));
        match &self.folder {
            Some(first) if first != folder => {
                return Err(Fault::new(
                    FaultKind::Unsupported,
                    "read/mixed-folder",
                    format!("it holds images of two clips, `{first}` and `{folder}`"),
                    row.place(),
                    "leaving the rows of one clip in the file",
                ));
            }
            Some(_) => {}
            None => self.folder = Some(folder.to_string()),
        }
        let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
        let tail = stem.trim_end_matches(|c: char| !c.is_ascii_digit());
        let start = tail.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let digits = tail.get(start..).unwrap_or_default();
        digits.parse().map_err(|_| {
            Fault::new(
                FaultKind::Malformed,
                "read/number",
                format!("`{path}` holds no frame number"),
                row.place(),
                "numbering the images in the order of the clip",
            )
        })
    }
}
