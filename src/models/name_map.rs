//! Names that the user gives to points of one file: `--map left_shoulder=LShldr`.
//!
//! In: pairs of a joint and the name that the file has for it. Out: for the names of a file, which of them is
//! which joint. A name that is not there, or stands for two points, is a fault; nothing is guessed.

use super::{Models, normalised_name};
use crate::body::Joint;
use crate::note::{Fault, FaultKind, Place};

/// Layout whose names a joint may be called by.
const FREE: &str = "tidy";
/// Names that a message lists; a marker set has up to about 60 (from memory, not verified).
const LISTED: usize = 60;

/// One point with the joint that it is.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Mapped {
    joint: Joint,
    name: String,
}

/// What the user says of the names in a file; usually nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NameMap(Vec<Mapped>);

impl NameMap {
    /// Checks what the user said.
    ///
    /// # Errors
    /// A joint is unknown or named twice, or one name is to be two joints.
    pub fn of(pairs: &[(String, String)], models: &Models) -> Result<NameMap, Fault> {
        let mut map: Vec<Mapped> = Vec::new();
        for (joint_name, name) in pairs {
            let joint = joint_of(joint_name, models).ok_or_else(|| {
                fault(
                    format!("there is no joint `{joint_name}`"),
                    format!("one of {}", joints(models).join(", ")),
                )
            })?;
            for earlier in &map {
                let same_name = alike(&earlier.name, name);
                if same_name && earlier.joint == joint {
                    continue;
                }
                if earlier.joint == joint {
                    return Err(fault(
                        format!(
                            "`{joint_name}` cannot be both `{}` and `{name}`",
                            earlier.name
                        ),
                        "leaving out one of the two",
                    ));
                }
                if same_name {
                    return Err(fault(
                        format!(
                            "`{name}` cannot be both {} and {}",
                            earlier.joint.id(),
                            joint.id()
                        ),
                        "leaving out one of the two",
                    ));
                }
            }
            let mapped = Mapped {
                joint,
                name: name.clone(),
            };
            if !map.contains(&mapped) {
                map.push(mapped);
            }
        }
        Ok(NameMap(map))
    }

    /// Whether the user said nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether the user mapped this name.
    #[must_use]
    pub fn knows(&self, name: &str) -> bool {
        self.0.iter().any(|mapped| names(&mapped.name, name))
    }

    /// Each mapped joint with the index of its name.
    ///
    /// # Errors
    /// A mapped name is not among the names, or is there twice.
    pub fn places(&self, all: &[String]) -> Result<Vec<(Joint, usize)>, Fault> {
        let place = |mapped: &Mapped| {
            // A name as written comes before those that are alike.
            let exact = all.iter().position(|name| *name == mapped.name);
            let found: Vec<usize> = all
                .iter()
                .enumerate()
                .filter(|(_, name)| names(&mapped.name, name))
                .map(|(index, _)| index)
                .collect();
            match (exact, found.as_slice()) {
                (Some(index), _) => Ok((mapped.joint, index)),
                (None, [index]) => Ok((mapped.joint, *index)),
                (None, []) => Err(fault(
                    format!("the file has no point `{}`", mapped.name),
                    format!("one of {}", shown(all)),
                )),
                (None, several) => {
                    let several: Vec<&str> = several
                        .iter()
                        .filter_map(|index| all.get(*index))
                        .map(String::as_str)
                        .collect();
                    Err(fault(
                        format!("`{}` may be {}", mapped.name, several.join(" or ")),
                        "writing the name exactly as the file has it",
                    ))
                }
            }
        };
        self.0.iter().map(place).collect()
    }

    /// The fault of a file whose points have no names.
    pub fn useless(&self) -> Fault {
        fault(
            "the points of this file are told by their place in the list and have no names to map",
            "leaving out --map; --layout states the order of the points",
        )
    }
}

