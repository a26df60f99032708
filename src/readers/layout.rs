//! Which keypoint is which joint.
//!
//! In: keypoint names or a count from a file, and the layouts of `models/skeletons/`. Out: a [`Layout`] that
//! turns a list of keypoints into a list of joints. Names in the file come first, then `--layout`, then the
//! count; what rests on the count alone is checked for a body's shape by [`super::plausible`].

use super::sketch::listed;
use crate::body::Joint;
use crate::models::{JointSource, Models, Order, Skeleton, normalised_name};
use crate::note::{Fault, FaultKind, Note, Place};
use crate::track::Recording;
use rayon::prelude::*;
use smallvec::SmallVec;

/// Keypoints of a body for which there is room on the stack.
const USUAL_KEYPOINTS: usize = 36;

/// A layout, resolved for one file.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Layout id.
    pub id: String,
    /// Joints that the file's keypoints give.
    pub joints: Vec<Joint>,
    /// Where each joint comes from, as indices of the file's keypoints.
    sources: Vec<JointSource>,
    /// Where joints come from that the file has too and that nothing measures.
    unmeasured: Vec<JointSource>,
    /// Number of keypoints of one person in the file.
    pub keypoints: usize,
    /// Whether only the count spoke for it.
    pub by_count: bool,
}

/// What is known of the keypoints of a file.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    /// Names in the file's order, if it has any.
    pub names: Option<&'a [String]>,
    /// Number of keypoints of one person.
    pub count: usize,
    /// `--layout`.
    pub stated: Option<&'a str>,
    /// Layouts this format uses, most usual first; the count chooses among them.
    pub usual: &'a [&'a str],
}

impl Layout {
    /// Settles the layout of a file.
    ///
    /// # Errors
    /// No layout has these names or this count, or the stated one does not fit.
    pub fn settle(known: Known<'_>, models: &Models, place: &Place) -> Result<Layout, Fault> {
        if known.names.is_none() && !models.names.is_empty() {
            return Err(models.names.useless());
        }
        match (known.names, known.stated) {
            (Some(names), stated) => Layout::by_names(names, stated, models, place),
            (None, Some(id)) => {
                let skeleton = stated_skeleton(id, models)?;
                if skeleton.keypoints.len() == known.count && skeleton.order == Order::Fixed {
                    return Ok(Layout::whole(skeleton, false));
                }
                Err(Fault::new(
                    FaultKind::Usage,
                    "read/layout",
                    format!(
                        "the file has {} keypoints without names, the layout `{id}` {}",
                        known.count,
                        match skeleton.order {
                            Order::Fixed => format!("has {}", skeleton.keypoints.len()),
                            Order::Free => "needs names".to_string(),
                        }
                    ),
                    place.clone(),
                    layouts_of_count(known.count, models),
                ))
            }
            (None, None) => {
                let fitting = known
                    .usual
                    .iter()
                    .filter_map(|id| models.skeleton(id))
                    .find(|skeleton| skeleton.keypoints.len() == known.count);
                match fitting {
                    Some(skeleton) => Ok(Layout::whole(skeleton, true)),
                    None => Err(Fault::new(
                        FaultKind::Unsupported,
                        "read/layout",
                        format!(
                            "{} keypoints without names; this format usually has {}",
                            known.count,
                            usual_counts(known.usual, models)
                        ),
                        place.clone(),
                        layouts_of_count(known.count, models),
                    )),
                }
            }
        }
    }

    fn whole(skeleton: &Skeleton, by_count: bool) -> Layout {
        Layout::mapped(skeleton, skeleton.keypoints.len(), by_count, Some)
    }

    /// `place_of` gives the file's index of a keypoint of the skeleton.
    fn mapped(
        skeleton: &Skeleton,
        keypoints: usize,
        by_count: bool,
        place_of: impl Fn(usize) -> Option<usize>,
    ) -> Layout {
        let in_file = |source: &JointSource| match *source {
            JointSource::Keypoint(a) => place_of(a).map(JointSource::Keypoint),
            JointSource::Midpoint(a, b) => place_of(a)
                .zip(place_of(b))
                .map(|(a, b)| JointSource::Midpoint(a, b)),
        };
        let (mut joints, mut sources) = (Vec::new(), Vec::new());
        for (id, source) in &skeleton.joints {
            if let (Some(joint), Some(source)) = (Joint::from_id(id), in_file(source)) {
                joints.push(joint);
                sources.push(source);
            }
        }
        Layout {
            id: skeleton.id.clone(),
            joints,
            sources,
            unmeasured: skeleton.unmeasured.values().filter_map(in_file).collect(),
            keypoints,
            by_count,
        }
    }

