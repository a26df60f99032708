//! `worst-moments.png`: the worst moment of each finding on one sheet.
//!
//! In: a review and its context. Out: PNG bytes, or nothing where there is no finding with a moment or no
//! figure. The figure is drawn, no picture of the person is used.

use super::chart::Drawn;
use super::context::Context;
use super::figure::Skeleton;
use super::findings::{FindingRow, findings};
use super::finite::finite;
use super::lettering::{Letters, plain, write};
use super::sheet::{MARGIN, PANEL_HEIGHT, PANEL_WIDTH, Scene, Words, panel};
use crate::session::{Review, Verdict};
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;

/// Most panels: two rows of four.
const MOST_PANELS: usize = 8;
/// Panels side by side.
const ACROSS: usize = 4;
/// Height of the sheet's heading, pixels.
const HEADING: u32 = 56;

/// The sheet as PNG.
///
/// # Errors
/// When the encoder fails.
pub fn contact_sheet(review: &Review, context: &Context) -> Drawn<Option<Vec<u8>>> {
    let session = finite(&review.session);
    let figure = &review.traces.figure;
    let rows: Vec<(FindingRow, usize)> = findings(&session, context)
        .into_iter()
        .filter_map(|row| {
            let frame = row.frame? as usize;
            (frame < figure.frames.len()).then_some((row, frame))
        })
        .take(MOST_PANELS)
        .collect();
    let skeleton = Skeleton::of(figure, session.side);
    if rows.is_empty() || skeleton.bones.is_empty() {
        return Ok(None);
    }
    let across = rows.len().min(ACROSS) as u32;
    let down = rows.len().div_ceil(ACROSS) as u32;
    let mut sheet = RgbImage::from_pixel(
        MARGIN + across * PANEL_WIDTH,
        HEADING + down * PANEL_HEIGHT,
        Rgb([255, 255, 255]),
    );
    let title = format!(
        "{}, {} arm: worst moments",
        context.exercise_title, session.side
    );
    let room = (sheet.width() - 2 * MARGIN) / Letters::Strong.advance();
    // On a sheet of one panel the file's own name says what it shows.
    let title = match plain(&title) {
        title if title.chars().count() <= room as usize => title,
        title => title.trim_end_matches(": worst moments").to_string(),
    };
    let title: String = title.chars().take(room as usize).collect();
    write(
        &mut sheet,
        (MARGIN, 16),
        Letters::Strong,
        Rgb([0x1f, 0x27, 0x2e]),
        &title,
    );
    let frames: Vec<usize> = rows.iter().map(|(_, frame)| *frame).collect();
    let scene = Scene {
        figure,
        skeleton: &skeleton,
        part: skeleton.close_box(figure, &frames),
    };
    for (place, (row, frame)) in rows.iter().enumerate() {
        let at = (
            MARGIN + (place % ACROSS) as u32 * PANEL_WIDTH,
            HEADING + (place / ACROSS) as u32 * PANEL_HEIGHT,
        );
        panel(&mut sheet, at, &scene, *frame, &words(row));
    }
    let mut bytes = Cursor::new(Vec::new());
    sheet.write_to(&mut bytes, ImageFormat::Png)?;
    Ok(Some(bytes.into_inner()))
}

fn words(row: &FindingRow) -> Words {
    Words {
        verdict: match row.verdict {
            "outside" => Verdict::Outside,
            "near" => Verdict::Near,
            _ => Verdict::CannotTell,
        },
        heading: format!(
            "Rep. {}  {}  {}",
            row.worst_rep,
            row.moment.clone().unwrap_or_default(),
            row.verdict_words
        ),
        lines: vec![row.text.clone(), format!("{}:", row.title), row.measured()],
    }
}
