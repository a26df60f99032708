//! A clip with what was measured drawn on it, for a browser, and a still of each worst moment.

use super::encode::Encoder;
use super::footage::Footage;
use super::head::{Heads, heads, hide, hide_all};
use super::register::Register;
use super::trunk::trunks;
use super::{Watch, broken, stopped};
use crate::body::Joint;
use crate::geom::median;
use crate::measures::ARC_DEG;
use crate::note::{Fault, Note};
use crate::report::caption::{self, Caption};
use crate::report::{self, Context, View};
use crate::session::{Review, Verdict};
use crate::track::Track;
use opencv::core::{Mat, Point, Rect, Scalar, Size, Vec3b, Vector};
use opencv::prelude::*;
use opencv::{core, imgcodecs, imgproc};
use std::path::{Path, PathBuf};

/// Name of the video in a folder of reports.
pub const FILE: &str = "overlay.mp4";
/// Beginning of the names of stills.
pub const STILL: &str = "moment-";

/// What is drawn.
pub struct Drawing<'a> {
    /// The track as read: its picture points.
    pub track: &'a Track,
    /// What was measured of it.
    pub review: &'a Review,
    /// Words.
    pub context: &'a Context,
    /// Whether the track was turned back from a mirrored picture.
    pub mirrored: bool,
    /// Leave the face as it is.
    pub show_face: bool,
}

/// What was written.
#[derive(Debug)]
pub struct Overlay {
    /// The files, the video first.
    pub files: Vec<PathBuf>,
    /// Seconds of the video at the clip's first frame, as the page counts.
    pub offset_s: f64,
    /// What was assumed.
    pub notes: Vec<Note>,
}

/// Writes the overlay and the stills into a folder, whole or not at all.
///
/// # Errors
/// The video cannot be read, the track is not its, `ffmpeg` is missing, or the user stopped it.
pub fn overlay(
    video: &Path,
    folder: &Path,
    drawing: &Drawing<'_>,
    watch: &dyn Watch,
) -> Result<Overlay, Fault> {
    let footage = Footage::open(video)?;
    let size = footage.size();
    let times_s = footage.expected_times_s();
    let register = Register::new(drawing.track, drawing.mirrored, &times_s, size)?;
    let heads = trunks(drawing.track, &register, times_s.len())
        .map(|trunks| heads(drawing.track, &register, &trunks, &times_s));
    let painter = Painter::new(drawing, &register, size.width.min(size.height));
    let moments = painter.moments(&times_s);
    std::fs::create_dir_all(folder).map_err(|error| report::write_fault(folder, &error))?;
    report::clear(folder);
    let mut encoder = Encoder::begin(folder, size)?;
    let mut stills = Vec::new();
    let mut given_up = false;
    watch.begin(times_s.len());
    let mut last_s = f64::NEG_INFINITY;
    let played = footage.play(|picture| {
        let number = picture.number;
        if !drawing.show_face {
            match heads.as_ref().and_then(|heads| heads.discs.get(number)) {
                Some(discs) => discs
                    .iter()
                    .try_for_each(|disc| hide(&mut picture.mat, *disc))?,
                None => hide_all(&mut picture.mat)?,
            }
        }
        painter.paint(&mut picture.mat, number)?;
        for (name, _) in moments.iter().filter(|(_, at)| *at == number) {
            stills.push((name.clone(), png(&picture.mat)?));
        }
        // More pictures than stamps: the rest follow at a nominal step.
        let time_s = times_s
            .get(number)
            .copied()
            .unwrap_or(last_s + 1.0 / crate::track::NOMINAL_RATE_HZ);
        last_s = time_s;
        encoder.add(&picture.mat, time_s)?;
        watch.step();
        given_up = watch.is_over();
        Ok(!given_up)
    })?;
    if given_up {
        return Err(stopped());
    }
    let whole = encoder.finish()?;
    watch.end();
    forget(folder);
    let path = folder.join(FILE);
    whole
        .persist(&path)
        .map_err(|error| report::write_fault(&path, &error.error))?;
    let mut files = vec![path];
    for (name, bytes) in stills {
        files.push(report::write_file(
            folder,
            &name,
            &bytes,
            report::Settling::Now,
        )?);
    }
    let mut notes: Vec<Note> = played.times()?.1.into_iter().collect();
    if !drawing.show_face {
        notes.extend(about_head(heads.as_ref()));
    }
    Ok(Overlay {
        files,
        offset_s: painter.offset_s(&times_s),
        notes,
    })
}

/// What the user has to know of how the head was hidden.
fn about_head(heads: Option<&Heads>) -> Option<Note> {
    let text = match heads {
        None => {
            "Shoulders and hips are never seen together in the track, so nobody knows where the head is: the whole \
             picture was made unrecognisable."
        }
        Some(heads) if !heads.by_points => {
            "The track has no point of the face that was seen: what is above the shoulders was made unrecognisable. \
             Look at the video before you give it to anybody."
        }
        Some(_) => return None,
    };
    Some(Note::new("video/head-guessed", text))
}