    /// The same for a file whose points come in another order: `order[k]` is the place of keypoint k.
    #[must_use]
    pub fn reordered(mut self, order: &[usize]) -> Layout {
        let place = |at: usize| order.get(at).copied().unwrap_or(at);
        for source in &mut self.sources {
            *source = match *source {
                JointSource::Keypoint(a) => JointSource::Keypoint(place(a)),
                JointSource::Midpoint(a, b) => JointSource::Midpoint(place(a), place(b)),
            };
        }
        self
    }

    /// The same with joints that the user mapped, whatever they were taken from before.
    fn with(mut self, mapped: &[(Joint, usize)]) -> Layout {
        for (joint, index) in mapped {
            let source = JointSource::Keypoint(*index);
            match self.joints.iter().position(|known| known == joint) {
                Some(at) => {
                    if let Some(slot) = self.sources.get_mut(at) {
                        *slot = source;
                    }
                }
                None => {
                    self.joints.push(*joint);
                    self.sources.push(source);
                }
            }
        }
        self
    }

    /// The stated layout, else the one that lists exactly these names, else the one that gives most joints by them; of equals
    /// the free one. One that gives more joints than the exact one may mean other places by the same names.
    fn by_names(
        names: &[String],
        stated: Option<&str>,
        models: &Models,
        place: &Place,
    ) -> Result<Layout, Fault> {
        let mapped = models.names.places(names)?;
        // Marker names may carry the subject before a colon.
        let bare = |name: &String| Some(normalised_name(name.rsplit_once(':')?.1));
        let plain: Vec<(String, Option<String>)> = names
            .iter()
            .map(|name| (normalised_name(name), bare(name)))
            .collect();
        let of = |skeleton: &Skeleton| {
            let mut places = vec![None; skeleton.keypoints.len()];
            for (index, (name, bare)) in plain.iter().enumerate() {
                if mapped.iter().any(|(_, at)| *at == index) {
                    continue;
                }
                let at = skeleton
                    .index_of_normalised(name)
                    .or_else(|| skeleton.index_of_normalised(bare.as_ref()?));
                if let Some(slot) = at.and_then(|at| places.get_mut(at)) {
                    // The first of two names for one point counts.
                    slot.get_or_insert(index);
                }
            }
            let place_of = |at: usize| places.get(at).copied().flatten();
            Layout::mapped(skeleton, names.len(), false, place_of).with(&mapped)
        };
        let listed_by = |skeleton: &Skeleton| {
            let mut pairs = skeleton.keypoints.iter().zip(&plain);
            skeleton.keypoints.len() == names.len()
                && pairs.all(|(own, (name, _))| normalised_name(own) == *name)
        };
        let scored = || {
            models
                .skeletons
                .par_values()
                .map(|skeleton| {
                    let layout = of(skeleton);
                    let exact = listed_by(skeleton) && !layout.joints.is_empty();
                    let free = skeleton.order == Order::Free;
                    // How much of a fixed layout is there breaks ties between the fixed ones.
                    let left_out = skeleton.keypoints.len().abs_diff(names.len());
                    (layout, exact, free, left_out)
                })
                .collect::<Vec<_>>()
                .into_iter()
                .max_by_key(|(layout, exact, free, left_out)| {
                    let known = layout.joints.len() + layout.unmeasured.len();
                    (*exact, known, *free, std::cmp::Reverse(*left_out))
                })
                .map(|(layout, ..)| layout)
        };
        let best = match stated {
            Some(id) => Some(of(stated_skeleton(id, models)?)),
            None => match models.skeleton_that_lists(names) {
                Some(skeleton) => Some(of(skeleton)),
                None => scored(),
            },
        };
        best.filter(|layout| !layout.joints.is_empty())
            .ok_or_else(|| {
                Fault::new(
                    FaultKind::Unsupported,
                    "read/layout",
                    format!("none of the names {} is a known body point", listed(names)),
                    place.clone(),
                    "names such as left_shoulder, right_elbow, c7, or saying which name stands for which \
                     joint: --map left_shoulder=NAME",
                )
            })
    }

    /// By keypoint of the file, whether a joint is taken from it.
    pub fn uses(&self) -> Vec<bool> {
        let mut uses = vec![false; self.keypoints];
        let ends = self.sources.iter().flat_map(ends);
        for slot in ends {
            if let Some(used) = uses.get_mut(slot) {
                *used = true;
            }
        }
        uses
    }

