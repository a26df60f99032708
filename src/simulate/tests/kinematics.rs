//! Joint angles to points: worked cases and identities of the ISB conventions.

use std::path::PathBuf;

use nalgebra::{Matrix3, Vector3};

use super::*;

fn near(found: Vector3<f64>, expected: [f64; 3], tolerance: f64) {
    let miss = (found - Vector3::from(expected)).norm();
    assert!(miss < tolerance, "{found:?} is not {expected:?}");
}

#[test]
fn worked_cases_of_the_upper_arm_and_forearm() {
    // plane, elevation, axial, elbow: upper arm, forearm (derived by hand from the Y-X-Y order)
    let cases = [
        ([0.0, 0.0, 0.0, 90.0], [0.0, -1.0, 0.0], [1.0, 0.0, 0.0]),
        ([0.0, 90.0, 0.0, 90.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]),
        ([90.0, 90.0, 0.0, 90.0], [1.0, 0.0, 0.0], [0.0, 0.0, -1.0]),
        ([90.0, 90.0, -90.0, 90.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
        (
            [30.0, 90.0, 0.0, 90.0],
            [0.5, 0.0, 0.866],
            [0.866, 0.0, -0.5],
        ),
        ([0.0, 90.0, -90.0, 90.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]),
        (
            [-90.0, 30.0, 0.0, 90.0],
            [-0.5, -0.866, 0.0],
            [0.0, 0.0, 1.0],
        ),
        (
            [30.0, 45.0, 0.0, 110.0],
            [0.354, -0.707, 0.612],
            [0.693, 0.242, -0.679],
        ),
    ];
    for ([plane_deg, elevation_deg, axial_deg, elbow_flexion_deg], upper, fore) in cases {
        let arm = ArmPose {
            plane_deg,
            elevation_deg,
            axial_deg,
            elbow_flexion_deg,
        };
        let humerus = humerus_rotation(&arm);
        near(-humerus.column(1).into_owned(), upper, 1e-3);
        near(humerus * forearm_in_humerus(elbow_flexion_deg), fore, 1e-3);
    }
}

fn matrix(value: &serde_json::Value) -> Option<Matrix3<f64>> {
    let rows: Vec<Vec<f64>> = serde_json::from_value(value.clone()).ok()?;
    let flat: Vec<f64> = rows.into_iter().flatten().collect();
    (flat.len() == 9).then(|| Matrix3::from_row_slice(&flat))
}

#[test]
fn every_stored_isb_vector_agrees() {
    // the vectors lie beside the folder of open data
    let data = std::env::var_os("SCAPLANE_OPEN_DATA").map(PathBuf::from);
    let data =
        data.unwrap_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/data"));
    let place = data.join("../isb-vectors.json");
    let Ok(text) = std::fs::read(&place) else {
        eprintln!("skipped: {} is absent", place.display());
        return;
    };
    let file: serde_json::Value = serde_json::from_slice(&text).expect("JSON");
    let cases = file["cases"].as_array().expect("cases");
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    let (mut humeri, mut scapulae) = (0, 0);
    for case in cases {
        let angles = &case["expected_thoracohumeral"];
        let arm = ArmPose {
            plane_deg: number(&angles["plane_deg"]),
            elevation_deg: number(&angles["elevation_deg"]),
            axial_deg: number(&angles["axial_deg"]),
            elbow_flexion_deg: number(&case["elbow_flexion_deg"]),
        };
        let expected = matrix(&case["R_thorax_from_humerus"]).expect("a matrix");
        assert!(
            (humerus_rotation(&arm) - expected).norm() < 1e-9,
            "{}",
            case["name"]
        );
        let fore: [f64; 3] =
            serde_json::from_value(case["forearm_dir_thorax"].clone()).expect("a vector");
        let found = humerus_rotation(&arm) * forearm_in_humerus(arm.elbow_flexion_deg);
        near(found, fore, 1e-9);
        humeri += 1;
        if let Some(expected) = matrix(&case["R_thorax_from_scapula"]) {
            let angles = &case["expected_scapulothoracic"];
            let girdle = GirdlePose {
                internal_rotation_deg: number(&angles["protraction_deg"]),
                upward_rotation_deg: number(&angles["upward_rotation_deg"]),
                tilt_deg: number(&angles["posterior_tilt_deg"]),
                ..GirdlePose::default()
            };
            assert!((scapula_rotation(&girdle) - expected).norm() < 1e-9);
            scapulae += 1;
        }
    }
    eprintln!("{humeri} humerus and {scapulae} scapula cases");
    assert!(humeri > 200 && scapulae > 0);
}

/// Columns X, Y, Z of the ISB thorax axes from its four landmarks.
fn thorax_from_landmarks(p: &Points) -> Matrix3<f64> {
    let low = 0.5 * (p[Point::Px] + p[Point::T8]);
    let y = (0.5 * (p[Point::Ij] + p[Point::C7]) - low).normalize();
    let z = (p[Point::Ij] - low)
        .cross(&(p[Point::C7] - low))
        .normalize();
    Matrix3::from_columns(&[y.cross(&z), y, z])
}

/// Columns X, Y, Z of the ISB scapula axes, right side.
fn scapula_from_landmarks(p: &Points) -> Matrix3<f64> {
    let (aa, ts, ai) = (p[Point::RightAa], p[Point::RightTs], p[Point::RightAi]);
    let z = (aa - ts).normalize();
    let x = (aa - ai).cross(&(ts - ai)).normalize();
    let x = if x.dot(&(p[Point::Ij] - aa)) < 0.0 {
        -x
    } else {
        x
    };
    Matrix3::from_columns(&[x, z.cross(&x), z])
}

#[test]
fn landmarks_give_back_the_angles_they_were_made_from() {
    let recipe = Recipe {
        reps: 2,
        yaw_deg: 33.0,
        faults: vec![fault(FaultKind::TrunkLeanSide, &[1], 9.0)],
        ..Recipe::default()
    };
    for frame in &clip(&recipe).truth.frames {
        let p = &frame.points;
        let thorax = thorax_from_landmarks(p);
        let arm = &frame.right;
        // upper arm direction in the thorax
        let d = thorax.transpose() * (p[Point::RightElbow] - p[Point::RightShoulder]).normalize();
        close((-d.y).acos().to_degrees(), arm.elevation_deg, 1e-6);
        close(d.x.atan2(d.z).to_degrees(), arm.plane_deg, 1e-6);
        close(d.z.atan2(-d.y).to_degrees(), arm.elbow_path_deg, 1e-6);
        let fore = (p[Point::RightWrist] - p[Point::RightElbow]).normalize();
        close(
            (thorax * d).dot(&fore).acos().to_degrees(),
            arm.elbow_flexion_deg,
            1e-5,
        );
        // scapula: Y-X-Z angles from the matrix
        let s = thorax.transpose() * scapula_from_landmarks(p);
        close(s[(1, 2)].asin().to_degrees(), arm.upward_rotation_deg, 1e-6);
        close(
            s[(0, 2)].atan2(s[(2, 2)]).to_degrees(),
            arm.internal_rotation_deg,
            1e-6,
        );
        close(s[(1, 0)].atan2(s[(1, 1)]).to_degrees(), arm.tilt_deg, 1e-6);
        // clavicle
        let c = thorax.transpose() * (p[Point::RightAc] - p[Point::RightSc]).normalize();
        close(c.y.asin().to_degrees(), arm.clavicle_elevation_deg, 1e-6);
        close(
            c.x.atan2(c.z).to_degrees(),
            arm.clavicle_protraction_deg,
            1e-6,
        );
        // trunk lean against gravity
        close(
            thorax[(1, 1)].acos().to_degrees(),
            frame.trunk_lean_deg,
            1e-5,
        );
    }
}

#[test]
fn the_hip_and_trunk_lines_give_the_thorax_axes_at_rest() {
    let recipe = plain(Exercise::ScapularRaise);
    let clip = clip(&recipe);
    let p = &clip.truth.frames[0].points;
    let middle = 0.5 * (p[Point::LeftShoulder] + p[Point::RightShoulder]);
    let y = (middle - p[Point::MidHip]).normalize();
    let z = (p[Point::RightHip] - p[Point::LeftHip]).normalize();
    let thorax = thorax_from_landmarks(p);
    close(y.dot(&thorax.column(1)).acos().to_degrees(), 0.0, 0.3);
    close(
        z.dot(&thorax.column(2)).min(1.0).acos().to_degrees(),
        0.0,
        1e-6,
    );
}

#[test]
fn the_left_side_is_the_mirror_of_the_right() {
    let mut recipe = plain(Exercise::OverheadPress);
    recipe.side = Working::Both;
    for frame in &clip(&recipe).truth.frames {
        assert_eq!(frame.left, frame.right);
        for point in Point::ALL {
            let (a, b) = (frame.points[*point], frame.points[point.mirrored()]);
            // facing the camera: the mirror plane is the picture's middle
            assert!((a - Vector3::new(-b.x, b.y, b.z)).norm() < 1e-9);
        }
    }
}

#[test]
fn segments_keep_their_lengths_and_the_body_its_proportions() {
    let clip = clip(&Recipe::default());
    let build = clip.truth.build;
    for frame in &clip.truth.frames {
        let p = &frame.points;
        let length = |a: Point, b: Point| (p[a] - p[b]).norm();
        close(
            length(Point::RightShoulder, Point::RightElbow),
            build.upper_arm_m,
            1e-9,
        );
        close(
            length(Point::RightElbow, Point::RightWrist),
            build.forearm_m,
            1e-9,
        );
        close(length(Point::LeftSc, Point::LeftAc), build.clavicle_m, 1e-9);
        let shoulders = length(Point::LeftShoulder, Point::RightShoulder);
        let share = shoulders / build.height_m;
        assert!((0.17..0.25).contains(&share), "{share}");
    }
}

#[test]
fn yaw_turns_the_person_as_the_axes_say() {
    for (view, x_right, near) in [
        (View::Front, -1.0, None),
        (View::Back, 1.0, None),
        (View::Right, 0.0, Some(Point::RightHip)),
        (View::Left, 0.0, Some(Point::LeftHip)),
    ] {
        let mut recipe = plain(Exercise::FrontalRaise);
        recipe.view = view;
        let clip = clip(&recipe);
        let p = &clip.truth.frames[0].points;
        let hips = p[Point::RightHip] - p[Point::LeftHip];
        close(hips.x / hips.norm(), x_right, 1e-9);
        if let Some(near) = near {
            assert!(p[near].z > p[near.mirrored()].z);
        }
    }
}
