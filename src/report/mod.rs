//! What people and other tools see of a result. Nothing is computed here: reports format and draw.
//!
//! In: a [`Review`] and its [`Context`]. Out: files as bytes, written by [`write_all`] so that a folder never
//! holds half a file. A new report is one file and one line in [`WRITERS`].
#![allow(clippy::result_large_err)] // a fault ends the work; its size is paid once

mod about;
pub mod caption;
pub mod casebook;
mod chart;
mod columns;
pub mod comparison;
mod context;
pub mod csv;
mod curves;
mod embed;
mod figure;
mod findings;
mod finite;
pub mod html;
pub mod json;
mod lettering;
mod margins;
pub mod planned;
mod png;
mod rows;
mod schema;
pub mod selfcheck;
mod sheet;
pub mod summary;
pub mod text;
mod view;
pub mod words;
mod write;

pub use context::{BandPoint, Context, Film, LimitRow};
pub use findings::FindingRow;
pub use rows::{Cell, ReadingLine, RepRow};
pub use view::{CompareRow, Count, DriftRow, LimitLine, NoteRow, UnseenRow, View};
pub use write::{
    Settling, clear, fault as write_fault, temporary, write_all, write_file, write_files,
    write_with,
};

use crate::note::{Fault, FaultKind, Place};
use crate::session::Review;

/// One kind of report.
pub trait Writer: Sync {
    /// Kebab-case id.
    fn id(&self) -> &'static str;
    /// What it is, for a list.
    fn title(&self) -> &'static str;
    /// Whether it draws curves or the stick figure.
    fn draws(&self) -> bool {
        true
    }
    /// Name of its file.
    fn file_name(&self) -> &'static str;
    /// Names and bytes of its files; empty when there is nothing to show.
    ///
    /// # Errors
    /// Only when the writing library itself fails; a result with gaps is no error.
    fn write(&self, review: &Review, context: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault>;
}

/// Every report that is a file, in the order in which they are written.
pub static WRITERS: &[&dyn Writer] = &[&ReviewPage, &ReviewJson, &RepsCsv, &WorstMoments];

/// `review.html`.
struct ReviewPage;
/// `review.json`.
struct ReviewJson;
/// `reps.csv`.
struct RepsCsv;
/// `worst-moments.png`.
struct WorstMoments;

/// A library that writes refused; the data cannot be the cause.
pub fn refused(file: &str, what: impl ToString) -> Fault {
    Fault::new(
        FaultKind::Io,
        "report/writer",
        format!("the report could not be made: {}", what.to_string()),
        Place::file(file),
        "running again; if it happens again, report it with review.json",
    )
}

impl Writer for ReviewPage {
    fn id(&self) -> &'static str {
        "page"
    }
    fn title(&self) -> &'static str {
        "The clinician's page, one file that works offline"
    }
    fn file_name(&self) -> &'static str {
        "review.html"
    }
    fn write(&self, review: &Review, context: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        let page = html::page(review, context).map_err(|e| refused(self.file_name(), e))?;
        Ok(vec![(self.file_name().to_string(), page.into_bytes())])
    }
}

impl Writer for ReviewJson {
    fn id(&self) -> &'static str {
        "json"
    }
    fn title(&self) -> &'static str {
        "The result for other programs"
    }
    fn draws(&self) -> bool {
        false
    }
    fn file_name(&self) -> &'static str {
        "review.json"
    }
    fn write(&self, review: &Review, _: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        let text = json::review(&review.session);
        Ok(vec![(self.file_name().to_string(), text.into_bytes())])
    }
}

impl Writer for RepsCsv {
    fn id(&self) -> &'static str {
        "csv"
    }
    fn title(&self) -> &'static str {
        "One row a repetition"
    }
    fn draws(&self) -> bool {
        false
    }
    fn file_name(&self) -> &'static str {
        "reps.csv"
    }
    fn write(&self, review: &Review, context: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        let bytes =
            csv::table(&review.session, context).map_err(|e| refused(self.file_name(), e))?;
        Ok(vec![(self.file_name().to_string(), bytes)])
    }
}

impl Writer for WorstMoments {
    fn id(&self) -> &'static str {
        "png"
    }
    fn title(&self) -> &'static str {
        "Pictures of the worst moments"
    }
    fn file_name(&self) -> &'static str {
        "worst-moments.png"
    }
    fn write(&self, review: &Review, context: &Context) -> Result<Vec<(String, Vec<u8>)>, Fault> {
        let sheet =
            png::contact_sheet(review, context).map_err(|e| refused(self.file_name(), e))?;
        Ok(sheet
            .map(|bytes| (self.file_name().to_string(), bytes))
            .into_iter()
            .collect())
    }
}