    /// Keypoints that stand for no joint.
    pub fn unused<'a>(&self, names: &'a [String]) -> Vec<&'a str> {
        let used: Vec<usize> = self
            .sources
            .iter()
            .chain(&self.unmeasured)
            .flat_map(ends)
            .collect();
        names
            .iter()
            .enumerate()
            .filter(|(index, _)| !used.contains(index))
            .map(|(_, name)| name.as_str())
            .collect()
    }

    /// Tells which points stand for no joint, in a note and for `inspect`.
    pub fn tell_unused(&self, names: &[String], recording: &mut Recording) {
        let unused = self.unused(names);
        if unused.is_empty() {
            return;
        }
        recording.notes.push(Note::new(
            "read/points-unused",
            format!("No joint is taken from the points {}.", listed(&unused)),
        ));
        recording.unused = unused.into_iter().map(str::to_string).collect();
    }

    /// Turns keypoints into joints; of no keypoints, none. The last number of a point is its score; a midpoint has the lower
    /// score of its two ends, and is missing (not-a-number) if one of them is.
    pub fn joints_of<const N: usize>(&self, mut keypoints: Vec<[f32; N]>) -> Vec<[f32; N]> {
        if keypoints.is_empty() {
            return keypoints;
        }
        if 2 * self.sources.len() < keypoints.capacity() {
            return self.taken_from(&keypoints).collect();
        }
        // Into the room they have: to take and give back memory takes longer than to copy a body.
        let before: SmallVec<[[f32; N]; USUAL_KEYPOINTS]> = keypoints.as_slice().into();
        keypoints.clear();
        keypoints.extend(self.taken_from(&before));
        keypoints
    }

    fn taken_from<const N: usize>(&self, keypoints: &[[f32; N]]) -> impl Iterator<Item = [f32; N]> {
        let at = |index: usize| keypoints.get(index).copied().unwrap_or([f32::NAN; N]);
        self.sources.iter().map(move |source| match *source {
            JointSource::Keypoint(a) => at(a),
            JointSource::Midpoint(a, b) => {
                let (a, b) = (at(a), at(b));
                let mut middle = [0.0; N];
                for (axis, value) in middle.iter_mut().enumerate() {
                    let (a, b) = (a.get(axis), b.get(axis));
                    let (a, b) = (
                        a.copied().unwrap_or(f32::NAN),
                        b.copied().unwrap_or(f32::NAN),
                    );
                    *value = match axis + 1 == N {
                        true if a.is_nan() || b.is_nan() => f32::NAN,
                        true => a.min(b),
                        false => (a + b) / 2.0,
                    };
                }
                middle
            }
        })
    }
}

/// The keypoints that a joint is taken from.
fn ends(source: &JointSource) -> [usize; 2] {
    match *source {
        JointSource::Keypoint(a) => [a, a],
        JointSource::Midpoint(a, b) => [a, b],
    }
}

fn stated_skeleton<'a>(id: &str, models: &'a Models) -> Result<&'a Skeleton, Fault> {
    models.skeleton(id).ok_or_else(|| {
        let ids: Vec<&str> = models.skeletons.keys().collect();
        Fault::new(
            FaultKind::Usage,
            "usage/unknown-layout",
            format!("there is no layout `{id}`"),
            Place::default().field("--layout"),
            format!("one of {}", ids.join(", ")),
        )
    })
}

fn usual_counts(usual: &[&str], models: &Models) -> String {
    let counts: Vec<String> = usual
        .iter()
        .filter_map(|id| models.skeleton(id))
        .map(|skeleton| format!("{} ({})", skeleton.keypoints.len(), skeleton.id))
        .collect();
    counts.join(", ")
}

