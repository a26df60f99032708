//! The body as the measuring sees it: sides, joints, views.
//!
//! A *joint* is a body point the program uses; a *keypoint* is what an estimator exports. Layouts in
//! `models/skeletons/` map the one to the other. Nothing here knows a file format or an angle.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Anatomical side of the person filmed, never the side of the picture.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Serialize,
    Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
}

impl Side {
    /// Both sides, left first.
    pub const BOTH: [Side; 2] = [Side::Left, Side::Right];

    /// The other side.
    #[must_use]
    pub fn other(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// `left` or `right`.
    pub fn id(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.id())
    }
}

/// A body point that some signal uses, or that the replayed figure draws.
///
/// Landmark names follow Wu et al. 2005 (ISB): IJ, PX, C7, T8, SC, AC, AA, TS, AI, EL, EM.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Joint {
    Nose,
    Eye(Side),
    Ear(Side),
    /// A true neck point (not the mid-shoulder that some layouts call neck).
    Neck,
    /// The shoulder keypoint; in marker data the glenohumeral centre.
    Shoulder(Side),
    Elbow(Side),
    Wrist(Side),
    Index(Side),
    Pinky(Side),
    Thumb(Side),
    Hip(Side),
    MidHip,
    Knee(Side),
    Ankle(Side),
    MidSpine,
    /// IJ, the notch above the breast bone.
    Incisura,
    /// PX, the lower end of the breast bone.
    Xiphoid,
    C7,
    T8,
    /// Midpoint of IJ and C7.
    TrunkUpper,
    /// Midpoint of PX and T8.
    TrunkLower,
    /// SC, sternal end of the collar bone.
    SternalEnd(Side),
    /// AC, the joint at the outer end of the collar bone.
    Acromion(Side),
    /// AA, the acromial angle.
    AcromialAngle(Side),
    /// TS, the root of the scapular spine.
    SpineRoot(Side),
    /// AI, the inferior angle.
    InferiorAngle(Side),
    ElbowLateral(Side),
    ElbowMedial(Side),
    WristUlnar(Side),
    WristRadial(Side),
}

