//! Head of a C3D file: the header block and the parameters.
//!
//! In: the bytes of a file from its beginning. Out: what is needed to read the points: how many, how stored, how
//! named. Analog channels and events are only counted, so that they can be passed over. Layout of the bytes
//! from memory of the C3D user guide, compared with files written by two open libraries.

use super::c3d_parameters::{Parameters, floats, words};
use super::source::io_fault;
use super::{Member, limits};
use crate::note::{Fault, FaultKind};
use std::io::{self, Read};

/// Bytes of a block.
const BLOCK: usize = 512;

/// How the numbers of a point are stored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Storage {
    /// 32-bit floats.
    Float,
    /// 16-bit integers, to be multiplied by this.
    Scaled(f32),
}

/// What the head says.
#[derive(Debug)]
pub struct Head {
    /// Points of a frame.
    pub points: usize,
    /// Their labels, as many as there are.
    pub labels: Vec<String>,
    /// Storage of the points.
    pub storage: Storage,
    /// Analog numbers between the points of two frames.
    pub analog: usize,
    /// Number of the first frame.
    pub first_frame: i64,
    /// Frames, by the parameters if they tell, else by the header block; `None` if neither can hold it.
    pub frames: Option<usize>,
    /// Frames by the header block, if that is another number.
    pub other_frames: Option<usize>,
    /// Frames a second.
    pub rate_hz: Option<f64>,
    /// Unit as written.
    pub unit: String,
}

/// Fills the buffer; fewer bytes than asked for only at the end of the file.
///
/// # Errors
/// The bytes could not be read on.
pub fn fill(reader: &mut dyn Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while let Some(rest) = buffer.get_mut(filled..).filter(|rest| !rest.is_empty()) {
        match reader.read(rest) {
            Ok(0) => break,
            Ok(count) => filled += count,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(filled)
}

impl Head {
    /// Reads the head, up to the first frame.
    ///
    /// # Errors
    /// It is cut off, in another byte order, or its numbers cannot be.
    pub fn read(reader: &mut dyn Read, member: &Member) -> Result<Head, Fault> {
        let mut blocks = Blocks {
            reader,
            member,
            position: 0,
        };
        let first = blocks.take(BLOCK, "header block")?;
        let [at, key] = [first.first(), first.get(1)].map(|byte| byte.copied().unwrap_or(0));
        if key != 0x50 || at < 2 {
            return Err(broken(
                member,
                "header block",
                "a C3D file has 0x50 as its second byte and the parameters after its first block",
            ));
        }
        blocks.go_to(usize::from(at), "parameters")?;
        let start = blocks.take(4, "parameters")?;
        let order = start.get(3).copied().unwrap_or(0);
        if order != 84 {
            return Err(other_order(member, order));
        }
        let stated = start.get(2).copied().unwrap_or(0);
        let data_block = word(&first, 9);
        // Some writers leave the number of parameter blocks at 0; then they end where the data begin.
        let room = usize::from(data_block).saturating_sub(usize::from(at));
        let count = match (usize::from(stated), room) {
            (0, room) => room.clamp(1, 255),
            (stated, 0) => stated,
            (stated, room) => stated.min(room),
        };
        let bytes = blocks.take(count * BLOCK - 4, "parameters")?;
        let parameters = Parameters::of(&bytes);
        let head = Head::of(&first, &parameters, member)?;
        let data_block = match usize::from(data_block) {
            block if block > usize::from(at) => block,
            _ => parameters
                .number("POINT", "DATA_START")
                .map_or(usize::from(at) + count, |block| block as usize),
        };
        blocks.go_to(data_block, "first frame")?;
        Ok(head)
    }

    fn of(first: &[u8], parameters: &Parameters, member: &Member) -> Result<Head, Fault> {
        let points = parameters
            .number("POINT", "USED")
            .map_or(usize::from(word(first, 2)), |points| points as usize);
        if points != usize::from(word(first, 2)) {
            return Err(broken(
                member,
                "POINT:USED",
                format!(
                    "the parameters say {points} points a frame, the header block {}",
                    word(first, 2)
                ),
            ));
        }
        if points == 0 || points > limits::KEYPOINTS {
            return Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "there are {points} points in a frame, not 1 to {}",
                    limits::KEYPOINTS
                ),
                member.place().field("POINT:USED"),
                "exporting the marker positions with the file",
            ));
        }
        let scale = parameters.number("POINT", "SCALE").or_else(|| {
            floats(first.get(12..16).unwrap_or_default())
                .first()
                .copied()
        });
        let storage = match scale.filter(|scale| scale.is_finite()) {
            Some(scale) if scale < 0.0 => Storage::Float,
            Some(scale) if scale > 0.0 => Storage::Scaled(scale as f32),
            _ => {
                return Err(broken(
                    member,
                    "POINT:SCALE",
                    "the scale of the points is 0 or no number",
                ));
            }
        };
        let (begin, end) = (word(first, 4), word(first, 5));
        let in_block = usize::from(end.saturating_sub(begin)) + usize::from(end >= begin);
        let long = frames(parameters);
        // The header block counts in 16 bits: 65535 says that there are more.
        let by_block = Some(in_block).filter(|_| end != u16::MAX);
        Ok(Head {
            points,
            labels: parameters.labels(points),
            storage,
            analog: usize::from(word(first, 3)),
            first_frame: i64::from(begin),
            frames: long.or(by_block),
            other_frames: by_block.filter(|frames| long.is_some_and(|long| long != *frames)),
            rate_hz: parameters
                .number("POINT", "RATE")
                .or_else(|| {
                    floats(first.get(20..24).unwrap_or_default())
                        .first()
                        .copied()
                })
                .filter(|rate| rate.is_finite() && *rate > 0.0),
            unit: parameters
                .get("POINT", "UNITS")
                .and_then(|unit| unit.texts().into_iter().next())
                .unwrap_or_default(),
        })
    }
}