/// Takes away the overlay and the stills of an earlier run: beside new reports they would be taken for theirs.
pub fn forget(folder: &Path) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name == FILE || (name.starts_with(STILL) && name.ends_with(".png")) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

fn png(picture: &Mat) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vector::new();
    imgcodecs::imencode_def(".png", picture, &mut bytes).map_err(broken)?;
    Ok(bytes.to_vec())
}

/// A round part of the picture as it was before anything was drawn on it.
struct Kept {
    part: Rect,
    pixels: Mat,
    centre: Point,
    reach: i32,
}

impl Kept {
    /// `None` where it is not in the picture.
    fn of(picture: &Mat, centre: Point, reach: i32) -> Result<Option<Kept>, Fault> {
        let whole = Rect::new(0, 0, picture.cols(), picture.rows());
        let side = 2 * reach + 1;
        let part = Rect::new(centre.x - reach, centre.y - reach, side, side) & whole;
        if part.width < 2 || part.height < 2 {
            return Ok(None);
        }
        let pixels = Mat::roi(picture, part).and_then(|part| part.try_clone());
        Ok(Some(Kept {
            part,
            pixels: pixels.map_err(broken)?,
            centre: Point::new(centre.x - part.x, centre.y - part.y),
            reach,
        }))
    }

    fn put_back(&self, picture: &mut Mat) -> Result<(), Fault> {
        let mut mask = Mat::zeros(self.part.height, self.part.width, core::CV_8U)
            .and_then(|mask| mask.to_mat())
            .map_err(broken)?;
        let full = Scalar::all(255.0);
        imgproc::circle(
            &mut mask,
            self.centre,
            self.reach,
            full,
            -1,
            imgproc::LINE_8,
            0,
        )
        .map_err(broken)?;
        let mut part = Mat::roi_mut(picture, self.part).map_err(broken)?;
        self.pixels
            .copy_to_masked(&mut part, &mask)
            .map_err(broken)?;
        let dark = Scalar::new(46.0, 39.0, 31.0, 0.0);
        imgproc::circle(
            &mut part,
            self.centre,
            self.reach,
            dark,
            1,
            imgproc::LINE_AA,
            0,
        )
        .map_err(broken)
    }
}

struct Painter<'a> {
    drawing: &'a Drawing<'a>,
    register: &'a Register,
    /// Pairs of joints, and whether they are the measured arm.
    bones: Vec<(Joint, Joint, bool)>,
    /// Whole factor by which words are enlarged.
    zoom: u32,
}

