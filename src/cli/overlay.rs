//! What `review --video` and `batch --overlays` add to the reports of a clip.

use super::output;
use super::review::Review;
use super::watch::Bar;
use crate::batch;
use crate::media::Watch;
use crate::media::overlay::{self, Drawing, overlay};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Note, Place};
use crate::readers::{self, Opened, ReadOptions};
use crate::report::{self, Context};
use crate::session;
use std::path::{Path, PathBuf};

/// The video of the clip with the clip's own points.
pub struct Film {
    video: PathBuf,
    opened: Opened,
    mirrored: bool,
    show_face: bool,
    bar: Bar,
    quiet: bool,
}

impl Film {
    /// The video that was named, if one was.
    pub fn of(
        args: &Review,
        options: ReadOptions,
        models: &Models,
        quiet: bool,
    ) -> Result<Option<Film>, Fault> {
        let (Some(video), Some(clip)) = (&args.video, args.clips.first()) else {
            return Ok(None);
        };
        // Legs and faces are drawn or hidden, though nothing is measured of them.
        let opened = readers::open(clip, &options, &models.clone().with_every_joint())?;
        if opened.facts.people.len() > 1 && !args.show_face {
            output::mention(OTHERS, quiet);
        }
        Ok(Some(Film {
            video: video.clone(),
            mirrored: opened.facts.mirrored || options.mirrored,
            opened,
            show_face: args.show_face,
            bar: Bar::new("drawing", quiet)?,
            quiet,
        }))
    }

    /// Draws a review on the video, and writes the page anew with the video in it.
    pub fn draw(
        &mut self,
        folder: &Path,
        review: &session::Review,
        context: &Context,
    ) -> Result<(), Fault> {
        is_another(&self.video, folder)?;
        let (files, notes) = drawn(
            &self.video,
            folder,
            &Drawing {
                track: &self.opened.track,
                review,
                context,
                mirrored: self.mirrored,
                show_face: self.show_face,
            },
            true,
            &self.bar,
        )?;
        for note in &notes {
            output::mention(&note.text, self.quiet);
        }
        for path in files {
            output::mention(&format!("wrote {}", path.display()), self.quiet);
        }
        Ok(())
    }
}

/// The video named is not the file that would be written.
fn is_another(video: &Path, folder: &Path) -> Result<(), Fault> {
    let own = |path: &Path| path.canonicalize().ok();
    if own(video).is_some_and(|video| Some(video) == own(&folder.join(overlay::FILE))) {
        return Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "the video named is the file that would be written",
            Place::default().field("--video"),
            "another folder with --out, or the video as the phone wrote it",
        ));
    }
    Ok(())
}

/// Draws, and writes the page anew with the video in it; the files beside the page, and what was assumed.
fn drawn(
    video: &Path,
    folder: &Path,
    drawing: &Drawing<'_>,
    page: bool,
    watch: &dyn Watch,
) -> Result<(Vec<PathBuf>, Vec<Note>), Fault> {
    overlay::forget(folder);
    let made = overlay(video, folder, drawing, watch)?;
    if page {
        let with_film = Context {
            film: Some(report::Film {
                file: overlay::FILE.into(),
                offset_s: made.offset_s,
            }),
            ..drawing.context.clone()
        };
        let page = report::html::page(drawing.review, &with_film)
            .map_err(|error| report::refused(PAGE, error))?;
        let settling = report::Settling::Now;
        report::write_file(folder, PAGE, page.as_bytes(), settling)?;
    }
    Ok((made.files, made.notes))
}

/// What is to be known of a video with several people.
const OTHERS: &str = "Only the head of the person who is measured is made unrecognisable; others in the picture are not.";

/// The page of a review.
const PAGE: &str = "review.html";

/// Draws the results of a batch.
pub struct Films {
    models: Models,
    quiet: bool,
}

impl Films {
    /// Faces and legs are drawn or hidden, though nothing is measured of them.
    pub fn new(models: &Models, quiet: bool) -> Films {
        Films {
            models: models.clone().with_every_joint(),
            quiet,
        }
    }
}

impl batch::Films for Films {
    fn draw(&self, drawn: &batch::Drawn<'_>) -> Result<Vec<PathBuf>, Fault> {
        is_another(drawn.video, drawn.folder)?;
        let opened = readers::open(&drawn.clip.path, drawn.read, &self.models)?;
        let drawing = Drawing {
            track: &opened.track,
            review: drawn.review,
            context: drawn.context,
            mirrored: opened.facts.mirrored || drawn.read.mirrored,
            show_face: false,
        };
        let (files, notes) =
            self::drawn(drawn.video, drawn.folder, &drawing, drawn.page, &Unwatched)?;
        // Who may be recognised in which video is not to be lost among many.
        let others = (opened.facts.people.len() > 1).then_some(OTHERS);
        for text in others
            .into_iter()
            .chain(notes.iter().map(|note| note.text.as_str()))
        {
            output::mention(&format!("{}: {text}", drawn.clip.shown), self.quiet);
        }
        Ok(files)
    }
}

/// One of many, on a bar that counts clips.
struct Unwatched;

impl Watch for Unwatched {
    fn begin(&self, _: usize) {}
    fn step(&self) {}
    fn end(&self) {}
    fn is_over(&self) -> bool {
        false
    }
}
