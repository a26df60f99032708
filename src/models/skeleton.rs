//! One keypoint layout: the names an estimator exports, in its order, and which joint each is.
//!
//! In: one TOML file. Out: [`Skeleton`], with every joint resolved to keypoint indices.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::error::ModelError;
use super::vocabulary::{self, JOINTS};
use crate::body::Joint;

/// Where a joint is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum JointSource {
    /// One keypoint, by index.
    Keypoint(usize),
    /// The midpoint of two keypoints, by index.
    Midpoint(usize, usize),
}

/// Whether keypoints are known by their place in the list or only by name.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Order {
    /// The list is complete and its order is the estimator's.
    #[default]
    Fixed,
    /// A file may hold any of the names in any order.
    Free,
}

/// One keypoint layout.
#[derive(Debug, Clone)]
pub struct Skeleton {
    /// Kebab-case id, equal to the file's name.
    pub id: String,
    /// Title as shown.
    pub title: String,
    /// Source id.
    pub source: String,
    /// Traps and cautions.
    pub note: String,
    /// Whether the order of `keypoints` means anything.
    pub order: Order,
    /// Keypoint names, index by index.
    pub keypoints: Vec<String>,
    /// Our joints and where they come from: those that the measuring uses.
    pub joints: BTreeMap<String, JointSource>,
    /// Joints that nothing measures. They are read only after [`Skeleton::with_every_joint`].
    pub unmeasured: BTreeMap<String, JointSource>,
    /// Other names of keypoints.
    aliases: BTreeMap<String, Vec<String>>,
}

impl Skeleton {
    /// Index of a keypoint by name or alias; case, spaces and `_ . -` do not matter.
    ///
    /// ```
    /// let models = scaplane::models::Models::embedded().unwrap();
    /// let body = models.skeleton("body-25").unwrap();
    /// assert_eq!(body.index_of("mid_hip"), body.index_of("MidHip"));
    /// assert_eq!(body.index_of("RShoulder"), Some(2));
    /// ```
    #[must_use]
    pub fn index_of(&self, name: &str) -> Option<usize> {
        self.index_of_normalised(&normalised_name(name))
    }

    /// The same for a name as [`normalised_name`] makes it: one that is looked for in many layouts is made once.
    #[must_use]
    pub fn index_of_normalised(&self, plain: &str) -> Option<usize> {
        let position = |wanted: &dyn Fn(&str) -> bool| {
            let mut names = self.keypoints.iter();
            names.position(|name| wanted(name))
        };
        position(&|name| is_called(name, plain)).or_else(|| {
            let mut aliases = self.aliases.iter();
            let (keypoint, _) =
                aliases.find(|(_, others)| others.iter().any(|alias| is_called(alias, plain)))?;
            position(&|name| name == keypoint)
        })
    }

    /// The layout with every joint among `joints`, for a track that is passed on and not measured.
    #[must_use]
    pub fn with_every_joint(mut self) -> Skeleton {
        self.joints.append(&mut self.unmeasured);
        self
    }

    /// Where a joint is taken from; `None` when the layout has no such point.
    #[must_use]
    pub fn joint(&self, joint: &str) -> Option<JointSource> {
        self.joints.get(joint).copied()
    }
}

/// A keypoint name as compared: lower case without spaces, `_`, `.` and `-`.
///
/// ```
/// use scaplane::models::normalised_name;
/// assert_eq!(normalised_name("Left_Shoulder"), normalised_name("left shoulder"));
/// assert_eq!(normalised_name("leftShoulder"), "leftshoulder");
/// ```
#[must_use]
pub fn normalised_name(name: &str) -> String {
    if name.is_ascii() {
        return normalised_ascii(name).map(char::from).collect();
    }
    let kept = name.chars().filter(|c| !is_left_out(*c));
    kept.flat_map(char::to_lowercase).collect()
}

fn is_left_out(c: char) -> bool {
    c.is_whitespace() || matches!(c, '_' | '.' | '-')
}

fn normalised_ascii(name: &str) -> impl Iterator<Item = u8> + '_ {
    let kept = name.bytes().filter(|byte| !is_left_out(char::from(*byte)));
    kept.map(|byte| byte.to_ascii_lowercase())
}

/// Whether a name is that normalised one.
fn is_called(name: &str, plain: &str) -> bool {
    match name.is_ascii() {
        true => normalised_ascii(name).eq(plain.bytes()),
        false => normalised_name(name) == plain,
    }
}

