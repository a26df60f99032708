//! The TRC marker table: five header lines, tab-separated, millimetres, y up.
//!
//! A frame in which the person is not seen has empty cells.

use std::fmt::Write;

use super::rounded;
use super::table::space_points;
use crate::simulate::clip::Clip;
use crate::simulate::point::Point;

/// The whole table.
pub(super) fn table(clip: &Clip) -> Vec<u8> {
    let points: Vec<Point> = space_points().collect();
    let (rate, count) = (clip.recipe.rate_hz, clip.frames.len());
    let mut text = String::from("PathFileType\t4\t(X/Y/Z)\tsynthetic.trc\n");
    text.push_str(
        "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n",
    );
    // writing to a string cannot fail
    let _ = writeln!(
        text,
        "{rate}\t{rate}\t{count}\t{}\tmm\t{rate}\t1\t{count}",
        points.len()
    );
    text.push_str("Frame#\tTime");
    for point in &points {
        let _ = write!(text, "\t{}\t\t", point.id());
    }
    text.push_str("\n\t");
    for index in 1..=points.len() {
        let _ = write!(text, "\tX{index}\tY{index}\tZ{index}");
    }
    text.push_str("\n\n");
    for (index, (frame, markers)) in clip.frames.iter().zip(clip.markers()).enumerate() {
        let _ = write!(text, "{}\t{}", index + 1, rounded(frame.time_s, 6));
        for point in &points {
            match frame.subject {
                Some(_) => {
                    let p = markers[*point] * 1000.0;
                    let [x, y, z] = [p.x, p.y, p.z].map(|v| rounded(v, 3));
                    let _ = write!(text, "\t{x}\t{y}\t{z}");
                }
                None => text.push_str("\t\t\t"),
            }
        }
        text.push('\n');
    }
    text.into_bytes()
}
