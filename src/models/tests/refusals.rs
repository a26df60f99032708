//! A broken copy of each kind of file is refused at its file and key, with a remedy.

use super::*;

const RAISE: &str = "exercises/scapular-raise.toml";

#[test]
fn a_broken_exercise_is_refused_with_its_place() {
    for (from, to, key, word) in [
        (
            "id = \"scapular-raise\"",
            "id = \"scapular-rise\"",
            "id",
            "differs",
        ),
        (
            "id = \"scapular-raise\"",
            "id = \"Scapular Raise\"",
            "id",
            "kebab",
        ),
        (
            "low_deg = -15.0",
            "low_deg = 25.0",
            "limits[0]",
            "not below",
        ),
        ("low_deg = -15.0", "low_deg = nan", "limits[0]", "finite"),
        (
            "low_deg = -15.0",
            "low_s = -15.0",
            "limits[0]",
            "not measured in",
        ),
        ("low_deg = -15.0\n", "", "limits[0].below", "no end"),
        (
            "low_deg = -15.0\n",
            "low_deg = -15.0\nleft_to_plan = [\"low\"]\n",
            "limits[0].left_to_plan",
            "also left",
        ),
        (
            "left_to_plan = [\"high\"]",
            "left_to_plan = [\"top\"]",
            "left_to_plan",
            "unknown variant",
        ),
        (
            "left_to_plan = [\"high\"]\n",
            "",
            "limits[1].above",
            "no end",
        ),
        (
            "low_deg = -15.0",
            "low_degg = -15.0",
            "low_degg",
            "unknown field",
        ),
        (
            "low_deg = -15.0",
            "low_deg = \"-15\"",
            "low_deg",
            "invalid type",
        ),
        (
            "measure = \"plane-deviation\"",
            "measure = \"plane-deviatoin\"",
            "limits[0].measure",
            "no measure",
        ),
        (
            "measure = \"peak-elevation\"",
            "measure = \"plane-deviation\"",
            "limits[1].measure",
            "limited twice",
        ),
        (
            "source = \"henninger-2020\"",
            "source = \"hennigner-2020\"",
            "limits.plane-deviation.source",
            "no source",
        ),
        (
            "code = \"plane-toward-side\"",
            "code = \"plane-sideways\"",
            "limits.plane-deviation.below.code",
            "explained",
        ),
        (
            "code = \"plane-toward-side\"",
            "code = \"Plane side\"",
            "limits[0].below.code",
            "kebab",
        ),
        (
            "code = \"plane-toward-side\"",
            "code = \"wrong-view\"",
            "limits.plane-deviation.below.code",
            "explained",
        ),
        (
            "attempt_excursion_deg = 20.0",
            "attempt_excursion_deg = 40.0",
            "repetition",
            "do not go together",
        ),
        (
            "signal = \"elevation\"",
            "signal = \"height\"",
            "signal",
            "unknown variant",
        ),
        (
            "best = [\"oblique\", \"exercising-side\"]",
            "best = []",
            "views.best",
            "no view",
        ),
        (
            "accepted = []",
            "accepted = [\"oblique\"]",
            "views.accepted",
            "best too",
        ),
        (
            "measure = \"arc-time\"",
            "measure = \"peak-elevation\"",
            "report[2].measure",
            "shown already",
        ),
        ("aim_deg = 35.0", "aim_deg = 350.0", "plane.aim_deg", "180"),
        (
            "title = \"Raise in the scapular plane\"",
            "title = \" \"",
            "title",
            "empty",
        ),
        ("[phases]", "[phases", "line", ""),
    ] {
        refused(RAISE, from, to, key, word);
    }
}

#[test]
fn what_the_trade_does_not_judge_cannot_be_limited() {
    for measure in ["arc-time", "setting-rotation", "rhythm-ratio-raise-30-top"] {
        let to = format!("measure = \"{measure}\"");
        refused(
            RAISE,
            "measure = \"peak-elevation\"",
            &to,
            "limits[1].measure",
            "never judged",
        );
    }
}

#[test]
fn an_exercise_without_key_or_plane_is_refused() {
    let text = ModelFiles::embedded()
        .text(RAISE)
        .expect("shipped")
        .to_owned();
    let no_key = text.replace("key = true\n", "");
    let start = text.find("[plane]").expect("a plane");
    let end = text.find("[views]").expect("views");
    let no_plane = format!("{}{}", &text[..start], &text[end..]);
    for (text, key, word) in [
        (no_key, "limits", "marked key"),
        (no_plane, "plane", "needs the plane"),
    ] {
        let files = ModelFiles::embedded().with(RAISE, &text);
        let ModelErrors(faults) = Models::from_files(&files).expect_err("must be refused");
        let hit = |f: &ModelError| f.file == RAISE && f.key == key && f.problem.contains(word);
        assert!(faults.iter().any(hit), "{faults:#?}");
    }
}

#[test]
fn a_broken_layout_is_refused_with_its_place() {
    let path = "skeletons/body-25.toml";
    for (from, to, key, word) in [
        ("id = \"body-25\"", "id = \"body-52\"", "id", "differs"),
        (
            "\"RElbow\", # 3",
            "\"r_shoulder\", # 3",
            "keypoints[3]",
            "equals",
        ),
        (
            "elbow-right = \"RElbow\"",
            "elbow-right = \"RElbo\"",
            "joints.elbow-right",
            "no keypoint",
        ),
        (
            "elbow-right = ",
            "elbo-right = ",
            "joints.elbo-right",
            "no such joint",
        ),
        (
            "RShoulder = [\"right_shoulder\"",
            "RShoulder = [\"left_elbow\"",
            "aliases",
            "already means",
        ),
        (
            "source = \"openpose-source\"",
            "source = \"somewhere\"",
            "source",
            "no source",
        ),
        ("[aliases]", "[alias]", "alias", "unknown field"),
    ] {
        refused(path, from, to, key, word);
    }
}

