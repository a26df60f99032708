//! The same clips spelled otherwise: what other exporters of the same layouts do with separators, names, order
//! and nesting. Each must read exactly as the simulation's own spelling.

use super::written::check;
use super::{clip, models, read};
use scaplane::body::{Joint, Side};
use scaplane::readers::{ReadOptions, open};
use scaplane::simulate::{Format, Point};
use serde_json::{Value, json};

fn text(format: Format) -> String {
    String::from_utf8(clip().bytes(format).expect("bytes")).expect("text")
}

fn value(format: Format) -> Value {
    serde_json::from_slice(&clip().bytes(format).expect("bytes")).expect("JSON")
}

fn reads_as(format: Format, name: &str, bytes: Vec<u8>) {
    let opened = read(name, bytes, &ReadOptions::default());
    let opened = opened.unwrap_or_else(|fault| panic!("{name}: {fault}"));
    check(format, &opened, name);
}

/// Rows of a comma-separated text without quotes.
fn rows(format: Format) -> Vec<Vec<String>> {
    let text = text(format);
    text.lines()
        .map(|line| line.split(',').map(str::to_string).collect())
        .collect()
}

fn joined(rows: &[Vec<String>], separator: &str, end: &str) -> Vec<u8> {
    let lines: Vec<String> = rows.iter().map(|row| row.join(separator) + end).collect();
    lines.concat().into_bytes()
}

/// A fixed order that is no order: steps through the list by a number prime to its length.
fn shuffled<T: Clone>(list: &[T]) -> Vec<T> {
    let step = [7919, 7907, 7901]
        .into_iter()
        .find(|step| !list.len().is_multiple_of(*step))
        .expect("one is prime to the length");
    (0..list.len())
        .map(|index| list[index * step % list.len()].clone())
        .collect()
}

#[test]
fn tables_of_named_points() {
    let own = rows(Format::Tidy2d);
    let (head, body) = own.split_first().expect("a head");

    let mut windows = vec![
        [
            "frame",
            "timestamp",
            "person",
            "landmark",
            "x",
            "y",
            "confidence",
        ]
        .map(|name| format!("\"{name}\""))
        .to_vec(),
    ];
    windows.extend(body.iter().map(|row| {
        let mut row: Vec<String> = row.iter().map(|cell| cell.replace('.', ",")).collect();
        row[3] = format!("\"{}\"", row[3].to_uppercase());
        row
    }));
    let mut bytes = b"\xef\xbb\xbf".to_vec();
    bytes.extend(joined(&windows, ";", "\r\n"));
    reads_as(
        Format::Tidy2d,
        "semicolons, decimal commas, byte order mark",
        bytes,
    );

    let mut mixed = vec![head.clone()];
    mixed.extend(shuffled(body));
    reads_as(
        Format::Tidy2d,
        "rows in any order",
        joined(&mixed, ",", "\n"),
    );

    let mut milliseconds = vec![vec![
        "timestamp_ms".to_string(),
        "name".into(),
        "x".into(),
        "y".into(),
        "c".into(),
    ]];
    milliseconds.extend(body.iter().map(|row| {
        let time: f64 = row[1].parse().expect("a time");
        let mut cells = vec![format!("{:.3}", 1000.0 * time)];
        cells.extend(row[3..].iter().cloned());
        cells
    }));
    reads_as(
        Format::Tidy2d,
        "milliseconds, no frame column",
        joined(&milliseconds, "\t", "\n"),
    );

    // One row a frame: every point has its columns; a point without a row has empty cells.
    let mut names: Vec<String> = body.iter().map(|row| row[3].clone()).collect();
    names.sort();
    names.dedup();
    let mut wide = vec![vec!["frame".to_string(), "time_s".to_string()]];
    for name in &names {
        wide[0].extend(["x", "y", "score"].map(|part| format!("{name}_{part}")));
    }
    for row in body {
        if wide.last().is_none_or(|last| last[0] != row[0]) {
            let mut line = vec![row[0].clone(), row[1].clone()];
            line.resize(2 + 3 * names.len(), String::new());
            wide.push(line);
        }
        let at = 2 + 3 * names
            .iter()
            .position(|name| *name == row[3])
            .expect("named");
        let last = wide.len() - 1;
        wide[last][at..at + 3].clone_from_slice(&row[4..7]);
    }
    reads_as(Format::Tidy2d, "one row a frame", joined(&wide, ",", "\n"));
}

