//! Figures of the body, the camera and the landmarks, each with spread, unit and source.
//!
//! In: `linkage.toml` and `landmarks.toml`. Out: typed tables, so that a missing figure is a
//! load fault and never a silent zero.

use serde::{Deserialize, Serialize};

use super::error::ModelError;

/// One figure with its spread.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Parameter {
    /// The figure, in `unit`.
    pub value: f64,
    /// Standard deviation of that figure between people or devices, in `unit`; absent where the
    /// figure is itself a standard deviation.
    pub sd: Option<f64>,
    /// `m`, `mm`, `deg`, `deg/deg` or `1`.
    pub unit: String,
    /// Source id of the value.
    pub source: String,
    /// Source id of the spread, where it differs from the value's.
    pub sd_source: Option<String>,
    /// How it was had, and what it leaves out.
    pub note: String,
}

/// One figure for each of the three planes in which curves were published.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlaneCurve {
    /// Arm raised to the side.
    pub abduction: Parameter,
    /// Arm raised in the plane of the scapula.
    pub scaption: Parameter,
    /// Arm raised ahead.
    pub flexion: Parameter,
}

impl PlaneCurve {
    /// Value and standard deviation at a plane of elevation, linear between the published
    /// planes and constant beyond them.
    ///
    /// `plane_deg`: 0 to the side, 90 ahead. `scaption_deg`: the plane the middle curve was
    /// taken in ([`Linkage::scaption_plane_deg`]).
    ///
    /// ```
    /// let linkage = scaplane::models::Models::embedded().unwrap().linkage;
    /// let curve = &linkage.clavicle_rise_per_upward_rotation;
    /// let (at_side, _) = curve.at(0.0, 40.0);
    /// let (half_way, _) = curve.at(20.0, 40.0);
    /// assert_eq!(at_side, curve.abduction.value);
    /// let mean = (curve.abduction.value + curve.scaption.value) / 2.0;
    /// assert!((half_way - mean).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn at(&self, plane_deg: f64, scaption_deg: f64) -> (f64, f64) {
        let mix = |from: &Parameter, to: &Parameter, share: f64| {
            let share = share.clamp(0.0, 1.0);
            let spread = |p: &Parameter| p.sd.unwrap_or_default();
            (
                from.value + share * (to.value - from.value),
                spread(from) + share * (spread(to) - spread(from)),
            )
        };
        if plane_deg <= scaption_deg {
            mix(&self.abduction, &self.scaption, plane_deg / scaption_deg)
        } else {
            let share = (plane_deg - scaption_deg) / (90.0 - scaption_deg);
            mix(&self.scaption, &self.flexion, share)
        }
    }

    fn parts(&self) -> [(&'static str, &Parameter); 3] {
        [
            ("abduction", &self.abduction),
            ("scaption", &self.scaption),
            ("flexion", &self.flexion),
        ]
    }
}

/// Clavicle-scapula linkage: what turns the shoulder point's rise into a blade angle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Linkage {
    /// Plane of elevation in which the published scaption curves were taken.
    pub scaption_plane_deg: Parameter,
    /// Sternal end to acromioclavicular joint.
    pub clavicle_length_m: Parameter,
    /// Acromioclavicular joint to the glenohumeral centre, outward along the blade's spine line.
    pub ac_to_gh_lateral_m: Parameter,
    /// The same, downward in the blade's plane.
    pub ac_to_gh_down_m: Parameter,
    /// The same, forward out of the blade's plane.
    pub ac_to_gh_forward_m: Parameter,
    /// Scapular upward rotation at 30 degrees of elevation.
    pub upward_rotation_at_30_deg: PlaneCurve,
    /// How far the linkage within 30 degrees of elevation differs from that over the whole raise, a share.
    pub window_sd_of_whole: Parameter,
    /// How far a person's linkage over the whole raise differs between repetitions of an inclinometer's day
    /// and those of a clip, a share.
    pub calibration_sd_of_whole: Parameter,
    /// Clavicle elevation at 30 degrees of elevation.
    pub clavicle_elevation_at_30_deg: PlaneCurve,
    /// Clavicle retraction at 30 degrees of elevation.
    pub clavicle_retraction_at_30_deg: PlaneCurve,
    /// Degrees the clavicle rises per degree of upward rotation of the blade.
    pub clavicle_rise_per_upward_rotation: PlaneCurve,
    /// Degrees the clavicle retracts per degree of upward rotation of the blade.
    pub clavicle_retraction_per_upward_rotation: PlaneCurve,
    /// Degrees the clavicle rolls backward per degree of upward rotation of the blade.
    pub clavicle_posterior_rotation_per_upward_rotation: PlaneCurve,
    /// Degrees the blade tips backward per degree of its upward rotation.
    pub posterior_tilt_per_upward_rotation: PlaneCurve,
    /// Degrees of upward rotation per degree of elevation, 30 to 120, healthy people.
    pub upward_rotation_per_elevation: PlaneCurve,
    /// Internal rotation of the blade at 30 degrees of elevation.
    pub internal_rotation_at_30_deg: PlaneCurve,
    /// Degrees of internal rotation per degree of elevation, 30 to 120.
    pub internal_rotation_per_elevation: PlaneCurve,
}

