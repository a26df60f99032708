//! All test vectors of the ISB recommendation (Wu et al. 2005, J Biomech 38:981-992): thoracohumeral and
//! scapulothoracic angles of the right side, and of the left side by mirroring the points.

use crate::support::beside_open_data;
use nalgebra::{Matrix3, Vector3};
use scaplane::body::Side;
use scaplane::geom::{wrap_180, y_x_y_deg, y_x_z_deg};
use scaplane::kinematics::{Posture, Signal, TrunkAxes, angles, humerus_axes};
use serde_json::Value;

const TOLERANCE_DEG: f64 = 1e-6;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn vector(value: &Value) -> Vector3<f64> {
    Vector3::new(number(&value[0]), number(&value[1]), number(&value[2]))
}

fn matrix(value: &Value) -> Matrix3<f64> {
    Matrix3::from_fn(|row, column| number(&value[row][column]))
}

fn close(found: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        wrap_180(found - wanted).abs() < tolerance,
        "{what}: {found} for {wanted}"
    );
}

#[test]
fn every_vector_comes_back() {
    let Some(text) = beside_open_data("isb-vectors.json") else {
        return;
    };
    let file: Value = serde_json::from_str(&text).expect("JSON");
    let cases = file["cases"].as_array().expect("cases");
    let mut away_from_poles = 0;
    for case in cases {
        let name = case["name"].as_str().unwrap_or("");
        let humerus = &case["expected_thoracohumeral"];
        let scapula = &case["expected_scapulothoracic"];
        let elevation = number(&humerus["elevation_deg"]);

        let [plane, found, axial] = y_x_y_deg(&matrix(&case["R_thorax_from_humerus"]));
        // The matrices are printed to 12 digits: at a pole a rounding of 1e-12 is a large angle.
        close(found, elevation, 1e-4, name);
        let sin = elevation.to_radians().sin();
        if sin > 1e-3 {
            let tolerance = TOLERANCE_DEG / sin;
            close(plane, number(&humerus["plane_deg"]), tolerance, name);
            close(axial, number(&humerus["axial_deg"]), tolerance, name);
        }
        let [protraction, upward, tilt] = y_x_z_deg(&matrix(&case["R_thorax_from_scapula"]));
        close(
            protraction,
            number(&scapula["protraction_deg"]),
            TOLERANCE_DEG,
            name,
        );
        close(
            upward,
            number(&scapula["upward_rotation_deg"]),
            TOLERANCE_DEG,
            name,
        );
        close(
            tilt,
            number(&scapula["posterior_tilt_deg"]),
            TOLERANCE_DEG,
            name,
        );

        // Through the points (printed to 9 digits of a metre) and the program's own posture, both sides.
        let points = &case["points_m_thorax"];
        let [gh, elbow, wrist] = ["GH", "EJC", "WJC"].map(|point| vector(&points[point]));
        for side in Side::BOTH {
            let mirror = |v: Vector3<f64>| match side {
                Side::Right => v,
                Side::Left => Vector3::new(v.x, v.y, -v.z),
            };
            let posture = Posture {
                trunk: TrunkAxes(Matrix3::identity()),
                upper_arm: Some(mirror(elbow - gh)),
                forearm: Some(mirror(wrist - elbow)),
                collar: None,
                blade: None,
                vertical: Vector3::y(),
                facing: None,
            };
            let found = angles(&posture, side);
            let at = |signal: Signal| found[signal.index()].expect("measured");
            close(at(Signal::Elevation), elevation, 1e-5, name);
            close(
                at(Signal::ElbowFlexion),
                number(&case["elbow_flexion_deg"]),
                1e-4,
                name,
            );
            if (20.0..=160.0).contains(&elevation) {
                close(at(Signal::Plane), number(&humerus["plane_deg"]), 1e-5, name);
            }
            let bent = (30.0..=150.0).contains(&number(&case["elbow_flexion_deg"]));
            if bent && (30.0..=160.0).contains(&elevation) {
                close(
                    at(Signal::HumeralRotation),
                    number(&humerus["axial_deg"]),
                    1e-4,
                    name,
                );
            }
            if bent && elevation < 20.0 {
                // At a pole the sum is what is defined.
                let sum = number(&case["sum_plane_plus_axial_deg"]);
                close(at(Signal::HumeralRotation), sum, 1e-3, name);
            }
        }
        if (20.0..=160.0).contains(&elevation) {
            away_from_poles += 1;
            let axes = humerus_axes(
                vector(&case["upper_arm_dir_thorax"]),
                vector(&case["forearm_dir_thorax"]),
            );
            let rotation = axes.expect("a bent elbow");
            if number(&case["elbow_flexion_deg"]) > 5.0 {
                let [_, found, axial] = y_x_y_deg(&rotation);
                close(found, elevation, TOLERANCE_DEG, name);
                close(axial, number(&humerus["axial_deg"]), 1e-4, name);
            }
        }
    }
    println!(
        "{} ISB vectors, {away_from_poles} of them away from the poles",
        cases.len()
    );
    assert_eq!(cases.len(), 297);
    assert!(away_from_poles > 150);
}
