//! What a file does not say: the picture's size, the rate, and that the picture is a mirror image.

use super::{PAIRS, RATE_HZ, clip, has_note, read, size};
use scaplane::convert::{Target, bytes};
use scaplane::readers::{AxisOrder, ReadOptions};
use scaplane::simulate::{Clip, Format, Keypoint, PerPoint, Person};
use scaplane::track::{Layer, PictureSize, Presence, Timing, Track};
use serde_json::Value;

fn with_size() -> ReadOptions {
    ReadOptions {
        size: Some(size()),
        ..ReadOptions::default()
    }
}

/// The list of results without its world landmarks: shares of a picture whose size is nowhere.
fn picture_only_json() -> Vec<u8> {
    let list = clip().bytes(Format::Landmarks33List).expect("bytes");
    let mut list: Value = serde_json::from_slice(&list).expect("JSON");
    for result in list.as_array_mut().expect("a list") {
        result
            .as_object_mut()
            .expect("an object")
            .remove("worldLandmarks")
            .expect("world");
    }
    serde_json::to_vec(&list).expect("JSON")
}

/// The table without its world columns.
fn picture_only_csv() -> Vec<u8> {
    let table = clip().bytes(Format::Landmarks33Csv).expect("bytes");
    let text = String::from_utf8(table).expect("text");
    let lines = text.lines().map(|line| {
        let cells: Vec<&str> = line.split(',').take(2 + 4 * 33).collect();
        cells.join(",")
    });
    lines.collect::<Vec<_>>().join("\n").into_bytes()
}

#[test]
fn shares_of_a_picture_without_size_are_refused() {
    let files = [
        ("list.json", picture_only_json(), "landmarks33-json"),
        ("wide.csv", picture_only_csv(), "landmarks33-csv"),
    ];
    let whole = clip().bytes(Format::Landmarks33Object).expect("bytes");
    let whole = read("object", whole, &ReadOptions::default()).expect("it states its size");
    for (name, bytes, reader) in files {
        let fault = read(name, bytes.clone(), &ReadOptions::default()).expect_err("no size");
        assert_eq!(fault.code, "read/size-needed", "{name}");
        assert!(fault.remedy.contains("--size"), "{name}: {}", fault.remedy);
        let opened = read(name, bytes.clone(), &with_size()).expect("the size is stated");
        assert_eq!(opened.facts.reader, reader);
        assert!(opened.track.space.is_none() && opened.track.size == Some(size()));
        let same = same_points(&whole.track, &opened.track, |track| track.picture.as_ref());
        assert!(same > 1500, "{name}: {same}");
        // A wrong shape of the picture bends every angle: it must reach the points.
        let narrow = ReadOptions {
            size: Some(PictureSize {
                width: 640.0,
                ..size()
            }),
            ..ReadOptions::default()
        };
        let narrow = read(name, bytes, &narrow)
            .expect("some size is stated")
            .track;
        let width = |track: &Track| {
            let column = track.column(PAIRS[0].1)?;
            Some(track.picture.as_ref()?.flat(0, column)?.x)
        };
        let (full, half) = (width(&opened.track), width(&narrow));
        assert!((full.expect("seen") - 2.0 * half.expect("seen")).abs() < 1e-3);
    }
}

#[test]
fn with_world_coordinates_no_size_is_needed() {
    for format in [Format::Landmarks33List, Format::Landmarks33Csv] {
        let bytes = clip().bytes(format).expect("bytes");
        let without =
            read(format.id(), bytes.clone(), &ReadOptions::default()).expect("it is read");
        assert!(without.track.picture.is_none() && without.track.space.is_some());
        assert!(has_note(&without, "read/picture-left-out"));
        let with = read(format.id(), bytes, &with_size()).expect("it is read");
        assert!(with.track.picture.is_some() && !has_note(&with, "read/picture-left-out"));
        assert!(same_points(&without.track, &with.track, |track| track.space.as_ref()) > 1500);
    }
}

#[test]
fn without_a_rate_seconds_are_not_claimed() {
    let mut without = 0;
    for format in Format::ALL {
        let bytes = clip().bytes(format).expect("bytes");
        let plain = read(format.id(), bytes.clone(), &ReadOptions::default()).expect("it is read");
        let stated = ReadOptions {
            fps: Some(RATE_HZ),
            ..ReadOptions::default()
        };
        let stated = read(format.id(), bytes, &stated).expect("it is read");
        assert!(!has_note(&stated, "read/rate-assumed"), "{}", format.id());
        if plain.facts.stamped || plain.facts.rate_hz.is_some() {
            assert!(plain.track.timeline.knows_seconds());
            assert!(!has_note(&plain, "read/rate-assumed"), "{}", format.id());
            assert!(has_note(&stated, "read/rate-ignored"), "{}", format.id());
            continue;
        }
        without += 1;
        assert_eq!(plain.track.timeline.timing(), Timing::Assumed);
        assert!(!plain.track.timeline.knows_seconds());
        assert!(has_note(&plain, "read/rate-assumed"), "{}", format.id());
        assert_eq!(stated.track.timeline.timing(), Timing::Stated);
        let rate = stated
            .track
            .timeline
            .rate_hz()
            .expect("more than one frame");
        assert!((rate - RATE_HZ).abs() < 1e-6, "{rate}");
    }
    // OpenPose, and both kinds of COCO.
    assert_eq!(without, 3);
}

