//! The second pass: results from the disk, in input order, to tables and summary page.
//!
//! In: the clips and how each came out. Out: counts and files. A few results are read at a time, on all cores,
//! and written in order. What is read is each clip's `review.json`, so that tables hold the numbers of the
//! reports, and are the same whether a clip was reviewed now or in an earlier run.

use super::clip::Clip;
use super::overview::Overview;
use super::record::Record;
use super::tables::{self, Entry, Tables};
use super::work::{Outcome, folder};
use super::{Done, Job};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
use crate::report;
use crate::session::{Session, Verdict};
use rayon::prelude::*;
use std::path::Path;

/// Results read at a time: enough for all cores of a workstation, a few megabytes.
const AT_A_TIME: usize = 32;

/// Name of the page.
const PAGE: &str = "summary.html";

/// The results of a clip with their folders.
type Sessions = Vec<(String, Session)>;

/// Takes tables and page of an earlier run away.
pub fn remove_tables(out: &Path) -> Result<(), Fault> {
    for name in tables::NAMES.into_iter().chain([PAGE]) {
        let path = out.join(name);
        match std::fs::remove_file(&path) {
            Err(error) if path.exists() => return Err(report::write_fault(&path, &error)),
            _ => {}
        }
    }
    Ok(())
}

/// Reads the results back and writes tables and page.
pub fn collect(
    job: &Job,
    models: &Models,
    clips: &[Clip],
    outcomes: Vec<Result<Outcome, Box<Fault>>>,
) -> Result<Done, Fault> {
    let mut done = Done {
        clips: clips.len(),
        ..Done::default()
    };
    let mut tables = Tables::new(&job.out)?;
    let mut overview = Overview::new();
    let mut outcomes = outcomes.into_iter();
    for chunk in clips.chunks(AT_A_TIME) {
        let outcomes: Vec<_> = outcomes.by_ref().take(chunk.len()).collect();
        let unchanged =
            |outcome: &&Result<Outcome, Box<Fault>>| matches!(outcome, Ok(Outcome::Unchanged));
        done.unchanged += outcomes.iter().filter(unchanged).count();
        let read: Vec<Result<Sessions, Box<Fault>>> = chunk
            .par_iter()
            .zip(outcomes)
            .map(|(clip, outcome)| outcome.and_then(|_| sessions(&job.out, clip)))
            .collect();
        for (clip, sessions) in chunk.iter().zip(read) {
            let sessions = match sessions {
                Ok(sessions) => sessions,
                Err(fault) => {
                    tables.fail(clip, &fault)?;
                    overview.fail(clip, &fault);
                    done.failures.push((clip.shown.clone(), *fault));
                    continue;
                }
            };
            for (folder, session) in sessions {
                let entry = Entry {
                    clip,
                    folder,
                    session,
                };
                count(&mut done, &entry.session);
                tables.add(&entry, models)?;
                overview.add(&entry);
            }
        }
    }
    done.written = tables.finish()?;
    let page = overview.page(job, &done, models)?;
    done.written.push(report::write_file(
        &job.out,
        PAGE,
        page.as_bytes(),
        report::Settling::Now,
    )?);
    Ok(done)
}

fn count(done: &mut Done, session: &Session) {
    let of = |verdict: Verdict| {
        let reps = session.reps.iter();
        reps.filter(|rep| rep.verdict == verdict).count() as u64
    };
    let reps = session.reps.len() as u64;
    done.results += 1;
    done.reps += reps;
    done.measurable += reps - of(Verdict::CannotTell);
    done.outside += of(Verdict::Outside);
}

/// The results of a clip with their folders below the output folder.
fn sessions(out: &Path, clip: &Clip) -> Result<Sessions, Box<Fault>> {
    let folder = folder(out, clip);
    let lost = |what: String| {
        Box::new(Fault::new(
            FaultKind::Io,
            "batch/result-lost",
            format!("the result that was written cannot be read back: {what}"),
            Place::file(&clip.shown),
            "running again with --resume, and keeping other programs out of the output folder",
        ))
    };
    let record = Record::read(&folder).ok_or_else(|| lost("its record is gone".into()))?;
    let mut sessions = Vec::new();
    for name in record.results {
        let bytes = std::fs::read(folder.join(&name).join("review.json"))
            .map_err(|error| lost(error.to_string()))?;
        let session = serde_json::from_slice(&bytes).map_err(|error| lost(error.to_string()))?;
        let shown = match name.as_str() {
            "" => format!("clips/{}", clip.id),
            name => format!("clips/{}/{name}", clip.id),
        };
        sessions.push((shown, session));
    }
    Ok(sessions)
}
