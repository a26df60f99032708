//! When each picture of a video was taken, and how the phone was held, as `ffprobe` reads them from the container.
//!
//! Phones film at a varying rate, and a decoder's own idea of a frame's time is often its number over the mean rate.
//! The stamps of the packets, put in order of showing, are the times at which the pictures were taken.

use super::fault;
use crate::note::{Fault, FaultKind, Place};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};

/// What the container says of its first video stream.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stamps {
    /// Seconds from the first picture, strictly increasing.
    pub times_s: Vec<f64>,
    /// Quarter turns clockwise by which a picture has to be turned to stand upright, 0 to 3.
    pub quarter_turns: u8,
    /// Name of the codec.
    pub codec: String,
}

impl Stamps {
    /// Asks `ffprobe`; `None` where that program is not installed.
    ///
    /// # Errors
    /// The file holds no video stream that `ffprobe` understands.
    pub fn of(path: &Path) -> Result<Option<Stamps>, Fault> {
        let mut ask = Command::new("ffprobe");
        ask.args(["-v", "error", "-select_streams", "v:0", "-of", "json"]);
        ask.args(["-show_entries", ENTRIES]);
        ask.arg("-i").arg(path).stdin(Stdio::null());
        let answer = match ask.output() {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(unreadable(path, &error.to_string())),
            Ok(answer) => answer,
        };
        let told = serde_json::from_slice(&answer.stdout).unwrap_or(Value::Null);
        Stamps::from_answer(&told)
            .map(Some)
            .ok_or_else(|| unreadable(path, in_words(&String::from_utf8_lossy(&answer.stderr))))
    }

    fn from_answer(told: &Value) -> Option<Stamps> {
        let stream = told.get("streams")?.get(0)?;
        let packets = told.get("packets").and_then(Value::as_array)?;
        let shown = |packet: &&Value| {
            // A packet that is only there for others to be decoded is never shown.
            let flags = packet.get("flags").and_then(Value::as_str);
            !flags.is_some_and(|flags| flags.contains('D'))
        };
        let mut times_s: Vec<f64> = packets.iter().filter(shown).filter_map(time).collect();
        times_s.sort_unstable_by(f64::total_cmp);
        times_s.dedup();
        let first = times_s.first().copied()?;
        times_s.iter_mut().for_each(|time| *time -= first);
        Some(Stamps {
            times_s,
            quarter_turns: quarter_turns(stream),
            codec: stream.get("codec_name")?.as_str()?.to_string(),
        })
    }
}

const ENTRIES: &str =
    "stream=codec_name:stream_tags=rotate:stream_side_data=rotation:packet=pts_time,flags";

fn time(packet: &Value) -> Option<f64> {
    packet.get("pts_time")?.as_str()?.parse().ok()
}

/// The display matrix turns counter-clockwise; the older tag turns clockwise.
fn quarter_turns(stream: &Value) -> u8 {
    let matrix = stream
        .get("side_data_list")
        .and_then(Value::as_array)
        .and_then(|list| list.iter().find_map(|side| side.get("rotation")?.as_f64()));
    let tag = stream
        .get("tags")
        .and_then(|tags| tags.get("rotate")?.as_str()?.parse::<f64>().ok());
    let clockwise_deg = matrix.map(|deg| -deg).or(tag).unwrap_or(0.0);
    (clockwise_deg / 90.0).round().rem_euclid(4.0) as u8
}

/// What `ffprobe` means, for whoever filmed.
fn in_words(said: &str) -> &'static str {
    const MEANINGS: [(&str, &str); 3] = [
        (
            "moov atom not found",
            "it was cut off: the list of its pictures, which stands at its end, is missing",
        ),
        (
            "End of file",
            "there is nothing in it, or it was cut off at its very beginning",
        ),
        (
            "Invalid data",
            "it is no video, or its beginning is damaged",
        ),
    ];
    MEANINGS
        .iter()
        .find(|(theirs, _)| said.contains(theirs))
        .map_or("there is no picture in it", |(_, meaning)| meaning)
}

/// The fault of a file that is no video.
pub(super) fn unreadable(path: &Path, why: &str) -> Fault {
    let mut why = why.replace(&path.display().to_string(), "");
    why = why.trim_matches([':', ' ']).chars().take(200).collect();
    fault(
        FaultKind::Malformed,
        "video/unreadable",
        format!("it cannot be read as a video: {why}"),
        Place::file(path.display().to_string()),
        "the whole video file as the phone wrote it (H.264 or HEVC in MP4 or MOV), copied again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn packets_are_put_in_order_and_turns_are_counted_clockwise() {
        let told = json!({
            "streams": [{"codec_name": "hevc", "side_data_list": [{"rotation": -90}]}],
            "packets": [
                {"pts_time": "0.5", "flags": "K_"}, {"pts_time": "0.7", "flags": "__"},
                {"pts_time": "0.6", "flags": "__"}, {"pts_time": "0.4", "flags": "_D"},
            ],
        });
        let stamps = Stamps::from_answer(&told).expect("a stream");
        assert_eq!(stamps.quarter_turns, 1);
        let rounded: Vec<f64> = stamps
            .times_s
            .iter()
            .map(|t| (t * 1e3).round() / 1e3)
            .collect();
        assert_eq!(rounded, [0.0, 0.1, 0.2]);
        let old = json!({"tags": {"rotate": "270"}});
        assert_eq!(quarter_turns(&old), 3);
        assert_eq!(Stamps::from_answer(&json!({})), None);
    }
}
