//! The written layouts.

use serde_json::Value;

use super::*;

fn noisy() -> Clip {
    clip(&Recipe {
        noise: Noise::typical(),
        reps: 2,
        extras: Extras {
            walk_in: true,
            passer_by: true,
            skin_dots: true,
            ..Extras::default()
        },
        view: View::Back,
        ..Recipe::default()
    })
}

fn parsed(clip: &Clip, format: Format) -> Value {
    serde_json::from_slice(&clip.bytes(format).expect("bytes")).expect("JSON")
}

#[test]
fn frame_files_hold_25_triplets_and_are_numbered_from_zero() {
    let clip = noisy();
    let folder = tempfile::tempdir().expect("a folder");
    let place = clip
        .write(Format::Body25, folder.path(), "press")
        .expect("written");
    let mut names: Vec<String> = std::fs::read_dir(&place)
        .expect("listed")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    names.sort();
    assert_eq!(names.len(), clip.frames.len());
    assert_eq!(names[0], "press_000000000000_keypoints.json");
    let middle = clip.frames.len() / 2;
    let page: Value =
        serde_json::from_slice(&std::fs::read(place.join(&names[middle])).expect("read"))
            .expect("JSON");
    let numbers = page["people"][0]["pose_keypoints_2d"]
        .as_array()
        .expect("numbers");
    assert_eq!(numbers.len(), 75);
    let person = clip.frames[middle].people[0].image[Point::RightShoulder];
    close(numbers[6].as_f64().expect("x"), person.x, 6e-4);
    let list = parsed(&clip, Format::Body25);
    assert_eq!(list.as_array().map(Vec::len), Some(clip.frames.len()));
}

#[test]
fn the_landmark_files_agree_with_each_other() {
    let clip = noisy();
    let object = parsed(&clip, Format::Landmarks33Object);
    let list = parsed(&clip, Format::Landmarks33List);
    assert_eq!(object["width"], 1920);
    let frames = object["frames"].as_array().expect("frames");
    assert_eq!(frames.len(), clip.frames.len());
    let bytes = clip.bytes(Format::Landmarks33Csv).expect("bytes");
    let mut table = csv::Reader::from_reader(bytes.as_slice());
    let head = table.headers().expect("a head").clone();
    assert_eq!(head.len(), 2 + 33 * 7);
    assert_eq!(head.iter().position(|name| name == "wx0"), Some(2 + 33 * 4));
    let mut rows = 0;
    for (index, row) in table.records().enumerate() {
        let row = row.expect("a row");
        rows += 1;
        let landmarks = frames[index]["landmarks"].as_array().expect("landmarks");
        if landmarks.is_empty() {
            assert!(clip.frames[index].person().is_none());
            assert_eq!(&row[2], "");
            assert_eq!(list[index]["landmarks"].as_array().map(Vec::len), Some(0));
            continue;
        }
        assert_eq!(landmarks.len(), 33);
        let x12: f64 = row[2 + 4 * 12].parse().expect("a number");
        close(landmarks[12]["x"].as_f64().expect("x"), x12, 1e-12);
        let in_list = &list[index]["landmarks"][0][12];
        close(in_list["x"].as_f64().expect("x"), x12, 1e-12);
        assert!(in_list["presence"].as_f64().is_some());
        let person = clip.frames[index].person().expect("seen");
        close(x12 * 1920.0, person.image[Point::RightShoulder].x, 2e-3);
    }
    assert_eq!(rows, clip.frames.len());
}

#[test]
fn coco_files_hold_one_entry_a_person() {
    let clip = noisy();
    let people: usize = clip.frames.iter().map(|frame| frame.people.len()).sum();
    assert!(people > clip.frames.len());
    let results = parsed(&clip, Format::Coco17Results);
    let entries = results.as_array().expect("a list");
    assert_eq!(entries.len(), people);
    assert!(
        entries
            .iter()
            .all(|e| e["keypoints"].as_array().map(Vec::len) == Some(51))
    );
    let file = parsed(&clip, Format::Coco17Annotations);
    assert_eq!(
        file["images"].as_array().map(Vec::len),
        Some(clip.frames.len())
    );
    assert_eq!(file["annotations"].as_array().map(Vec::len), Some(people));
    assert_eq!(file["images"][0]["height"], 1080);
    assert_eq!(file["categories"][0]["keypoints"][6], "right_shoulder");
}