/// Frames as the parameters tell them, widest number first.
fn frames(parameters: &Parameters) -> Option<usize> {
    let pair = |name: &str| match parameters.get("TRIAL", name)?.numbers().as_slice() {
        [low, high] => Some(low + 65536.0 * high),
        _ => None,
    };
    let trial = pair("ACTUAL_END_FIELD")
        .zip(pair("ACTUAL_START_FIELD"))
        .map(|(end, start)| end - start + 1.0);
    // 65535 is the largest number of 16 bits: it says that there are at least so many.
    let point = parameters
        .number("POINT", "FRAMES")
        .filter(|frames| *frames != 65535.0);
    parameters
        .number("POINT", "LONG_FRAMES")
        .or(trial)
        .or(point)
        .filter(|frames| *frames >= 1.0 && *frames < 1e9)
        .map(|frames| frames as usize)
}

/// 16-bit word of the header block, counted from 1 as the format does.
fn word(block: &[u8], number: usize) -> u16 {
    words(block).nth(number - 1).unwrap_or(0)
}

fn broken(member: &Member, field: &str, what: impl Into<String>) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/syntax",
        what,
        member.place().field(field),
        "exporting the markers again",
    )
}

fn other_order(member: &Member, order: u8) -> Fault {
    let named = match order {
        85 => Some("DEC"),
        86 => Some("MIPS"),
        _ => None,
    };
    match named {
        Some(name) => Fault::new(
            FaultKind::Unsupported,
            "read/unknown-format",
            format!("the numbers are stored as {name} machines do; only the Intel form is read"),
            member.place().field("processor type"),
            "saving the file again in the Intel form, or exporting the markers as TRC",
        ),
        None => broken(
            member,
            "processor type",
            format!("the processor type is {order}, not 84, 85 or 86"),
        ),
    }
}

/// The file, read forward only.
struct Blocks<'a> {
    reader: &'a mut dyn Read,
    member: &'a Member,
    position: usize,
}

impl Blocks<'_> {
    fn take(&mut self, count: usize, field: &str) -> Result<Vec<u8>, Fault> {
        let mut bytes = vec![0; count];
        let filled =
            fill(self.reader, &mut bytes).map_err(|error| io_fault(self.member.place(), &error))?;
        self.position += filled;
        match filled == count {
            true => Ok(bytes),
            false => Err(self.cut(field)),
        }
    }

    /// Goes on to a block, counted from 1.
    fn go_to(&mut self, block: usize, field: &str) -> Result<(), Fault> {
        let target = block.saturating_sub(1).saturating_mul(BLOCK);
        let Some(skip) = target.checked_sub(self.position) else {
            return Err(broken(
                self.member,
                field,
                format!(
                    "block {block} should hold it, which lies before the end of what comes first"
                ),
            ));
        };
        let skipped = io::copy(&mut self.reader.take(skip as u64), &mut io::sink())
            .map_err(|error| io_fault(self.member.place(), &error))?;
        self.position = target;
        match skipped == skip as u64 {
            true => Ok(()),
            false => Err(self.cut(field)),
        }
    }

    fn cut(&self, field: &str) -> Fault {
        Fault::new(
            FaultKind::Malformed,
            "read/length",
            format!("the file ends before its {field}"),
            self.member.place().field(field),
            "copying the file again",
        )
    }
}
