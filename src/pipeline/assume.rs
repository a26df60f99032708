//! What the data files say, in the form in which the stages want it.

use crate::kinematics::{Assumptions, Blade, Linkage, Spread};
use crate::models::{Exercise, Models, Parameter, PlaneCurve};

fn spread(parameter: &Parameter) -> Spread {
    Spread {
        value: parameter.value,
        sd: parameter.sd.unwrap_or(0.0),
    }
}

/// Assumptions of the kinematics from the data files, for an exercise that raises the arm in this plane.
pub fn assumptions(models: &Models, aim_plane_deg: f64) -> Assumptions {
    let landmarks = &models.landmarks;
    let metres = |parameter: &Parameter| parameter.value / 1000.0;
    Assumptions {
        shoulder_m: metres(&landmarks.shoulder_sd_mm),
        limb_m: metres(&landmarks.elbow_sd_mm),
        hip_m: metres(&landmarks.hip_sd_mm),
        skin_marker_m: metres(&landmarks.thorax_skin_sd_mm),
        depth_m: metres(&landmarks.world_depth_sd_mm),
        depth_trusted_to_deg: landmarks.guessed_depth_trusted_to_deg.value,
        estimator_angle_deg: landmarks.estimator_angle_sd_deg.value,
        trunk_m: landmarks.trunk_length_m.value,
        shoulder_width: spread(&landmarks.shoulder_width_per_trunk),
        hip_width: spread(&landmarks.hip_width_per_trunk),
        upper_arm: spread(&landmarks.upper_arm_per_trunk),
        forearm: spread(&landmarks.forearm_per_trunk),
        sternal_end: landmarks.sternal_end_per_half_shoulder.value,
        acromion_unseen_m: metres(&landmarks.acromion_unseen_sd_mm),
        focal: spread(&landmarks.focal_per_long_side),
        distance_m: spread(&landmarks.phone_distance_m),
        unseen_lean_sd_deg: landmarks.camera_pitch_sd_deg.value,
        stated_view_sd_deg: landmarks.declared_view_yaw_sd_deg.value,
        blade: blade(models, aim_plane_deg),
    }
}

/// What points on the blade do not show by themselves.
fn blade(models: &Models, aim_plane_deg: f64) -> Blade {
    let landmarks = &models.landmarks;
    let scaption = models.linkage.scaption_plane_deg.value;
    let at = |curve: &PlaneCurve| {
        let (value, sd) = curve.at(aim_plane_deg.clamp(0.0, 90.0), scaption);
        Spread { value, sd }
    };
    Blade {
        internal_rotation_deg: at(&models.linkage.internal_rotation_at_30_deg),
        internal_rotation_per_elevation: at(&models.linkage.internal_rotation_per_elevation),
        // Points are put on with the arm hanging; the error was published for the raised arm.
        skin_per_elevation: Spread {
            value: 0.0,
            sd: landmarks.scapula_skin_angle_sd_deg.value
                / landmarks.scapula_skin_trusted_to_deg.value,
        },
        dot_m: landmarks.scapula_skin_sd_mm.value / 1000.0,
    }
}

/// The linkage of the rhythm by proxy in the exercise's plane.
pub fn linkage(models: &Models, aim_plane_deg: f64) -> Linkage {
    let scaption = models.linkage.scaption_plane_deg.value;
    let (value, sd) = models
        .linkage
        .clavicle_rise_per_upward_rotation
        .at(aim_plane_deg.clamp(0.0, 90.0), scaption);
    Linkage {
        rise_per_rotation: Spread { value, sd },
        calibrated: false,
        window_sd: models.linkage.window_sd_of_whole.value,
        trusted_to_deg: models.landmarks.scapula_skin_trusted_to_deg.value,
    }
}

/// Plane in which the exercise raises the arm; presses and rows work in front of the body.
pub(super) fn aim_plane_deg(exercise: &Exercise) -> f64 {
    exercise.plane.as_ref().map_or(60.0, |plane| plane.aim_deg)
}
