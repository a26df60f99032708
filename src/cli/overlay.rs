//! What `review --video` adds to the reports of a clip.

use super::output;
use super::review::Review;
use super::watch::Bar;
use crate::media::overlay::{self, Drawing, overlay};
use crate::models::Models;
use crate::note::{Fault, FaultKind, Place};
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
            output::mention(
                "Only the head of the person who is measured is made unrecognisable; others in the picture are not.",
                quiet,
            );
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
        let own = |path: &Path| path.canonicalize().ok();
        if own(&self.video).is_some_and(|video| Some(video) == own(&folder.join(overlay::FILE))) {
            return Err(Fault::new(
                FaultKind::Usage,
                "usage/bad-value",
                "the video named is the file that would be written",
                Place::default().field("--video"),
                "another folder with --out, or the video as the phone wrote it",
            ));
        }
        overlay::forget(folder);
        let drawing = Drawing {
            track: &self.opened.track,
            review,
            context,
            mirrored: self.mirrored,
            show_face: self.show_face,
        };
        let made = overlay(&self.video, folder, &drawing, &self.bar)?;
        for note in &made.notes {
            output::mention(&note.text, self.quiet);
        }
        let with_film = Context {
            film: Some(report::Film {
                file: overlay::FILE.into(),
                offset_s: made.offset_s,
            }),
            ..context.clone()
        };
        let page = report::html::page(review, &with_film)
            .map_err(|error| report::refused("review.html", error))?;
        report::write_file(
            folder,
            "review.html",
            page.as_bytes(),
            report::Settling::Now,
        )?;
        for path in made.files {
            output::mention(&format!("wrote {}", path.display()), self.quiet);
        }
        Ok(())
    }
}