fn layouts_of_count(count: usize, models: &Models) -> String {
    let ids: Vec<&str> = models
        .skeletons
        .values()
        .filter(|skeleton| skeleton.order == Order::Fixed && skeleton.keypoints.len() == count)
        .map(|skeleton| skeleton.id.as_str())
        .collect();
    match ids.is_empty() {
        true => "adding a layout file for this estimator; see `scaplane layouts`".to_string(),
        false => format!("--layout {}", ids.join(" or --layout ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Side;
    use crate::models::ModelFiles;

    fn settle(names: Option<&[&str]>, count: usize, stated: Option<&str>) -> Result<Layout, Fault> {
        let models = Models::embedded().unwrap();
        let names: Option<Vec<String>> =
            names.map(|names| names.iter().map(|name| (*name).to_string()).collect());
        let known = Known {
            names: names.as_deref(),
            count,
            stated,
            usual: &["body-25", "coco-18", "mpi-15"],
        };
        Layout::settle(known, &models, &Place::file("f"))
    }

    #[test]
    fn names_then_option_then_count() {
        let free = settle(Some(&["gu", "centelbow", "S1:aa", "stone"]), 4, None).unwrap();
        assert_eq!(free.id, "tidy");
        assert!(free.joints.contains(&Joint::AcromialAngle(Side::Right)));
        let names = ["gu", "centelbow", "S1:aa", "stone"].map(String::from);
        assert_eq!(free.unused(&names), ["stone"]);
        let counted = settle(None, 25, None).unwrap();
        assert_eq!((counted.id.as_str(), counted.by_count), ("body-25", true));
        let stated = settle(None, 25, Some("kinect-25")).unwrap();
        assert_eq!((stated.id.as_str(), stated.by_count), ("kinect-25", false));
        let kinect = settle(
            Some(&["SpineBase", "ShoulderLeft", "HipRight", "HandTipLeft"]),
            4,
            None,
        );
        assert!(
            kinect
                .unwrap()
                .joints
                .contains(&Joint::Shoulder(Side::Left))
        );
    }

    #[test]
    fn names_that_are_exactly_those_of_a_layout_are_that_layout() {
        let late = Models::embedded().unwrap();
        let all = Models::from_files(&ModelFiles::embedded()).unwrap();
        assert_eq!(all.skeletons.values().count(), late.skeletons.len());
        assert!(!late.skeletons.is_empty());
        for skeleton in all.skeletons.values() {
            assert!(late.skeleton_that_lists(&skeleton.keypoints).is_some());
            let spelled = |change: fn(&String) -> String| -> Vec<String> {
                skeleton.keypoints.iter().map(change).collect()
            };
            let spellings = [
                spelled(String::clone),
                spelled(|name| name.to_lowercase()),
                spelled(|name| name.replace('_', " ")),
            ];
            for (names, models) in spellings
                .iter()
                .flat_map(|names| [(names, &late), (names, &all)])
            {
                let known = Known {
                    names: Some(names),
                    count: names.len(),
                    stated: None,
                    usual: &[],
                };
                let settled = Layout::settle(known, models, &Place::file("f")).unwrap();
                assert_eq!(settled.id, skeleton.id);
            }
        }
    }

    #[test]
    fn what_does_not_fit_is_told_with_a_remedy() {
        for (names, count, stated, code, remedy) in [
            (None, 21, None, "read/layout", "adding a layout"),
            (
                None,
                17,
                None,
                "read/layout",
                "--layout coco-17 or --layout h36m-17",
            ),
            (
                None,
                25,
                Some("coco-17"),
                "read/layout",
                "--layout body-25 or --layout body-25b or --layout kinect-25",
            ),
            (None, 25, Some("tidy"), "read/layout", "--layout body-25"),
            (None, 25, Some("cat"), "usage/unknown-layout", "one of "),
            (
                Some(&["stone", "tree"][..]),
                2,
                None,
                "read/layout",
                "names such as",
            ),
        ] {
            let fault = settle(names, count, stated).unwrap_err();
            assert_eq!(fault.code, code);
            assert!(fault.remedy.starts_with(remedy), "{}", fault.remedy);
        }
    }

    #[test]
    fn joints_are_the_same_in_the_room_of_the_keypoints_and_in_their_own() {
        let models = Models::embedded().unwrap();
        for (id, count) in [("coco-17", 17), ("wholebody-133", 133)] {
            let layout = Layout::whole(models.skeleton(id).unwrap(), false);
            let keypoints: Vec<[f32; 3]> = (0..count).map(|k| [k as f32, 1.0, 0.5]).collect();
            let by_definition: Vec<[f32; 3]> = layout.taken_from(&keypoints).collect();
            let own_room = 2 * layout.joints.len() < count;
            assert_eq!(own_room, id == "wholebody-133");
            let joints = layout.joints_of(keypoints);
            assert_eq!(joints, by_definition);
            assert!(joints.capacity() < 2 * joints.len() + 1);
            assert_eq!(layout.joints_of(Vec::<[f32; 4]>::new()), [[0.0; 4]; 0]);
        }
    }

    #[test]
    fn a_midpoint_needs_both_ends() {
        let layout = Layout {
            id: "t".into(),
            joints: vec![Joint::MidHip],
            sources: vec![JointSource::Midpoint(0, 1)],
            unmeasured: Vec::new(),
            keypoints: 2,
            by_count: false,
        };
        assert_eq!(
            layout.joints_of(vec![[0.0, 2.0, 0.9], [2.0, 4.0, 0.5]]),
            [[1.0, 3.0, 0.5]]
        );
        assert!(
            layout.joints_of(vec![[0.0, 2.0, 0.9]])[0]
                .iter()
                .all(|v| v.is_nan())
        );
    }
}