impl Linkage {
    /// Every figure with its key, for checks and listings.
    #[must_use]
    pub fn parameters(&self) -> Vec<(String, &Parameter)> {
        let mut all: Vec<(String, &Parameter)> = [
            ("scaption_plane_deg", &self.scaption_plane_deg),
            ("clavicle_length_m", &self.clavicle_length_m),
            ("ac_to_gh_lateral_m", &self.ac_to_gh_lateral_m),
            ("ac_to_gh_down_m", &self.ac_to_gh_down_m),
            ("ac_to_gh_forward_m", &self.ac_to_gh_forward_m),
            ("window_sd_of_whole", &self.window_sd_of_whole),
            ("calibration_sd_of_whole", &self.calibration_sd_of_whole),
        ]
        .map(|(key, p)| (key.to_owned(), p))
        .into();
        let curves = [
            ("upward_rotation_at_30_deg", &self.upward_rotation_at_30_deg),
            (
                "clavicle_elevation_at_30_deg",
                &self.clavicle_elevation_at_30_deg,
            ),
            (
                "clavicle_retraction_at_30_deg",
                &self.clavicle_retraction_at_30_deg,
            ),
            (
                "clavicle_rise_per_upward_rotation",
                &self.clavicle_rise_per_upward_rotation,
            ),
            (
                "clavicle_retraction_per_upward_rotation",
                &self.clavicle_retraction_per_upward_rotation,
            ),
            (
                "clavicle_posterior_rotation_per_upward_rotation",
                &self.clavicle_posterior_rotation_per_upward_rotation,
            ),
            (
                "posterior_tilt_per_upward_rotation",
                &self.posterior_tilt_per_upward_rotation,
            ),
            (
                "upward_rotation_per_elevation",
                &self.upward_rotation_per_elevation,
            ),
            (
                "internal_rotation_at_30_deg",
                &self.internal_rotation_at_30_deg,
            ),
            (
                "internal_rotation_per_elevation",
                &self.internal_rotation_per_elevation,
            ),
        ];
        for (key, curve) in curves {
            all.extend(
                curve
                    .parts()
                    .map(|(plane, p)| (format!("{key}.{plane}"), p)),
            );
        }
        all
    }
}

/// Landmark errors, body proportions and camera assumptions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Landmarks {
    /// Systematic error (one standard deviation) of the shoulder point against the joint centre.
    pub shoulder_sd_mm: Parameter,
    /// The same for the elbow.
    pub elbow_sd_mm: Parameter,
    /// The same for the wrist.
    pub wrist_sd_mm: Parameter,
    /// The same for the hip.
    pub hip_sd_mm: Parameter,
    /// The same for points of the head.
    pub head_sd_mm: Parameter,
    /// The same for marks on the skin over the thorax and the elbow's bony points.
    pub thorax_skin_sd_mm: Parameter,
    /// The same for marks on the skin over the blade.
    pub scapula_skin_sd_mm: Parameter,
    /// Error (one standard deviation) of upward rotation followed on the skin.
    pub scapula_skin_angle_sd_deg: Parameter,
    /// Highest elevation up to which marks over the blade are trusted.
    pub scapula_skin_trusted_to_deg: Parameter,
    /// Repeat error of an inclinometer reading of upward rotation with the arm at rest.
    pub inclinometer_rest_sd_deg: Parameter,
    /// The same with the arm raised.
    pub inclinometer_raised_sd_deg: Parameter,
    /// The same with the arm high, at 120 degrees.
    pub inclinometer_high_sd_deg: Parameter,
    /// Systematic depth error of world coordinates from one image (one standard deviation).
    pub world_depth_sd_mm: Parameter,
    /// Turn of an exercise's plane out of the picture up to which a guessed depth tells the plane of elevation.
    pub guessed_depth_trusted_to_deg: Parameter,
    /// Distance between hip points as a share of trunk length (mid-hip to mid-shoulder).
    pub hip_width_per_trunk: Parameter,
    /// Distance between shoulder joint centres as a share of trunk length.
    pub shoulder_width_per_trunk: Parameter,
    /// Upper-arm length as a share of trunk length.
    pub upper_arm_per_trunk: Parameter,
    /// Forearm length as a share of trunk length.
    pub forearm_per_trunk: Parameter,
    /// Trunk length of an adult, for millimetres into picture units.
    pub trunk_length_m: Parameter,
    /// Place of the sternal end of the collar bone as a share of the shoulder's distance from the midline.
    pub sternal_end_per_half_shoulder: Parameter,
    /// Error of the acromion's rise in one picture beside that of its mark (one standard deviation).
    pub acromion_unseen_sd_mm: Parameter,
    /// Distance of the phone, where the picture's size is unknown.
    pub phone_distance_m: Parameter,
    /// Focal length of a phone's main camera as a share of the picture's long side.
    pub focal_per_long_side: Parameter,
    /// Tilt of a phone that stands on its own (one standard deviation).
    pub camera_pitch_sd_deg: Parameter,
    /// Roll of a phone that stands on its own (one standard deviation).
    pub camera_roll_sd_deg: Parameter,
    /// How far a person's turn differs from the view stated (one standard deviation).
    pub declared_view_yaw_sd_deg: Parameter,
    /// What a single estimator's angle is uncertain by beyond everything above (one sd).
    pub estimator_angle_sd_deg: Parameter,
}

