//! Reading what `convert` wrote gives the same track, to the digits that were printed.

use super::{clip, models, recipe};
use scaplane::body::Joint;
use scaplane::convert::{Target, bytes, write};
use scaplane::readers::{Opened, ReadOptions, open};
use scaplane::simulate::{Format, simulate};
use scaplane::track::{DepthKind, Layer, Presence, Track};

/// Half of the last digit printed, with the single precision of what is read: pixels and metres.
const PIXEL: f64 = 0.0005 + 1.3e-4;
const METRE: f64 = 0.5e-5 + 1e-6;
const SCORE: f64 = 0.5e-4 + 1e-6;

fn read(name: &str, bytes: Vec<u8>) -> Opened {
    super::read(name, bytes, &ReadOptions::default())
        .unwrap_or_else(|fault| panic!("{name}: {fault}"))
}

fn layers(track: &Track, target: Target) -> Vec<(Option<&Layer>, f64)> {
    let (picture, space) = (
        (track.picture.as_ref(), PIXEL),
        (track.space.as_ref(), METRE),
    );
    match target {
        Target::Tidy2d => vec![picture],
        Target::Tidy3d => vec![space],
        Target::Native => vec![picture, space],
    }
}

/// Compares a layer, joint by joint; how many points were the same.
fn same_layer(a: (&Track, &Layer), b: (&Track, &Layer), limit: f64, name: &str) -> usize {
    let mut same = 0;
    let joints: std::collections::BTreeSet<Joint> =
        a.0.joints.iter().chain(&b.0.joints).copied().collect();
    for joint in joints {
        let columns = (a.0.column(joint), b.0.column(joint));
        for frame in 0..a.0.frames() {
            let seen = |layer: &Layer, column: Option<usize>| {
                column.is_some_and(|column| layer.presence(frame, column) == Presence::Seen)
            };
            let (there, again) = (seen(a.1, columns.0), seen(b.1, columns.1));
            // The middle of the hips is made from both where it is not there.
            if joint == Joint::MidHip && !there {
                continue;
            }
            assert_eq!(there, again, "{name}: {joint:?} in frame {frame}");
            let (Some(old), Some(new), true) = (columns.0, columns.1, there) else {
                continue;
            };
            for axis in 0..a.1.dimensions() {
                let at = [
                    a.1.coordinate(frame, old, axis),
                    b.1.coordinate(frame, new, axis),
                ];
                let [Some(x), Some(y)] = at else {
                    panic!("{name}: seen without a place")
                };
                assert!(
                    (x - y).abs() <= limit,
                    "{name}: {joint:?} in frame {frame}: {x} {y}"
                );
            }
            let scores =
                [a.1.score(frame, old), b.1.score(frame, new)].map(Option::unwrap_or_default);
            assert!(
                (scores[0] - scores[1]).abs() <= SCORE,
                "{name}: {joint:?} {scores:?}"
            );
            same += 1;
        }
    }
    same
}

fn same_track(a: &Track, b: &Track, target: Target, name: &str) -> usize {
    assert_eq!(a.frames(), b.frames(), "{name}");
    // A table holds times, not where they came from.
    if target == Target::Native || !a.timeline.knows_seconds() {
        assert_eq!(a.timeline.timing(), b.timeline.timing(), "{name}");
    } else {
        assert!(b.timeline.knows_seconds(), "{name}");
    }
    assert_eq!(a.person, b.person, "{name}");
    for frame in 0..a.frames() {
        assert_eq!(a.timeline.number(frame), b.timeline.number(frame), "{name}");
        let times =
            [a.timeline.time_s(frame), b.timeline.time_s(frame)].map(Option::unwrap_or_default);
        assert!(
            (times[0] - times[1]).abs() <= 1.1e-6,
            "{name}: frame {frame} {times:?}"
        );
    }
    if target != Target::Tidy3d {
        assert_eq!(a.size, b.size, "{name}");
    }
    if target == Target::Native {
        assert_eq!((&a.joints, &a.layout), (&b.joints, &b.layout), "{name}");
    }
    if target == Target::Tidy2d {
        assert_eq!(b.depth, DepthKind::None, "{name}");
    } else {
        assert_eq!(a.depth, b.depth, "{name}");
    }
    let (old, new) = (layers(a, target), layers(b, target));
    old.iter()
        .zip(&new)
        .map(|((old, limit), (new, _))| match (old, new) {
            (Some(old), Some(new)) => same_layer((a, old), (b, new), *limit, name),
            (None, None) => 0,
            _ => panic!("{name}: a layer came or went"),
        })
        .sum()
}

/// Reads, writes, reads; and writes once more, which must give the same bytes.
fn round(track: &Track, target: Target, name: &str) -> usize {
    let written = bytes(track, target).unwrap_or_else(|fault| panic!("{name}: {fault}"));
    let again = read(name, written.clone());
    let same = same_track(track, &again.track, target, name);
    let twice = bytes(&again.track, target).unwrap_or_else(|fault| panic!("{name}: {fault}"));
    if again.track.joints.len() > track.joints.len() {
        // The middle of the hips has come; from here on nothing changes.
        let third = read(name, twice.clone()).track;
        let thrice = bytes(&third, target).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert!(
            twice == thrice,
            "{name}: written three times, the bytes differ"
        );
    } else {
        assert!(written == twice, "{name}: written twice, the bytes differ");
    }
    same
}

