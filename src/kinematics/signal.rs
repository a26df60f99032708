//! The one table of signals: names, zeros, directions, ranges.

/// A named curve over time, in degrees. Signs and zeros are for both sides alike: the left side is
/// mirrored once, where the trunk's axes are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Signal {
    /// Upper arm against the downward trunk line; 0 hanging, 180 overhead.
    Elevation,
    /// Plane of elevation: 0 straight to the side, 90 straight ahead, negative behind; (-180, 180].
    Plane,
    /// Humeral rotation from the forearm; internal positive. With the arm hanging (elevation below 30) it is
    /// plane plus axial rotation, the only rotation that is then defined.
    HumeralRotation,
    /// Elbow flexion; 0 straight.
    ElbowFlexion,
    /// Upper arm seen along the forward direction, against the downward trunk line; 0 tucked, 90 flared.
    ElbowPath,
    /// Rise of the shoulder point about the sternal end of the collar bone, from the clip's resting level.
    GirdleElevation,
    /// Travel of the shoulder point forward about the sternal end of the collar bone.
    GirdleProtraction,
    /// Upward rotation of the shoulder blade in the trunk (ISB Y-X-Z, upward positive).
    UpwardRotation,
    /// Tilt of the shoulder blade, posterior positive.
    Tilt,
    /// Internal rotation (protraction) of the shoulder blade.
    InternalRotation,
    /// Sideways lean of the trunk line against the vertical, toward the exercising side positive.
    LeanSide,
    /// Lean of the trunk line in the person's forward direction, backward positive.
    LeanBack,
    /// Turn of the trunk about the vertical, from the clip's middle value; toward the exercising arm positive.
    TrunkTurn,
}

impl Signal {
    /// Number of signals.
    pub const COUNT: usize = 13;

    /// Every signal, in the order of its index.
    pub const ALL: [Signal; Signal::COUNT] = [
        Signal::Elevation,
        Signal::Plane,
        Signal::HumeralRotation,
        Signal::ElbowFlexion,
        Signal::ElbowPath,
        Signal::GirdleElevation,
        Signal::GirdleProtraction,
        Signal::UpwardRotation,
        Signal::Tilt,
        Signal::InternalRotation,
        Signal::LeanSide,
        Signal::LeanBack,
        Signal::TrunkTurn,
    ];

    /// Position in [`Signal::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// Kebab-case id.
    pub fn id(self) -> &'static str {
        match self {
            Signal::Elevation => "elevation",
            Signal::Plane => "plane",
            Signal::HumeralRotation => "humeral-rotation",
            Signal::ElbowFlexion => "elbow-flexion",
            Signal::ElbowPath => "elbow-path",
            Signal::GirdleElevation => "girdle-elevation",
            Signal::GirdleProtraction => "girdle-protraction",
            Signal::UpwardRotation => "upward-rotation",
            Signal::Tilt => "tilt",
            Signal::InternalRotation => "internal-rotation",
            Signal::LeanSide => "lean-side",
            Signal::LeanBack => "lean-back",
            Signal::TrunkTurn => "trunk-turn",
        }
    }

    /// Whether values wrap at 180 degrees.
    pub fn is_circular(self) -> bool {
        matches!(
            self,
            Signal::Plane | Signal::HumeralRotation | Signal::TrunkTurn
        )
    }
}

/// Some of the signals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signals([bool; Signal::COUNT]);

impl Signals {
    /// Every signal.
    pub const ALL: Signals = Signals([true; Signal::COUNT]);

    /// Those of which it is so.
    pub fn that(so: impl Fn(Signal) -> bool) -> Signals {
        Signals(Signal::ALL.map(so))
    }

    /// Whether a signal is among them.
    pub fn contain(&self, signal: Signal) -> bool {
        self.0.get(signal.index()) == Some(&true)
    }
}

#[cfg(test)]
mod tests {
    use super::{Signal, Signals};

    #[test]
    fn those_of_which_it_is_so_are_among_them_and_no_others() {
        let circular = Signals::that(Signal::is_circular);
        for signal in Signal::ALL {
            assert_eq!(circular.contain(signal), signal.is_circular());
            assert!(Signals::ALL.contain(signal));
        }
    }

    #[test]
    fn the_index_is_the_place_in_the_list() {
        for (place, signal) in Signal::ALL.iter().enumerate() {
            assert_eq!(signal.index(), place);
        }
    }
}