/// How many of the compared points are the same in two tracks; every one must be.
fn same_points(a: &Track, b: &Track, layer: fn(&Track) -> Option<&Layer>) -> usize {
    let (one, other) = (layer(a).expect("a layer"), layer(b).expect("a layer"));
    assert_eq!(a.frames(), b.frames());
    let mut same = 0;
    for (_, joint) in PAIRS {
        let (x, y) = (
            a.column(joint).expect("there"),
            b.column(joint).expect("there"),
        );
        for frame in 0..a.frames() {
            assert_eq!(
                one.presence(frame, x) == Presence::Seen,
                other.presence(frame, y) == Presence::Seen,
                "{joint:?} in frame {frame}"
            );
            for axis in 0..one.dimensions() {
                let at = [
                    one.coordinate(frame, x, axis),
                    other.coordinate(frame, y, axis),
                ];
                if let [Some(p), Some(q)] = at {
                    assert!((p - q).abs() < 2e-3, "{joint:?} in frame {frame}: {p} {q}");
                    same += usize::from(axis == 0);
                }
            }
        }
    }
    same
}

/// The clip as the front camera's mirror image shows it, and as an estimator that knows no better names it: the
/// person's right arm looks like a left one.
fn in_the_mirror() -> Clip {
    let mut clip = clip().clone();
    let width = f64::from(clip.recipe.width_px);
    for frame in &mut clip.frames {
        for person in &mut frame.people {
            let Person { image, world } = person.clone();
            person.image = PerPoint::make(|point| {
                let seen = image[point.mirrored()];
                Keypoint {
                    x: width - seen.x,
                    ..seen
                }
            });
            person.world = PerPoint::make(|point| {
                let mut at = world[point.mirrored()];
                at.x = -at.x;
                at
            });
        }
    }
    clip
}

#[test]
fn a_mirror_image_is_turned_back() {
    let (straight, turned) = (clip(), in_the_mirror());
    let mirrored = ReadOptions {
        mirrored: true,
        ..with_size()
    };
    let mut layers = 0;
    for format in Format::ALL {
        if matches!(format, Format::Tidy3d | Format::Trc) {
            continue; // measured in space, where there is no mirror
        }
        let own = read(
            format.id(),
            straight.bytes(format).expect("bytes"),
            &with_size(),
        );
        let own = own.expect("it is read").track;
        let image = turned.bytes(format).expect("bytes");
        let back = read(format.id(), image.clone(), &mirrored).expect("it is read");
        assert!(has_note(&back, "read/mirrored"), "{}", format.id());
        assert!(same_points(&own, &back.track, |track| track.picture.as_ref()) > 1500);
        layers += 1;
        if own.space.is_some() {
            assert!(same_points(&own, &back.track, |track| track.space.as_ref()) > 1500);
            layers += 1;
        }
        // Not told that it is one, the reader leaves it as it is: the arms are exchanged.
        let left = read(format.id(), image, &with_size())
            .expect("it is read")
            .track;
        let reach = |track: &Track, side| {
            let column = track
                .column(scaplane::body::Joint::Wrist(side))
                .expect("there");
            let layer = track.picture.as_ref().expect("a picture");
            let heights =
                (0..track.frames()).filter_map(|frame| layer.coordinate(frame, column, 1));
            heights.fold(f64::NEG_INFINITY, f64::max)
        };
        use scaplane::body::Side::{Left, Right};
        assert!(
            reach(&own, Right) > reach(&own, Left) + 100.0,
            "the right arm is raised"
        );
        assert!((reach(&left, Left) - reach(&own, Right)).abs() < 0.01);
    }
    println!("{layers} layers turned back");
    assert_eq!(layers, 7 + 3);
}

#[test]
fn an_option_that_the_format_makes_no_use_of_is_refused() {
    let yx = ReadOptions {
        axis_order: Some(AxisOrder::Yx),
        ..ReadOptions::default()
    };
    let mapped = ReadOptions {
        map: vec![("shoulder-left".into(), "shoulder-right".into())],
        ..ReadOptions::default()
    };
    let whole = clip().bytes(Format::Landmarks33Object).expect("bytes");
    let track = read("object", whole.clone(), &ReadOptions::default()).expect("it is read");
    let native = bytes(&track.track, Target::Native).expect("bytes");
    for (name, file, options, option) in [
        ("object", whole, yx, "--axis-order"),
        ("native", native, mapped, "--map"),
    ] {
        let fault = read(name, file, &options).expect_err("it would be ignored");
        assert_eq!((fault.code, fault.exit_status()), ("usage/bad-value", 2));
        assert!(
            fault.what.contains(option) && fault.remedy.contains(option),
            "{fault}"
        );
    }
}