#[test]
fn broken_figures_are_refused_with_their_place() {
    for (path, from, to, key, word) in [
        (
            "linkage.toml",
            "unit = \"m\"",
            "unit = \"mm\"",
            "clavicle_length_m.unit",
            "does not fit",
        ),
        (
            "linkage.toml",
            "sd = 0.01\n",
            "sd = -0.01\n",
            "clavicle_length_m.sd",
            "negative",
        ),
        (
            "linkage.toml",
            "sd = 0.01\n",
            "",
            "clavicle_length_m.sd",
            "missing",
        ),
        (
            "linkage.toml",
            "source = \"from-memory\"",
            "source = \"memory\"",
            "clavicle_length_m.source",
            "no source",
        ),
        (
            "linkage.toml",
            "[clavicle_length_m]",
            "[clavicle_length]",
            "",
            "unknown field",
        ),
        (
            "landmarks.toml",
            "value = 8.0",
            "value = inf",
            "shoulder_sd_mm.value",
            "finite",
        ),
        (
            "landmarks.toml",
            "[elbow_sd_mm]",
            "[elbows_sd_mm]",
            "",
            "unknown field",
        ),
        (
            "references.csv",
            ",abduction,30,15.6,",
            ",abduction,30-20,15.6,",
            "line 2",
            "no range",
        ),
        (
            "references.csv",
            ",abduction,30,15.6,",
            ",abduction,30,much,",
            "line 2",
            "invalid",
        ),
        (
            "references.csv",
            ",deg,ludewig-2009,",
            ",deg,ludwig-2009,",
            "line 2",
            "no source",
        ),
        (
            "sources.toml",
            "id = \"winter\"",
            "id = \"drillis-contini\"",
            "source[",
            "twice",
        ),
        (
            "sources.toml",
            "status = \"memory\"",
            "status = \"hearsay\"",
            "status",
            "unknown variant",
        ),
        (
            "notes.toml",
            "code = \"elbow-unseen\"",
            "code = \"shoulder-unseen\"",
            "note[1].code",
            "twice",
        ),
        (
            "notes.toml",
            "code = \"read/empty\"",
            "code = \"read/empty/x\"",
            "code",
            "no code",
        ),
        (
            "notes.toml",
            "kind = \"reason\"",
            "kind = \"excuse\"",
            "kind",
            "unknown variant",
        ),
    ] {
        refused(path, from, to, key, word);
    }
}

#[test]
fn a_folder_replaces_adds_and_refuses() {
    let folder = tempfile::tempdir().expect("a folder");
    let exercises = folder.path().join("exercises");
    std::fs::create_dir(&exercises).expect("made");
    let row = ModelFiles::embedded()
        .text("exercises/row.toml")
        .expect("row")
        .to_owned();
    let changed = row.replace("low_deg = 60.0", "low_deg = 75.0");
    std::fs::write(exercises.join("row.toml"), changed).expect("written");
    let added = row.replace("id = \"row\"", "id = \"band-row\"");
    std::fs::write(exercises.join("band-row.toml"), added).expect("written");
    std::fs::write(folder.path().join("README.md"), "ours").expect("written");
    let models = Models::from_folder(folder.path()).expect("good files");
    assert_eq!(models.exercises.len(), 11);
    let low = |id: &str| {
        models
            .exercise(id)
            .and_then(|e| e.limit("elbow-range"))
            .and_then(|l| l.low)
    };
    assert_eq!((low("row"), low("band-row")), (Some(75.0), Some(60.0)));

    std::fs::write(folder.path().join("limits.toml"), "x = 1").expect("written");
    let ModelErrors(faults) = Models::from_folder(folder.path()).expect_err("unknown file");
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].file, "limits.toml");
    std::fs::remove_file(folder.path().join("limits.toml")).expect("removed");

    std::fs::write(exercises.join("bytes.toml"), [0xff, 0xfe, 0x00]).expect("written");
    let ModelErrors(faults) = Models::from_folder(folder.path()).expect_err("no text");
    assert_eq!(faults[0].file, "exercises/bytes.toml");

    let ModelErrors(faults) =
        Models::from_folder(&folder.path().join("absent")).expect_err("no folder");
    assert!(faults[0].problem.contains("cannot be read"));
}

/// No cut of a shipped file may panic; it loads or is refused with the file's name.
#[test]
fn every_truncation_is_refused_or_loads() {
    let files = ModelFiles::embedded();
    let mut cuts = 0;
    for path in [
        "exercises/row.toml",
        "skeletons/coco-17.toml",
        "landmarks.toml",
    ] {
        let text = files.text(path).expect("shipped").to_owned();
        for end in (0..text.len())
            .step_by(97)
            .filter(|end| text.is_char_boundary(*end))
        {
            if let Err(ModelErrors(faults)) =
                Models::from_files(&files.clone().with(path, &text[..end]))
            {
                assert!(
                    faults.iter().any(|fault| fault.file == path),
                    "{path} at {end}"
                );
            }
            cuts += 1;
        }
    }
    assert!(cuts > 90, "only {cuts} cuts");
}