impl<'a> Painter<'a> {
    fn new(drawing: &'a Drawing<'a>, register: &'a Register, short_side: f64) -> Painter<'a> {
        let figure = &drawing.review.traces.figure;
        let side = drawing.review.session.side;
        let joint = |column: usize| figure.joints.get(column).and_then(|id| Joint::from_id(id));
        let arm = [
            Joint::Shoulder(side),
            Joint::Elbow(side),
            Joint::Wrist(side),
        ];
        let mut bones: Vec<(Joint, Joint, bool)> = figure
            .bones
            .iter()
            .filter_map(|[a, b]| {
                let (a, b) = (joint(*a)?, joint(*b)?);
                Some((a, b, arm.contains(&a) && arm.contains(&b)))
            })
            .collect();
        bones.sort_by_key(|bone| bone.2);
        Painter {
            drawing,
            register,
            bones,
            zoom: (short_side / 540.0).round().max(1.0) as u32,
        }
    }

    /// Time of a picture as the review counts.
    fn time_s(&self, picture: usize) -> Option<f64> {
        self.drawing
            .track
            .timeline
            .time_s(self.register.frame(picture)?)
    }

    /// Frame of the review at a picture.
    fn frame(&self, picture: usize) -> Option<usize> {
        let time = self.time_s(picture)?;
        nearest(&self.drawing.review.traces.times_s, time)
    }

    fn offset_s(&self, times_s: &[f64]) -> f64 {
        let offsets = times_s
            .iter()
            .enumerate()
            .filter_map(|(picture, time)| Some(time - self.time_s(picture)?));
        median(offsets).unwrap_or(0.0)
    }

    /// File name and picture of each finding's worst moment.
    fn moments(&self, times_s: &[f64]) -> Vec<(String, usize)> {
        let view = View::of(&self.drawing.review.session, self.drawing.context);
        let own: Vec<(usize, f64)> = (0..times_s.len())
            .filter_map(|picture| Some((picture, self.time_s(picture)?)))
            .collect();
        let times: Vec<f64> = own.iter().map(|(_, time)| *time).collect();
        let found = view.findings.iter().filter_map(|row| {
            let time = *self
                .drawing
                .review
                .traces
                .times_s
                .get(row.frame? as usize)?;
            let (picture, _) = own.get(nearest(&times, time)?)?;
            Some((
                format!("{STILL}{}-rep-{}.png", row.code, row.worst_rep),
                *picture,
            ))
        });
        found.collect()
    }

    fn paint(&self, picture: &mut Mat, number: usize) -> Result<(), Fault> {
        if let Some(frame) = self.register.frame(number) {
            self.skeleton(picture, frame)?;
        }
        self.words(picture, number)
    }

    fn skeleton(&self, picture: &mut Mat, frame: usize) -> Result<(), Fault> {
        let at = |joint: Joint| {
            let at = self.register.seen(self.drawing.track, frame, joint)?;
            let fine = |value: f64| (value * 16.0).round().clamp(-1e6, 1e6) as i32;
            Some(Point::new(fine(at.x - 0.5), fine(at.y - 0.5)))
        };
        let wide = 2 * self.zoom as i32;
        let dots = self.dots(picture, frame)?;
        for (a, b, is_arm) in &self.bones {
            let (Some(a), Some(b)) = (at(*a), at(*b)) else {
                continue;
            };
            let (colour, width) = match is_arm {
                true => (Scalar::new(178.0, 114.0, 0.0, 0.0), wide + self.zoom as i32),
                false => (Scalar::new(217.0, 211.0, 204.0, 0.0), wide),
            };
            let dark = Scalar::new(46.0, 39.0, 31.0, 0.0);
            imgproc::line(picture, a, b, dark, width + 2, imgproc::LINE_8, 4).map_err(broken)?;
            imgproc::line(picture, a, b, colour, width, imgproc::LINE_8, 4).map_err(broken)?;
        }
        dots.iter().try_for_each(|dot| dot.put_back(picture))
    }

    /// The dots on the skin as the picture has them, which no line is to hide.
    fn dots(&self, picture: &Mat, frame: usize) -> Result<Vec<Kept>, Fault> {
        let on_skin = self.drawing.track.joints.iter().filter(|joint| {
            matches!(
                joint,
                Joint::AcromialAngle(_)
                    | Joint::SpineRoot(_)
                    | Joint::InferiorAngle(_)
                    | Joint::C7
                    | Joint::T8
            )
        });
        let reach = 8 * self.zoom as i32;
        let kept = on_skin.filter_map(|joint| {
            let at = self.register.seen(self.drawing.track, frame, *joint)?;
            Kept::of(picture, Point::new(at.x as i32, at.y as i32), reach).transpose()
        });
        kept.collect()
    }

    fn words(&self, picture: &mut Mat, number: usize) -> Result<(), Fault> {
        let strip = caption::strip(&self.caption(number), picture.cols() as u32 / self.zoom);
        let (width, height) = (strip.width() as i32, strip.height() as i32);
        let pixels: Vec<Vec3b> = strip
            .pixels()
            .map(|pixel| Vec3b::from([pixel[2], pixel[1], pixel[0]]))
            .collect();
        let small = Mat::new_rows_cols_with_data(height, width, &pixels).map_err(broken)?;
        let zoom = self.zoom as i32;
        let mut large = Mat::default();
        let size = Size::new(width * zoom, height * zoom);
        imgproc::resize(&small, &mut large, size, 0.0, 0.0, imgproc::INTER_LINEAR)
            .map_err(broken)?;
        let whole = Rect::new(0, 0, picture.cols(), picture.rows());
        let part = Rect::new(
            0,
            picture.rows() - height * zoom,
            width * zoom,
            height * zoom,
        ) & whole;
        let cut = Rect::new(0, height * zoom - part.height, part.width, part.height);
        let from = Mat::roi(&large, cut).map_err(broken)?;
        let mut into = Mat::roi_mut(picture, part).map_err(broken)?;
        let below = into.try_clone().map_err(broken)?;
        core::add_weighted(&from, 0.88, &below, 0.12, 0.0, &mut into, -1).map_err(broken)
    }

    fn caption(&self, number: usize) -> Caption {
        let review = self.drawing.review;
        let frame = self.frame(number);
        let signal = |of: &std::collections::BTreeMap<String, Vec<Option<f64>>>| {
            of.get("elevation")?.get(frame?).copied().flatten()
        };
        let half = review
            .traces
            .spread
            .get("elevation")
            .and_then(|sd| Some(1.96 * sd.get(frame?)?));
        let rep = frame.and_then(|frame| {
            let frame = frame as u64;
            review
                .session
                .reps
                .iter()
                .find(|rep| (rep.start_frame..=rep.end_frame).contains(&frame))
        });
        let worst = rep.and_then(|rep| {
            let told = rep
                .findings
                .iter()
                .filter(|finding| finding.verdict != Verdict::CannotTell);
            Some(
                told.min_by_key(|finding| finding.verdict != Verdict::Outside)?
                    .text
                    .clone(),
            )
        });
        Caption {
            elevation_deg: signal(&review.traces.signals).map(|deg| (deg, half.unwrap_or(0.0))),
            band_deg: (*ARC_DEG.start(), *ARC_DEG.end()),
            rep: rep.map(|rep| (rep.number, rep.verdict)),
            text: worst.unwrap_or_default(),
        }
    }
}

fn nearest(times_s: &[f64], time_s: f64) -> Option<usize> {
    let after = times_s.partition_point(|at| *at < time_s);
    let distance = |n: &usize| times_s.get(*n).map_or(f64::MAX, |at| (at - time_s).abs());
    [after.saturating_sub(1), after]
        .into_iter()
        .filter(|n| *n < times_s.len())
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
}