/// The file as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawSkeleton {
    id: String,
    title: String,
    source: String,
    note: String,
    #[serde(default)]
    order: Order,
    keypoints: Vec<String>,
    #[serde(default)]
    aliases: BTreeMap<String, Vec<String>>,
    joints: BTreeMap<String, RawJoint>,
}

/// A name, or two whose midpoint is meant.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum RawJoint {
    One(String),
    Two([String; 2]),
}

/// Checks one file and resolves its joints; `None` when it has no usable keypoint list. Whether names and aliases of a
/// file that was tested are unlike each other is not looked at again.
pub(crate) fn checked(
    file: &str,
    raw: RawSkeleton,
    tested: bool,
    faults: &mut Vec<ModelError>,
) -> Option<Skeleton> {
    let mut fault = |key: String, problem: String, remedy: &str| {
        faults.push(ModelError::new(file, key, problem, remedy));
    };
    let stem = file
        .rsplit('/')
        .next()
        .and_then(|name| name.strip_suffix(".toml"));
    if stem != Some(raw.id.as_str()) || !vocabulary::is_kebab(&raw.id) {
        fault(
            "id".to_owned(),
            format!(
                "the id `{}` is not kebab-case or differs from the file's name",
                raw.id
            ),
            "make id and file name equal, in lower-case words joined by hyphens",
        );
    }
    for (key, text) in [("title", &raw.title), ("note", &raw.note)] {
        if text.trim().is_empty() {
            fault(
                key.to_owned(),
                "the text is empty".to_owned(),
                "write one plain sentence",
            );
        }
    }
    if raw.keypoints.is_empty() {
        fault(
            "keypoints".to_owned(),
            "the list is empty".to_owned(),
            "name every keypoint",
        );
        return None;
    }
    if !tested {
        unlike(&raw.keypoints, &raw.aliases, &mut fault);
    }
    let mut joints: BTreeMap<String, JointSource> = BTreeMap::new();
    for (joint, source) in raw.joints {
        if !JOINTS.contains(&joint.as_str()) {
            let near = vocabulary::nearest(&joint, JOINTS.iter().copied()).unwrap_or_default();
            fault(
                format!("joints.{joint}"),
                "there is no such joint".to_owned(),
                &format!("the nearest name is `{near}`"),
            );
        }
        let mut find = |name: &String| {
            let index = raw.keypoints.iter().position(|keypoint| keypoint == name);
            if index.is_none() {
                fault(
                    format!("joints.{joint}"),
                    format!("there is no keypoint `{name}`"),
                    "spell it exactly as in `keypoints`",
                );
            }
            index
        };
        let resolved = match &source {
            RawJoint::One(name) => find(name).map(JointSource::Keypoint),
            RawJoint::Two([a, b]) => {
                let (a, b) = (find(a), find(b));
                a.zip(b).map(|(a, b)| JointSource::Midpoint(a, b))
            }
        };
        if let Some(resolved) = resolved {
            joints.insert(joint, resolved);
        }
    }
    let measured = |id: &String| Joint::from_id(id).is_none_or(Joint::is_measured);
    let (joints, unmeasured) = joints.into_iter().partition(|(id, _)| measured(id));
    Some(Skeleton {
        id: raw.id,
        title: raw.title,
        source: raw.source,
        note: raw.note,
        order: raw.order,
        keypoints: raw.keypoints,
        joints,
        unmeasured,
        aliases: raw.aliases,
    })
}

/// Tells names and aliases that are alike once normalised, and aliases of nothing.
fn unlike(
    keypoints: &[String],
    aliases: &BTreeMap<String, Vec<String>>,
    fault: &mut impl FnMut(String, String, &str),
) {
    let mut names = BTreeMap::new();
    for (index, name) in keypoints.iter().enumerate() {
        if let Some(earlier) = names.insert(normalised_name(name), index) {
            fault(
                format!("keypoints[{index}]"),
                format!(
                    "`{name}` equals the name at {earlier} once case, space, _ . - are dropped"
                ),
                "give the two names that differ in a letter or digit",
            );
        }
    }
    for (keypoint, aliases) in aliases {
        let Some(index) = keypoints.iter().position(|name| name == keypoint) else {
            fault(
                format!("aliases.{keypoint}"),
                "there is no such keypoint".to_owned(),
                "spell the key exactly as in `keypoints`",
            );
            continue;
        };
        for alias in aliases {
            let earlier = names.insert(normalised_name(alias), index);
            if earlier.is_some_and(|earlier| earlier != index) {
                fault(
                    format!("aliases.{keypoint}"),
                    format!("`{alias}` already means another keypoint"),
                    "remove the alias from one of the two",
                );
            }
        }
    }
}