#[test]
fn reading_what_was_written_is_the_identity() {
    let (mut rounds, mut points) = (0, 0);
    for format in Format::ALL {
        let track = read(format.id(), clip().bytes(format).expect("bytes")).track;
        for target in Target::ALL {
            let name = format!("{} -> {}", format.id(), target.id());
            let has = layers(&track, target)
                .iter()
                .any(|(layer, _)| layer.is_some());
            if !has {
                let fault = bytes(&track, target).expect_err("there is no such layer");
                assert_eq!(
                    (fault.code, fault.exit_status()),
                    ("usage/bad-value", 2),
                    "{name}"
                );
                continue;
            }
            let same = round(&track, target, &name);
            assert!(same > 2000, "{name}: only {same} points");
            (rounds, points) = (rounds + 1, points + same);
        }
    }
    println!("{rounds} conversions, {points} points the same");
    // Native from all nine; pictures from five that have them or the size they need, world from five.
    assert_eq!(rounds, 9 + 5 + 5);
}

#[test]
fn the_exports_of_other_programs_survive() {
    let (mut rounds, mut points) = (0, 0);
    for case in super::exports::cases() {
        let track = case.open().expect("exports are read").track;
        for target in Target::ALL {
            let name = format!("{} -> {}", case.name(), target.id());
            if layers(&track, target)
                .iter()
                .all(|(layer, _)| layer.is_none())
            {
                continue;
            }
            points += round(&track, target, &name);
            rounds += 1;
        }
    }
    println!("{rounds} conversions, {points} points the same");
    assert!(rounds > 2 * 100 && points > 10_000, "{rounds} {points}");
}

#[test]
fn a_stated_rate_and_a_mirrored_picture_survive() {
    let stated = |fps: Option<f64>, mirrored: bool| ReadOptions {
        fps,
        mirrored,
        size: Some(super::size()),
        ..ReadOptions::default()
    };
    let mut rounds = 0;
    for fps in [None, Some(29.97), Some(240.0)] {
        for mirrored in [false, true] {
            let list = clip().bytes(Format::Coco17Results).expect("bytes");
            let track = super::read("coco", list, &stated(fps, mirrored))
                .expect("it is read")
                .track;
            let name = format!("{fps:?} mirrored {mirrored}");
            assert!(round(&track, Target::Native, &name) > 2000);
            rounds += 1;
        }
    }
    assert_eq!(rounds, 6);
}

#[test]
fn dropped_frames_and_two_people_survive() {
    let mut recipe = recipe();
    (recipe.noise.dropped, recipe.extras.passer_by) = (0.1, true);
    let clip = simulate(&recipe).expect("the recipe can be made");
    for format in [Format::Tidy2d, Format::Body25, Format::Coco17Annotations] {
        let track = read(format.id(), clip.bytes(format).expect("bytes")).track;
        for target in [Target::Tidy2d, Target::Native] {
            let name = format!("{} -> {}", format.id(), target.id());
            assert!(round(&track, target, &name) > 2000, "{name}");
        }
    }
}

#[test]
fn a_file_is_written_whole_and_nothing_is_left_beside_it() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let track = read(
        "clip",
        clip().bytes(Format::Landmarks33Object).expect("bytes"),
    )
    .track;
    for target in Target::ALL {
        let path = folder
            .path()
            .join(format!("{}.{}", target.id(), target.extension()));
        std::fs::write(&path, "an older file").expect("it is written");
        write(&track, target, &path).unwrap_or_else(|fault| panic!("{fault}"));
        let opened = open(&path, &ReadOptions::default(), models());
        let opened = opened.unwrap_or_else(|fault| panic!("{fault}"));
        assert!(same_track(&track, &opened.track, target, target.id()) > 2000);
    }
    let files = std::fs::read_dir(folder.path())
        .expect("the folder")
        .count();
    assert_eq!(files, Target::ALL.len());
    let nowhere = folder.path().join("not-there").join("track.csv");
    let fault = write(&track, Target::Tidy2d, &nowhere).expect_err("there is no such folder");
    assert_eq!((fault.code, fault.exit_status()), ("write/io", 1));
    assert!(fault.place.file.is_some() && !fault.remedy.is_empty());
}

#[cfg(unix)]
#[test]
fn a_link_is_followed_and_a_pipe_is_written_to() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bytes_of = |target| {
        let track = read(
            "clip",
            clip().bytes(Format::Landmarks33Object).expect("bytes"),
        )
        .track;
        bytes(&track, target).expect("both layers")
    };
    let track = read(
        "clip",
        clip().bytes(Format::Landmarks33Object).expect("bytes"),
    )
    .track;
    let (real, link, pipe) = (
        folder.path().join("real.csv"),
        folder.path().join("link.csv"),
        folder.path().join("pipe"),
    );
    std::fs::write(&real, "an older file").expect("it is written");
    std::os::unix::fs::symlink(&real, &link).expect("a link");
    write(&track, Target::Tidy2d, &link).unwrap_or_else(|fault| panic!("{fault}"));
    assert!(link.symlink_metadata().expect("it is there").is_symlink());
    assert!(std::fs::read(&real).expect("it is read") == bytes_of(Target::Tidy2d));
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.expect("mkfifo runs").success());
    let reader = {
        let pipe = pipe.clone();
        std::thread::spawn(move || std::fs::read(pipe).expect("it is read"))
    };
    write(&track, Target::Tidy2d, &pipe).unwrap_or_else(|fault| panic!("{fault}"));
    assert!(reader.join().expect("no panic") == bytes_of(Target::Tidy2d));
    assert!(
        !pipe.symlink_metadata().expect("it is there").is_file(),
        "it is a pipe still"
    );
}
