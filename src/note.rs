//! Notes and faults: what was assumed, filled or skipped, and what could not be read at all.
//!
//! A *note* is about data and never stops the work. A *fault* ends the work on one input; it says what,
//! where and what to do. A clinical judgement is neither: see [`crate::session::Finding`].

use serde::{Deserialize, Serialize};
use std::fmt;

/// Where in the input something was found.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Place {
    /// File name as the user gave it, or the member of a folder or archive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// Field, column or key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// Line in a text file, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// Video frame, as numbered in the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frame: Option<i64>,
    /// Time in the clip, seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_s: Option<f64>,
    /// Keypoint or joint.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub keypoint: Option<String>,
}

impl Place {
    /// A place that is a whole file.
    pub fn file(name: impl Into<String>) -> Place {
        Place {
            file: Some(name.into()),
            ..Place::default()
        }
    }
    /// The same place, narrowed to a field.
    #[must_use]
    pub fn field(mut self, field: impl Into<String>) -> Place {
        self.field = Some(field.into());
        self
    }
    /// The same place, narrowed to a line.
    #[must_use]
    pub fn line(mut self, line: u64) -> Place {
        self.line = Some(line);
        self
    }
    /// The same place, narrowed to a frame.
    #[must_use]
    pub fn frame(mut self, frame: i64) -> Place {
        self.frame = Some(frame);
        self
    }
    /// The same place, narrowed to a keypoint.
    #[must_use]
    pub fn keypoint(mut self, keypoint: impl Into<String>) -> Place {
        self.keypoint = Some(keypoint.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if let Some(file) = &self.file {
            parts.push(file.clone());
        }
        if let Some(line) = self.line {
            parts.push(format!("line {line}"));
        }
        if let Some(field) = &self.field {
            parts.push(field.clone());
        }
        if let Some(frame) = self.frame {
            parts.push(match self.time_s {
                Some(time) => format!("frame {frame} ({time:.2} s)"),
                None => format!("frame {frame}"),
            });
        }
        if let Some(keypoint) = &self.keypoint {
            parts.push(keypoint.clone());
        }
        f.write_str(&parts.join("  "))
    }
}

/// Something was assumed, filled, repaired or skipped; collected per clip, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Note {
    /// `stage/what`, explained by `scaplane explain`.
    pub code: String,
    /// One sentence with the numbers in it.
    pub text: String,
    /// Where, if it has one place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
}

impl Note {
    /// A note without a place.
    pub fn new(code: &str, text: impl Into<String>) -> Note {
        Note {
            code: code.to_string(),
            text: text.into(),
            at: None,
        }
    }
    /// The same note with its place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Note {
        self.at = Some(place);
        self
    }
}

/// Whose fault it was; decides the exit status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// The file breaks the rules of its own format.
    Malformed,
    /// The file is fine but of a kind the program does not read.
    Unsupported,
    /// A limit that protects the machine was reached.
    Limit,
    /// The command line or a definition file is wrong.
    Usage,
    /// The system would not read or write.
    Io,
}

/// One input could not be read, or an order could not be carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("error[{code}]: {what}{}{}", place_line(.place), try_line(.remedy))]
pub struct Fault {
    /// Whose fault.
    pub kind: FaultKind,
    /// `stage/what`, explained by `scaplane explain`.
    pub code: &'static str,
    /// What is wrong, in one sentence.
    pub what: String,
    /// Where.
    pub place: Place,
    /// What to do about it.
    pub remedy: String,
}

fn place_line(place: &Place) -> String {
    let text = place.to_string();
    if text.is_empty() {
        String::new()
    } else {
        format!("\n   at {text}")
    }
}

fn try_line(remedy: &str) -> String {
    if remedy.is_empty() {
        String::new()
    } else {
        format!("\n   try {remedy}")
    }
}

impl Fault {
    /// A fault of that kind.
    pub fn new(
        kind: FaultKind,
        code: &'static str,
        what: impl Into<String>,
        place: Place,
        remedy: impl Into<String>,
    ) -> Fault {
        Fault {
            kind,
            code,
            what: what.into(),
            place,
            remedy: remedy.into(),
        }
    }

    /// The process's exit status for this fault: 2 for usage, else 1.
    pub fn exit_status(&self) -> u8 {
        match self.kind {
            FaultKind::Usage => 2,
            _ => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_says_what_where_and_what_to_do() {
        let fault = Fault::new(
            FaultKind::Malformed,
            "read/length",
            "74 numbers where 75 were expected",
            Place::file("clip-07/0113.json")
                .field("people[0].pose_keypoints_2d")
                .frame(113),
            "re-exporting this frame",
        );
        assert_eq!(
            fault.to_string(),
            "error[read/length]: 74 numbers where 75 were expected\n   \
             at clip-07/0113.json  people[0].pose_keypoints_2d  frame 113\n   \
             try re-exporting this frame"
        );
        assert_eq!(fault.exit_status(), 1);
    }
}