#[test]
fn tables_of_33_landmarks() {
    let own = rows(Format::Landmarks33Csv);
    let (head, body) = own.split_first().expect("a head");
    let layout = models().skeleton("landmarks-33").unwrap();
    let renamed = |name: &dyn Fn(&str, usize) -> String| {
        let cells = head.iter().map(|cell| {
            let end = cell.trim_start_matches(|c: char| c.is_alphabetic());
            match end.parse::<usize>() {
                Ok(number) => name(&cell[..cell.len() - end.len()], number),
                Err(_) => cell.clone(),
            }
        });
        let mut rows = vec![cells.collect::<Vec<String>>()];
        rows.extend(body.iter().cloned());
        joined(&rows, ",", "\n")
    };
    let from_one = renamed(&|part, number| format!("{part}{}", number + 1));
    reads_as(Format::Landmarks33Csv, "counted from 1", from_one);
    let numbered = renamed(&|part, number| format!("landmark_{number}_{part}"));
    reads_as(Format::Landmarks33Csv, "landmark_0_x", numbered);
    let named = renamed(&|part, number| format!("{}_{part}", layout.keypoints[number]));
    reads_as(Format::Landmarks33Csv, "names", named);
}

#[test]
fn nested_landmarks() {
    let list = value(Format::Landmarks33List);
    let mut snake = list.clone();
    for result in snake.as_array_mut().expect("a list") {
        let fields = result.as_object_mut().expect("an object");
        let stamp = fields["timestamp"].clone();
        // One person, not in a list of people.
        let mut only = |key: &str| fields.remove(key).and_then(|people| people.get(0).cloned());
        let (picture, world) = (only("landmarks"), only("worldLandmarks"));
        *result = json!({ "timestamp_ms": stamp, "pose_landmarks": picture, "pose_world_landmarks": world });
    }
    let bytes = |value: &Value| serde_json::to_vec(value).expect("JSON");
    reads_as(
        Format::Landmarks33List,
        "snake case, one person",
        bytes(&snake),
    );

    let mut bare = value(Format::Landmarks33Object);
    for frame in bare["frames"].as_array_mut().expect("frames") {
        for key in ["landmarks", "world_landmarks"] {
            for point in frame[key].as_array_mut().expect("points") {
                *point = json!([point["x"], point["y"], point["z"], point["visibility"]]);
            }
        }
    }
    reads_as(Format::Landmarks33Object, "points as lists", bytes(&bare));

    let mut mixed = value(Format::Landmarks33Object);
    let frames = mixed["frames"].as_array().expect("frames").clone();
    mixed["frames"] = Value::Array(shuffled(&frames));
    reads_as(
        Format::Landmarks33Object,
        "frames in any order",
        bytes(&mixed),
    );
    // Frames of the same kind under the same key, but of another object, and before the clip's own.
    let own = serde_json::to_string(&value(Format::Landmarks33Object)).expect("JSON");
    let mut others = frames[..20].to_vec();
    for (other, late) in others.iter_mut().zip(frames.iter().rev()) {
        for key in ["landmarks", "world_landmarks"] {
            other[key] = late[key].clone();
        }
    }
    let others = serde_json::to_string(&others).expect("JSON");
    let inner = own.replacen('{', &format!(r#"{{"a": {{"frames": {others}}}, "#), 1);
    reads_as(
        Format::Landmarks33Object,
        "frames of another object",
        inner.into_bytes(),
    );
    let indented = serde_json::to_vec_pretty(&list).expect("JSON");
    reads_as(Format::Landmarks33List, "indented", indented);
}

#[test]
fn detections_in_any_order_and_with_file_names() {
    let list = value(Format::Coco17Results);
    let list = list.as_array().expect("a list");
    let bytes = |list: &[Value]| serde_json::to_vec(list).expect("JSON");
    reads_as(Format::Coco17Results, "any order", bytes(&shuffled(list)));
    let mut named = list.clone();
    for entry in &mut named {
        entry["image_id"] = json!(format!("take2_{}.jpg", entry["image_id"]));
        entry["bbox"] = json!([1.0, 2.0, 3.0, 4.0]);
    }
    reads_as(
        Format::Coco17Results,
        "file names",
        bytes(&shuffled(&named)),
    );
}

#[test]
fn marker_files_of_other_hands() {
    let own = text(Format::Trc);
    let commas = own.replace('\t', ",");
    reads_as(Format::Trc, "commas", commas.into_bytes());
    let frames = clip().frames.len();
    let lying = own
        .replacen(&format!("\t{frames}\t"), "\t9999\t", 1)
        .replace('\n', "\r\n");
    let name = "a wrong number of frames";
    let opened = read(name, lying.into_bytes(), &ReadOptions::default()).expect(name);
    check(Format::Trc, &opened, name);
    assert!(super::has_note(&opened, "read/frame-count"));
    let unitless = own.replacen("\tmm\t", "\t\t", 1);
    let opened = read("no unit", unitless.into_bytes(), &ReadOptions::default()).expect("no unit");
    check(Format::Trc, &opened, "no unit");
    assert!(super::has_note(&opened, "read/units-assumed"));
}

#[test]
fn the_marker_at_the_origin_is_there_and_others_at_zero_are_not() {
    let own = text(Format::Trc);
    let names: Vec<&str> = own.lines().nth(3).expect("names").split('\t').collect();
    let column = |name: &str| names.iter().position(|one| *one == name).expect("a marker");
    let (origin, lost) = (column("ij"), column("left_elbow"));
    // Every marker as seen from `ij`; the left elbow is lost, that is 0, 0, 0, in every third frame.
    let moved = own.lines().enumerate().map(|(line, text)| {
        if text.is_empty() || line < 5 {
            return text.to_string();
        }
        let row: Vec<f64> = text
            .split('\t')
            .map(|cell| cell.parse().expect("a number"))
            .collect();
        let cells = row.iter().enumerate().map(|(at, value)| match at {
            0 | 1 => value.to_string(),
            _ if (lost..lost + 3).contains(&at) && line % 3 == 0 => "0".to_string(),
            _ => format!("{:.3}", value - row[origin + (at - 2) % 3]),
        });
        cells.collect::<Vec<_>>().join("\t")
    });
    let bytes = moved.collect::<Vec<_>>().join("\n").into_bytes();
    let opened = read("origin", bytes, &ReadOptions::default()).expect("it is read");
    assert!(super::has_note(&opened, "read/origin-marker"));
    let (track, markers) = (&opened.track, clip().markers());
    let layer = track.space.as_ref().expect("a space layer");
    let at = |frame, joint| layer.point(frame, track.column(joint).expect("a column"));
    assert_eq!(track.frames(), markers.len());
    for (frame, points) in markers.iter().enumerate() {
        let zero = at(frame, Joint::Incisura).expect("the origin is a point");
        assert!(zero.norm() < 1e-12, "{zero}");
        let elbow = at(frame, Joint::Elbow(Side::Right)).expect("seen");
        let truth = points[Point::RightElbow] - points[Point::Ij];
        assert!((elbow - truth).amax() < 2e-6, "frame {frame}");
        let there = at(frame, Joint::Elbow(Side::Left)).is_some();
        assert_eq!(there, (frame + 6) % 3 != 0, "frame {frame}");
    }
}

#[test]
fn frame_files_are_ordered_by_number_not_by_name() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let written = clip()
        .write(Format::Body25, folder.path(), "long")
        .expect("it is written");
    let short = folder.path().join("short");
    std::fs::create_dir(&short).expect("a folder");
    for index in 0..clip().frames.len() {
        let from = written.join(format!("long_{index:012}_keypoints.json"));
        std::fs::copy(from, short.join(format!("cam2_{index}_keypoints.json"))).expect("a copy");
    }
    std::fs::write(short.join(".DS_Store"), "no keypoints").expect("a file beside");
    let opened = open(&short, &ReadOptions::default(), models());
    check(
        Format::Body25,
        &opened.unwrap_or_else(|fault| panic!("{fault}")),
        "short names",
    );
}