/// Equal but for case, spaces, `_`, `.` and `-`.
fn alike(a: &str, b: &str) -> bool {
    normalised_name(a) == normalised_name(b)
}

/// Whether a mapped name means a name of the file, which may carry the subject before a colon.
fn names(mapped: &str, name: &str) -> bool {
    alike(mapped, name)
        || name
            .rsplit_once(':')
            .is_some_and(|(_, bare)| alike(mapped, bare))
}

/// The joint that a free name or an id means.
fn joint_of(name: &str, models: &Models) -> Option<Joint> {
    let by_name = || {
        let free = models.skeleton(FREE)?;
        let at = free.index_of(name)?;
        free.joints
            .iter()
            .find(|(_, source)| **source == super::JointSource::Keypoint(at))
            .and_then(|(id, _)| Joint::from_id(id))
    };
    Joint::from_id(name).or_else(by_name)
}

/// Names of the joints, for a message.
fn joints(models: &Models) -> Vec<String> {
    let free = models.skeleton(FREE);
    free.map_or_else(Vec::new, |free| {
        let known = free
            .keypoints
            .iter()
            .filter(|name| joint_of(name, models).is_some());
        known.cloned().collect()
    })
}

fn shown(all: &[String]) -> String {
    let mut text = all
        .iter()
        .take(LISTED)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    if all.len() > LISTED {
        text.push_str(", ...");
    }
    text
}

fn fault(what: impl Into<String>, remedy: impl Into<String>) -> Fault {
    Fault::new(
        FaultKind::Usage,
        "usage/bad-map",
        what,
        Place::default().field("--map"),
        remedy,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Side;

    fn map(pairs: &[(&str, &str)]) -> Result<NameMap, Fault> {
        let models = Models::embedded().expect("the built-in data");
        let pairs: Vec<(String, String)> = pairs
            .iter()
            .map(|(joint, name)| ((*joint).to_string(), (*name).to_string()))
            .collect();
        NameMap::of(&pairs, &models)
    }

    fn file() -> Vec<String> {
        ["L.Shldr", "S1:R_Shldr", "hand", "Hand"]
            .map(String::from)
            .to_vec()
    }

    #[test]
    fn names_are_compared_without_case_and_separators() {
        let map = map(&[
            ("Left Shoulder", "lshldr"),
            ("shoulder-right", "R shldr"),
            ("left_wrist", "Hand"),
        ]);
        let map = map.expect("known joints");
        let places = map.places(&file()).expect("names of the file");
        assert_eq!(
            places,
            [
                (Joint::Shoulder(Side::Left), 0),
                (Joint::Shoulder(Side::Right), 1),
                (Joint::Wrist(Side::Left), 3)
            ]
        );
        assert!(map.knows("l_shldr") && !map.knows("shldr"));
    }

    #[test]
    fn what_cannot_be_meant_is_told() {
        for (pairs, what, remedy) in [
            (
                &[("left_sholder", "a")][..],
                "left_sholder",
                "left_shoulder",
            ),
            (&[("c7", "a"), ("c7", "b")], "both `a` and `b`", "leaving"),
            (&[("c7", "a"), ("t8", "A")], "both c7 and t8", "leaving"),
        ] {
            let fault = map(pairs).expect_err(what);
            assert_eq!(fault.code, "usage/bad-map");
            assert!(fault.what.contains(what), "{}", fault.what);
            assert!(fault.remedy.contains(remedy), "{}", fault.remedy);
        }
        for (name, what, remedy) in [
            ("elbow", "no point `elbow`", "L.Shldr, S1:R_Shldr, hand"),
            ("HAND", "hand or Hand", "exactly"),
        ] {
            let map = map(&[("c7", name)]).expect("a known joint");
            let fault = map.places(&file()).expect_err(what);
            assert!(fault.what.contains(what), "{}", fault.what);
            assert!(fault.remedy.contains(remedy), "{}", fault.remedy);
        }
    }
}