#[test]
fn tables_name_their_points_and_keep_their_numbers() {
    let clip = noisy();
    let bytes = clip.bytes(Format::Tidy2d).expect("bytes");
    let mut table = csv::Reader::from_reader(bytes.as_slice());
    let mut dots = 0;
    for row in table.records().map(|row| row.expect("a row")) {
        dots += usize::from(&row[3] == "right_ts");
        assert_eq!(row.len(), 7);
    }
    // seen from behind, the dots are there in most frames
    assert!(dots > clip.frames.len() / 2, "{dots}");
    let bytes = clip.bytes(Format::Tidy3d).expect("bytes");
    let mut table = csv::Reader::from_reader(bytes.as_slice());
    let rows: Vec<csv::StringRecord> = table.records().map(|row| row.expect("a row")).collect();
    let seen = clip
        .frames
        .iter()
        .filter(|frame| frame.person().is_some())
        .count();
    assert_eq!(rows.len(), seen * 41);
    let row = rows.last().expect("rows");
    assert_eq!(&row[2], "right_em");
    let index: usize = row[0].parse().expect("a number");
    let y: f64 = row[4].parse().expect("a number");
    close(y, clip.markers()[index][Point::RightEm].y, 1e-6);
}

#[test]
fn the_marker_table_has_as_many_columns_as_it_says() {
    let clip = noisy();
    let text = String::from_utf8(clip.bytes(Format::Trc).expect("bytes")).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].starts_with("PathFileType\t4"));
    let values: Vec<&str> = lines[2].split('\t').collect();
    assert_eq!(values[2], clip.frames.len().to_string());
    assert_eq!(values[3], "41");
    assert_eq!(lines.len(), 6 + clip.frames.len());
    for line in &lines[6..] {
        assert_eq!(line.split('\t').count(), 2 + 3 * 41);
    }
}

#[test]
fn every_format_gives_bytes_and_has_a_name() {
    let clip = clip(&plain(Exercise::Row));
    for format in Format::ALL {
        assert!(!clip.bytes(format).expect("bytes").is_empty());
        assert_eq!(Format::from_id(format.id()), Some(format));
    }
}

#[test]
fn the_truth_is_written_as_json_at_three_depths() {
    let clip = clip(&plain(Exercise::WallPress));
    let short = clip.truth.json(Detail::Repetitions);
    assert!(short.get("frames").is_none());
    assert_eq!(short["reps"].as_array().map(Vec::len), Some(3));
    assert!(short["reps"][0]["values"]["elbow-path"].is_f64());
    let angles = clip.truth.json(Detail::Angles);
    let frames = angles["frames"].as_array().expect("frames");
    assert_eq!(frames.len(), clip.frames.len());
    assert!(frames[0].get("points_m").is_none());
    let full = clip.truth.json(Detail::Points);
    let names = full["points"].as_array().map(Vec::len);
    assert_eq!(
        full["frames"][0]["points_m"].as_array().map(Vec::len),
        names
    );
}

#[test]
fn a_recipe_survives_being_written_and_read() {
    let recipe = Recipe {
        faults: vec![Fault {
            kind: FaultKind::EarlyHike,
            when: When::Drift {
                from_rep: 2,
                per_rep: 1.5,
            },
            severity: 8.0,
        }],
        curve: Curve::Table {
            raise: vec![(0.0, 1.0), (90.0, 30.0)],
            lower: vec![],
        },
        noise: Noise::typical(),
        ..Recipe::default()
    };
    let text = serde_json::to_string(&recipe).expect("JSON");
    let back: Recipe = serde_json::from_str(&text).expect("a recipe");
    assert_eq!(back, recipe);
    let short: Recipe =
        serde_json::from_str(r#"{"exercise": "row", "seed": 9}"#).expect("a recipe");
    assert_eq!(short.exercise, Exercise::Row);
    assert!(serde_json::from_str::<Recipe>(r#"{"exercize": "row"}"#).is_err());
}