impl Joint {
    const UNPAIRED: [(Joint, &'static str); 9] = [
        (Joint::Nose, "nose"),
        (Joint::Neck, "neck"),
        (Joint::MidHip, "mid-hip"),
        (Joint::MidSpine, "mid-spine"),
        (Joint::Incisura, "incisura"),
        (Joint::Xiphoid, "xiphoid"),
        (Joint::C7, "c7"),
        (Joint::T8, "t8"),
        (Joint::TrunkUpper, "trunk-upper"),
    ];
    const LOWER: (Joint, &'static str) = (Joint::TrunkLower, "trunk-lower");

    #[allow(clippy::type_complexity)] // a plain table of constructors and names
    const PAIRED: [(fn(Side) -> Joint, &'static str); 20] = [
        (Joint::Eye, "eye"),
        (Joint::Ear, "ear"),
        (Joint::Shoulder, "shoulder"),
        (Joint::Elbow, "elbow"),
        (Joint::Wrist, "wrist"),
        (Joint::Index, "index"),
        (Joint::Pinky, "pinky"),
        (Joint::Thumb, "thumb"),
        (Joint::Hip, "hip"),
        (Joint::Knee, "knee"),
        (Joint::Ankle, "ankle"),
        (Joint::SternalEnd, "sternal-end"),
        (Joint::Acromion, "acromion"),
        (Joint::AcromialAngle, "acromial-angle"),
        (Joint::SpineRoot, "spine-root"),
        (Joint::InferiorAngle, "inferior-angle"),
        (Joint::ElbowLateral, "elbow-lateral"),
        (Joint::ElbowMedial, "elbow-medial"),
        (Joint::WristUlnar, "wrist-ulnar"),
        (Joint::WristRadial, "wrist-radial"),
    ];

    /// Every joint with its id, unpaired first, then left and right of each pair.
    pub fn all() -> Vec<(Joint, String)> {
        let unpaired = Joint::UNPAIRED
            .iter()
            .chain(std::iter::once(&Joint::LOWER))
            .map(|(joint, name)| (*joint, (*name).to_string()));
        let paired = Joint::PAIRED.iter().flat_map(|(make, name)| {
            Side::BOTH
                .into_iter()
                .map(move |side| (make(side), format!("{name}-{side}")))
        });
        unpaired.chain(paired).collect()
    }

    /// The kebab-case id, such as `shoulder-left`.
    pub fn id(self) -> String {
        Joint::table()
            .iter()
            .find(|(joint, _)| *joint == self)
            .map(|(_, id)| id.clone())
            .unwrap_or_default()
    }

    /// The joint of that id, if there is one.
    pub fn from_id(id: &str) -> Option<Joint> {
        Joint::table()
            .iter()
            .find(|(_, name)| name == id)
            .map(|(joint, _)| *joint)
    }

    /// Every joint with its id, made once: definitions and readers look up thousands.
    fn table() -> &'static [(Joint, String)] {
        static TABLE: std::sync::LazyLock<Vec<(Joint, String)>> =
            std::sync::LazyLock::new(Joint::all);
        &TABLE
    }

    /// Whether some measure, the view or the choice of the person needs it. Of a long clip the others are not
    /// kept.
    pub fn is_measured(self) -> bool {
        !matches!(
            self,
            Joint::Eye(_)
                | Joint::Index(_)
                | Joint::Pinky(_)
                | Joint::Thumb(_)
                | Joint::Knee(_)
                | Joint::Ankle(_)
        )
    }

    /// The same joint on the other side; an unpaired joint is its own mirror image.
    #[must_use]
    pub fn mirrored(self) -> Joint {
        let id = self.id();
        let swapped = if let Some(stem) = id.strip_suffix("-left") {
            format!("{stem}-right")
        } else if let Some(stem) = id.strip_suffix("-right") {
            format!("{stem}-left")
        } else {
            return self;
        };
        Joint::from_id(&swapped).unwrap_or(self)
    }
}

/// From where the phone saw the person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ViewName {
    /// The person faces the phone.
    Front,
    /// The person's back is to the phone.
    Back,
    /// The person's left side is toward the phone.
    Left,
    /// The person's right side is toward the phone.
    Right,
    /// In between.
    Oblique,
}

impl ViewName {
    /// The name of a yaw in degrees: 0 faces the phone, 90 faces the picture's right, 180 the back.
    /// A view is named front, back, left or right within 25 degrees of it, else oblique
    /// (the band is a stated choice: half of the 45 degree oblique, rounded up).
    pub fn of_yaw(yaw_deg: f64) -> ViewName {
        let yaw = crate::geom::wrap_180(yaw_deg);
        match yaw {
            y if y.abs() <= 25.0 => ViewName::Front,
            y if y.abs() >= 155.0 => ViewName::Back,
            y if (65.0..=115.0).contains(&y) => ViewName::Right,
            y if (-115.0..=-65.0).contains(&y) => ViewName::Left,
            _ => ViewName::Oblique,
        }
    }

    /// Lower-case name.
    pub fn id(self) -> &'static str {
        match self {
            ViewName::Front => "front",
            ViewName::Back => "back",
            ViewName::Left => "left",
            ViewName::Right => "right",
            ViewName::Oblique => "oblique",
        }
    }

    /// The yaw at the middle of a named view; `oblique` has none.
    pub fn yaw_deg(self) -> Option<f64> {
        match self {
            ViewName::Front => Some(0.0),
            ViewName::Back => Some(180.0),
            ViewName::Left => Some(-90.0),
            ViewName::Right => Some(90.0),
            ViewName::Oblique => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_joint_has_an_id_that_leads_back_to_it() {
        let all = Joint::all();
        assert_eq!(all.len(), 10 + 2 * 20);
        for (joint, id) in all {
            assert_eq!(Joint::from_id(&id), Some(joint));
            assert_eq!(joint.id(), id);
            assert_eq!(joint.mirrored().mirrored(), joint);
        }
    }

    #[test]
    fn views_are_named_by_yaw() {
        for (yaw, name) in [
            (0.0, ViewName::Front),
            (-20.0, ViewName::Front),
            (90.0, ViewName::Right),
            (-90.0, ViewName::Left),
            (180.0, ViewName::Back),
            (-179.0, ViewName::Back),
            (45.0, ViewName::Oblique),
            (450.0, ViewName::Right),
        ] {
            assert_eq!(ViewName::of_yaw(yaw), name, "{yaw}");
        }
    }
}
