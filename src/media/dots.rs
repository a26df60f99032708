//! The dots that a clinician puts on the back, and about where they lie on a person who stands at rest.

use super::trunk::Trunk;
use crate::body::{Joint, Side};
use nalgebra::Vector2;

/// Where a dot is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dot {
    /// On the acromial angle of a side.
    AcromialAngle(Side),
    /// On the root of the spine of the scapula.
    SpineRoot(Side),
    /// On the inferior angle of the scapula.
    InferiorAngle(Side),
    /// On the seventh cervical vertebra.
    C7,
    /// On the eighth thoracic vertebra, in the middle of the back.
    MidBack,
}

impl Dot {
    /// The three dots of a blade.
    pub fn of_blade(side: Side) -> [Dot; 3] {
        [
            Dot::AcromialAngle(side),
            Dot::SpineRoot(side),
            Dot::InferiorAngle(side),
        ]
    }

    /// The body point.
    pub fn joint(self) -> Joint {
        match self {
            Dot::AcromialAngle(side) => Joint::AcromialAngle(side),
            Dot::SpineRoot(side) => Joint::SpineRoot(side),
            Dot::InferiorAngle(side) => Joint::InferiorAngle(side),
            Dot::C7 => Joint::C7,
            Dot::MidBack => Joint::T8,
        }
    }

    /// The side of a dot on a blade.
    pub fn side(self) -> Option<Side> {
        match self {
            Dot::AcromialAngle(side) | Dot::SpineRoot(side) | Dot::InferiorAngle(side) => {
                Some(side)
            }
            Dot::C7 | Dot::MidBack => None,
        }
    }

    /// The dot of a name: `acromial-angle`, `spine-root` and `inferior-angle` are of the given side unless the name
    /// ends with one; `c7`, `mid-back`.
    pub fn from_name(name: &str, side: Side) -> Option<Dot> {
        let of = |name: &str, side: Side| match name {
            "acromial-angle" => Some(Dot::AcromialAngle(side)),
            "spine-root" => Some(Dot::SpineRoot(side)),
            "inferior-angle" => Some(Dot::InferiorAngle(side)),
            _ => None,
        };
        let ending = Side::BOTH
            .into_iter()
            .find_map(|side| Some((name.strip_suffix(side.id())?, side)));
        match (name, ending) {
            ("c7", _) => Some(Dot::C7),
            ("mid-back", _) => Some(Dot::MidBack),
            (_, Some((stem, side))) => of(stem.strip_suffix('-')?, side),
            _ => of(name, side),
        }
    }

    /// About where it lies while the arm hangs: outward in half widths of the shoulders, up from the middle of the
    /// shoulders in lengths of the trunk (from memory; only to tell dots of one colour apart).
    fn usual(self) -> [f64; 2] {
        match self {
            Dot::AcromialAngle(_) => [0.95, 0.05],
            Dot::SpineRoot(_) => [0.42, -0.04],
            Dot::InferiorAngle(_) => [0.52, -0.28],
            Dot::C7 => [0.0, 0.14],
            Dot::MidBack => [0.0, -0.24],
        }
    }

    /// About where it lies in the picture on a person who stands at rest, pixels.
    pub(super) fn usual_place(self, trunk: &Trunk, side: Side) -> Vector2<f64> {
        let [outward, up] = self.usual();
        let outward = trunk.outward(self.side().unwrap_or(side)) * (outward * trunk.half_width());
        trunk.top + (outward + trunk.up * up) * trunk.length
    }

    /// How far a place is from where the dot usually is, in standard deviations across and along.
    pub(super) fn strangeness(self, at: Vector2<f64>, trunk: &Trunk, side: Side) -> [f64; 2] {
        let [outward, up] = trunk.express(at, self.side().unwrap_or(side));
        let [usual_outward, usual_up] = self.usual();
        [
            (outward - usual_outward * trunk.half_width()) / USUAL_SD,
            (up - usual_up) / USUAL_SD,
        ]
    }
}

/// How far people, and where a dot is put, depart from the usual place, lengths of the trunk (stated assumption).
const USUAL_SD: f64 = 0.08;

impl std::fmt::Display for Dot {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let name = match self {
            Dot::AcromialAngle(_) => "acromial angle",
            Dot::SpineRoot(_) => "root of the scapular spine",
            Dot::InferiorAngle(_) => "inferior angle",
            Dot::C7 => "C7",
            Dot::MidBack => "middle of the back",
        };
        match self.side() {
            Some(side) => write!(f, "{name}, {side}"),
            None => f.write_str(name),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dots_are_named_with_or_without_a_side() {
        let named = |name| Dot::from_name(name, Side::Right);
        assert_eq!(named("spine-root"), Some(Dot::SpineRoot(Side::Right)));
        assert_eq!(named("spine-root-left"), Some(Dot::SpineRoot(Side::Left)));
        assert_eq!(named("c7"), Some(Dot::C7));
        assert_eq!(named("mid-back"), Some(Dot::MidBack));
        assert_eq!(named("elbow"), None);
    }
}
