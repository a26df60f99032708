//! Parameters of a C3D file.
//!
//! In: the bytes of the parameter blocks, after their first four. Out: each parameter by group and name. What the
//! parameters mean is told by [`super::c3d_head`].

use std::collections::HashMap;

/// Most parameters that are kept: files with every known group have some hundred.
const PARAMETERS: usize = 4096;

/// One parameter's bytes.
pub struct Parameter {
    /// -1 text, 1 byte, 2 16-bit integer, 4 float.
    kind: i8,
    sizes: Vec<usize>,
    data: Vec<u8>,
}

impl Parameter {
    /// The numbers; integers as unsigned, since counts beyond 32767 are written so.
    pub fn numbers(&self) -> Vec<f64> {
        match self.kind {
            4 => floats(&self.data),
            2 => words(&self.data).map(f64::from).collect(),
            1 => self.data.iter().map(|byte| f64::from(*byte)).collect(),
            _ => Vec::new(),
        }
    }

    fn number(&self) -> Option<f64> {
        self.numbers().first().copied()
    }

    /// The texts of the list, without the blanks that fill them up.
    pub fn texts(&self) -> Vec<String> {
        let width = self.sizes.first().copied().unwrap_or(self.data.len());
        if self.kind != -1 || width == 0 {
            return Vec::new();
        }
        self.data
            .chunks(width)
            .map(|text| {
                let text = String::from_utf8_lossy(text);
                text.trim_matches([' ', '\0']).to_string()
            })
            .collect()
    }
}

/// 16-bit numbers, the low byte first.
pub fn words(bytes: &[u8]) -> impl Iterator<Item = u16> {
    bytes.chunks_exact(2).map(|pair| match *pair {
        [low, high] => u16::from_le_bytes([low, high]),
        _ => 0,
    })
}

/// 32-bit floats, the low byte first.
pub fn floats(bytes: &[u8]) -> Vec<f64> {
    let four = bytes
        .chunks_exact(4)
        .filter_map(|four| four.try_into().ok());
    four.map(|four: [u8; 4]| f64::from(f32::from_le_bytes(four)))
        .collect()
}

/// Parameters by group and name, in capitals.
pub struct Parameters(HashMap<(String, String), Parameter>);

impl Parameters {
    /// Takes the parameters apart. What cannot be followed ends the list: the points need few of them, and miss
    /// them by name.
    pub fn of(bytes: &[u8]) -> Parameters {
        let (mut groups, mut found) = (HashMap::new(), Vec::new());
        let mut at = 0;
        while found.len() < PARAMETERS {
            let Some((entry, next)) = entry(bytes, at) else {
                break;
            };
            match entry.parameter {
                None => drop(groups.insert(entry.group, entry.name)),
                Some(parameter) => found.push((entry.group, entry.name, parameter)),
            }
            match next {
                Some(next) => at = next,
                None => break,
            }
        }
        let named = found.into_iter().filter_map(|(group, name, parameter)| {
            let group: &String = groups.get(&group)?;
            Some(((group.clone(), name), parameter))
        });
        Parameters(named.collect())
    }

    /// A parameter of a group.
    pub fn get(&self, group: &str, name: &str) -> Option<&Parameter> {
        self.0.get(&(group.to_string(), name.to_string()))
    }

    /// The first number of a parameter.
    pub fn number(&self, group: &str, name: &str) -> Option<f64> {
        self.get(group, name)?.number()
    }

    /// LABELS holds 255 at most; LABELS2, LABELS3 and so on go on.
    pub fn labels(&self, points: usize) -> Vec<String> {
        let mut all = self
            .get("POINT", "LABELS")
            .map_or(Vec::new(), Parameter::texts);
        for number in 2.. {
            let more = self.get("POINT", &format!("LABELS{number}"));
            match more {
                Some(more) if all.len() < points => all.extend(more.texts()),
                _ => break,
            }
        }
        all.truncate(points);
        all
    }
}

struct Entry {
    group: u8,
    name: String,
    /// `None` for the entry of a group.
    parameter: Option<Parameter>,
}

/// The entry at a place, and where the next one begins.
fn entry(bytes: &[u8], at: usize) -> Option<(Entry, Option<usize>)> {
    let signed = |at: usize| bytes.get(at).map(|byte| *byte as i8);
    // A negative length locks the name; a negative id is that of a group.
    let length = usize::from(signed(at)?.unsigned_abs());
    let id = signed(at + 1)?;
    if length == 0 || id == 0 {
        return None;
    }
    let name = String::from_utf8_lossy(bytes.get(at + 2..at + 2 + length)?)
        .trim()
        .to_ascii_uppercase();
    let link = at + 2 + length;
    let step = words(bytes.get(link..link + 2)?).next()?;
    let next = (step > 0).then(|| link + usize::from(step));
    let parameter = match id {
        ..0 => None,
        _ => Some(parameter(bytes, link + 2)?),
    };
    let group = id.unsigned_abs();
    Some((
        Entry {
            group,
            name,
            parameter,
        },
        next,
    ))
}

fn parameter(bytes: &[u8], at: usize) -> Option<Parameter> {
    let kind = *bytes.get(at)? as i8;
    let dimensions = usize::from(*bytes.get(at + 1)?);
    let sizes: Vec<usize> = bytes
        .get(at + 2..at + 2 + dimensions)?
        .iter()
        .map(|size| usize::from(*size))
        .collect();
    let count = sizes
        .iter()
        .try_fold(1_usize, |all, size| all.checked_mul(*size))?;
    let start = at + 2 + dimensions;
    let end = count
        .checked_mul(usize::from(kind.unsigned_abs()))?
        .checked_add(start)?;
    Some(Parameter {
        kind,
        sizes,
        data: bytes.get(start..end)?.to_vec(),
    })
}
