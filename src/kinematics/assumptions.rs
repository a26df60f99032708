//! What must be assumed about bodies, phones and estimators before an angle can be given an interval.
//!
//! The numbers come from `models/landmarks.toml`, each with its source and spread.

/// A quantity known only with a spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Most likely value.
    pub value: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Assumptions of the kinematics stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumptions {
    /// Systematic error of a shoulder point in each direction, standard deviation, metres.
    pub shoulder_m: f64,
    /// Of an elbow or wrist point.
    pub limb_m: f64,
    /// Of a hip point.
    pub hip_m: f64,
    /// Of a marker or dot on the skin over a bone.
    pub skin_marker_m: f64,
    /// Additional systematic error along the line of sight of a guessed depth.
    pub depth_m: f64,
    /// Turn of the exercise's plane out of the picture up to which a guessed depth tells the plane, degrees.
    pub depth_trusted_to_deg: f64,
    /// What an angle from guessed depth is off by beyond the points' own errors, standard deviation, degrees.
    pub estimator_angle_deg: f64,
    /// Length of the trunk, mid-hip to mid-shoulder, metres: the ruler that turns pixels into metres.
    pub trunk_m: f64,
    /// Distance between the shoulder points as a share of the trunk length.
    pub shoulder_width: Spread,
    /// Distance between the hip points as a share of the trunk length.
    pub hip_width: Spread,
    /// Upper arm length as a share of the trunk length.
    pub upper_arm: Spread,
    /// Forearm length as a share of the trunk length.
    pub forearm: Spread,
    /// Distance of the sternal end of the collar bone from the midline, as a share of the distance of the
    /// shoulder point from the midline.
    pub sternal_end: f64,
    /// Error of the acromion's rise in one picture beside that of its mark, standard deviation, metres.
    pub acromion_unseen_m: f64,
    /// Focal length as a share of the picture's long side.
    pub focal: Spread,
    /// Distance of the phone, metres, used only when the picture's size is unknown.
    pub distance_m: Spread,
    /// Lean of the trunk toward or away from the phone that one picture does not show, degrees.
    pub unseen_lean_sd_deg: f64,
    /// Turn of a person asked to face (or turn side on to) the phone, standard deviation, degrees.
    pub stated_view_sd_deg: f64,
    /// What dots on the blade do not show by themselves.
    pub blade: Blade,
}

/// How the blade and the dots on it move where neither can be seen: published means with the spread between people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blade {
    /// Internal rotation at 30 degrees of elevation, degrees: how far the spine of the scapula stands out of the
    /// frontal plane.
    pub internal_rotation_deg: Spread,
    /// Its change per degree of elevation.
    pub internal_rotation_per_elevation: Spread,
    /// Upward rotation that points on the skin gain over the bone per degree of elevation: none on the whole, and a
    /// spread.
    pub skin_per_elevation: Spread,
    /// Error of a dot's place over its bony point, standard deviation, metres.
    pub dot_m: f64,
}

/// The clavicle-scapula linkage by which a shoulder point's rise stands for the blade's rotation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Linkage {
    /// Degrees that the shoulder point rises about the sternal end for each degree of upward rotation of
    /// the blade: of people in general, with the spread between them, or of this person.
    pub rise_per_rotation: Spread,
    /// Whether it was settled on this person's own blade.
    pub calibrated: bool,
    /// How far the linkage of one person differs within 30 degrees of elevation from that over the whole
    /// raise, as a share, standard deviation.
    pub window_sd: f64,
    /// Elevation up to which points over the blade are trusted, degrees.
    pub trusted_to_deg: f64,
}