impl Landmarks {
    /// Every figure with its key, for checks and listings.
    #[must_use]
    pub fn parameters(&self) -> Vec<(String, &Parameter)> {
        [
            ("shoulder_sd_mm", &self.shoulder_sd_mm),
            ("elbow_sd_mm", &self.elbow_sd_mm),
            ("wrist_sd_mm", &self.wrist_sd_mm),
            ("hip_sd_mm", &self.hip_sd_mm),
            ("head_sd_mm", &self.head_sd_mm),
            ("thorax_skin_sd_mm", &self.thorax_skin_sd_mm),
            ("scapula_skin_sd_mm", &self.scapula_skin_sd_mm),
            ("scapula_skin_angle_sd_deg", &self.scapula_skin_angle_sd_deg),
            (
                "scapula_skin_trusted_to_deg",
                &self.scapula_skin_trusted_to_deg,
            ),
            ("inclinometer_rest_sd_deg", &self.inclinometer_rest_sd_deg),
            (
                "inclinometer_raised_sd_deg",
                &self.inclinometer_raised_sd_deg,
            ),
            ("inclinometer_high_sd_deg", &self.inclinometer_high_sd_deg),
            ("world_depth_sd_mm", &self.world_depth_sd_mm),
            (
                "guessed_depth_trusted_to_deg",
                &self.guessed_depth_trusted_to_deg,
            ),
            ("hip_width_per_trunk", &self.hip_width_per_trunk),
            ("shoulder_width_per_trunk", &self.shoulder_width_per_trunk),
            ("upper_arm_per_trunk", &self.upper_arm_per_trunk),
            ("forearm_per_trunk", &self.forearm_per_trunk),
            ("trunk_length_m", &self.trunk_length_m),
            (
                "sternal_end_per_half_shoulder",
                &self.sternal_end_per_half_shoulder,
            ),
            ("acromion_unseen_sd_mm", &self.acromion_unseen_sd_mm),
            ("phone_distance_m", &self.phone_distance_m),
            ("focal_per_long_side", &self.focal_per_long_side),
            ("camera_pitch_sd_deg", &self.camera_pitch_sd_deg),
            ("camera_roll_sd_deg", &self.camera_roll_sd_deg),
            ("declared_view_yaw_sd_deg", &self.declared_view_yaw_sd_deg),
            ("estimator_angle_sd_deg", &self.estimator_angle_sd_deg),
        ]
        .map(|(key, p)| (key.to_owned(), p))
        .into()
    }
}

/// Checks numbers and units of one table; a key's ending and its unit must agree.
pub(crate) fn check(file: &str, table: &[(String, &Parameter)], faults: &mut Vec<ModelError>) {
    for (key, parameter) in table {
        let wanted = unit_of_key(key);
        if parameter.unit != wanted {
            faults.push(ModelError::new(
                file,
                format!("{key}.unit"),
                format!("`{}` does not fit the key", parameter.unit),
                format!("write unit = \"{wanted}\" and the value in it"),
            ));
        }
        if !parameter.value.is_finite() {
            faults.push(ModelError::new(
                file,
                format!("{key}.value"),
                "the value is not a finite number",
                "write a plain number",
            ));
        }
        // A figure whose key says `sd` is a spread itself; every other one needs one.
        let is_spread = key.contains("_sd_");
        let sound = match parameter.sd {
            Some(sd) => !is_spread && sd.is_finite() && sd >= 0.0,
            None => is_spread && parameter.value > 0.0,
        };
        if !sound {
            faults.push(ModelError::new(
                file,
                format!("{key}.sd"),
                "the spread is missing, negative, or stands beside a figure that is one itself",
                "give sd as a number that is not negative; leave it out only for keys with `_sd_`",
            ));
        }
        if parameter.note.trim().is_empty() {
            faults.push(ModelError::new(
                file,
                format!("{key}.note"),
                "the note is empty",
                "say how the figure was had",
            ));
        }
    }
}

/// The unit that a key's ending states.
fn unit_of_key(key: &str) -> &'static str {
    let head = key.split('.').next().unwrap_or(key);
    if head.contains("_per_upward_rotation") || head.ends_with("_per_elevation") {
        "deg/deg"
    } else if head.ends_with("_mm") {
        "mm"
    } else if head.ends_with("_deg") {
        "deg"
    } else if head.ends_with("_m") {
        "m"
    } else {
        "1"
    }
}
