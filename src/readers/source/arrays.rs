//! Which of several NumPy arrays is the pose.
//!
//! In: the first bytes of each. Out: the one with the shape of poses (frames, joints, 2 to 4 numbers, with or
//! without people), or the first where none has. The arrays are not read here.

use super::choice::{Entry, fault};
use crate::note::{Fault, FaultKind, Place};

/// Bytes that hold the header of an array: one of version 1 is at most 64 kB long, but its shape stands within
/// the first line of some 80 letters (NumPy's description of the format, from memory, not verified).
pub(super) const HEAD: usize = 1024;

/// The entry of the pose.
pub(super) fn pose(heads: Vec<(Entry, Vec<u8>)>, archive: &str) -> Result<Entry, Fault> {
    let poses: Vec<&Entry> = heads
        .iter()
        .filter(|(_, head)| shape(head).is_some_and(|shape| is_pose(&shape)))
        .map(|(entry, _)| entry)
        .collect();
    let chosen = match poses.as_slice() {
        [] => heads.first().map(|(entry, _)| entry),
        [one] => Some(*one),
        several => {
            let named: Vec<String> = several
                .iter()
                .take(4)
                .map(|entry| format!("`{}`", entry.name))
                .collect();
            return Err(fault(
                FaultKind::Unsupported,
                format!(
                    "{} of its arrays have the shape of poses: {}",
                    several.len(),
                    named.join(", ")
                ),
                Place::file(archive),
                "saving the one that is meant as a file of its own, with numpy.save",
            ));
        }
    };
    chosen.cloned().ok_or_else(|| {
        fault(
            FaultKind::Malformed,
            "it holds no array".to_string(),
            Place::file(archive),
            "saving the poses again",
        )
    })
}

fn is_pose(shape: &[u64]) -> bool {
    let coordinates = matches!(shape.last(), Some(2..=4));
    let joints = shape.iter().rev().nth(1).is_some_and(|joints| *joints > 4);
    matches!(shape.len(), 3 | 4) && coordinates && joints
}

/// The numbers of `'shape': (…)`.
fn shape(head: &[u8]) -> Option<Vec<u64>> {
    let text = String::from_utf8_lossy(head);
    let (_, rest) = text.split_once("'shape'")?;
    let (_, rest) = rest.split_once('(')?;
    let (inside, _) = rest.split_once(')')?;
    let numbers = inside.split(',').map(str::trim);
    numbers
        .filter(|number| !number.is_empty())
        .map(|number| number.parse().ok())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head(shape: &str) -> Vec<u8> {
        let dict = format!("{{'descr': '<f4', 'fortran_order': False, 'shape': {shape}, }}\n");
        [&b"\x93NUMPY\x01\x00\x76\x00"[..], dict.as_bytes()].concat()
    }

    fn chosen(arrays: &[(&str, &str)]) -> Result<String, Fault> {
        let heads = arrays.iter().enumerate().map(|(index, (name, shape))| {
            let entry = Entry::of(index, name, false).unwrap();
            (entry, head(shape))
        });
        pose(heads.collect(), "a.npz").map(|entry| entry.name)
    }

    #[test]
    fn the_shape_tells_the_pose() {
        let arrays = [
            ("t.npy", "(90,)"),
            ("S.npy", "(90, 17, 4)"),
            ("R.npy", "(3, 3)"),
        ];
        assert_eq!(chosen(&arrays).unwrap(), "S.npy");
        let none = [("z.npy", "(90, 51)"), ("a.npy", "()")];
        assert_eq!(chosen(&none).unwrap(), "z.npy");
        let two = [("a.npy", "(90, 17, 3)"), ("b.npy", "(90, 1, 17, 2)")];
        assert_eq!(chosen(&two).unwrap_err().code, "read/archive");
        assert!(chosen(&[]).is_err());
    }
}
