//! Every layout that the simulation writes, read back: frames, times, joints, and each point to the precision
//! it was written with. The simulation's writers share nothing with the readers.

use super::{PAIRS, RATE_HZ, clip, gz, models, recipe, size};
use nalgebra::{Vector2, Vector3};
use scaplane::readers::{Degree, Opened, Probe, ReadOptions, Source, open, open_source};
use scaplane::simulate::{Clip, Format, simulate};
use scaplane::track::{DepthKind, Presence, Timing};
use std::path::Path;

/// What a file of a layout must give, told by the layout's own rules.
struct Expected {
    reader: &'static str,
    layout: &'static str,
    /// Half a unit of the last digit written, pixels, with what single precision adds; `None`: no picture.
    picture_px: Option<f64>,
    /// The same for world coordinates in metres.
    space_m: Option<f64>,
    depth: DepthKind,
    timing: Timing,
    /// Whether the file states the picture's size.
    sized: bool,
}

/// Single precision of a coordinate below 2048.
const SINGLE_PX: f64 = 1.3e-4;

fn expected(format: Format) -> Expected {
    let of = |reader, layout| Expected {
        reader,
        layout,
        picture_px: None,
        space_m: None,
        depth: DepthKind::None,
        timing: Timing::Stamped,
        sized: false,
    };
    // Shares with six decimals of a picture 1280 wide.
    let landmarks = |reader, sized: bool| Expected {
        picture_px: sized.then_some(0.5e-6 * 1280.0 + SINGLE_PX),
        space_m: Some(0.6e-6),
        depth: DepthKind::Guessed,
        sized,
        ..of(reader, "landmarks-33")
    };
    let coco = |sized: bool| Expected {
        picture_px: Some(0.005 + SINGLE_PX),
        timing: Timing::Assumed,
        sized,
        ..of("coco-json", "coco-17")
    };
    let markers = |reader| Expected {
        space_m: Some(1e-6),
        depth: DepthKind::Measured,
        ..of(reader, "tidy")
    };
    match format {
        Format::Body25 => Expected {
            picture_px: Some(0.0005 + SINGLE_PX),
            timing: Timing::Assumed,
            ..of("openpose", "body-25")
        },
        Format::Landmarks33Object => landmarks("landmarks33-json", true),
        Format::Landmarks33List => landmarks("landmarks33-json", false),
        Format::Landmarks33Csv => landmarks("landmarks33-csv", false),
        Format::Coco17Results => coco(false),
        Format::Coco17Annotations => coco(true),
        Format::Tidy2d => Expected {
            picture_px: Some(0.0005 + SINGLE_PX),
            ..of("tidy-csv", "tidy")
        },
        Format::Tidy3d => markers("tidy-csv"),
        Format::Trc => markers("trc"),
    }
}

/// Largest differences found, and how many points were compared.
#[derive(Debug, Default)]
pub(super) struct Compared {
    picture: usize,
    picture_px: f64,
    space: usize,
    space_m: f64,
    unseen: usize,
}

fn compare(opened: &Opened, clip: &Clip) -> Compared {
    let (track, mut done) = (&opened.track, Compared::default());
    let markers = clip.markers();
    for (index, frame) in clip.frames.iter().enumerate() {
        let person = frame.person().expect("the person is always there");
        for (point, joint) in PAIRS {
            let column = track.column(joint).expect("every layout has it");
            let keypoint = person.image[point];
            if let Some(layer) = &track.picture {
                let seen = layer.presence(index, column) == Presence::Seen;
                // Between, each format has its own least score.
                assert!(seen || keypoint.score < 0.6, "{point:?} in frame {index}");
                assert!(
                    !(seen && keypoint.score <= 0.0),
                    "{point:?} lost in frame {index}"
                );
                if let Some(at) = layer.flat(index, column) {
                    let middle = track
                        .size
                        .map_or([0.0; 2], |size| [size.width / 2.0, size.height / 2.0]);
                    let truth = Vector2::new(keypoint.x - middle[0], middle[1] - keypoint.y);
                    done.picture_px = done.picture_px.max((at - truth).amax());
                    done.picture += 1;
                } else {
                    done.unseen += 1;
                }
            }
            if let Some(layer) = &track.space {
                let truth = match track.depth {
                    DepthKind::Measured => markers[index][point],
                    _ => {
                        let down = person.world[point];
                        Vector3::new(down.x, -down.y, -down.z)
                    }
                };
                let guessed = track.depth == DepthKind::Guessed;
                let seen = layer.presence(index, column) == Presence::Seen;
                assert!(
                    seen || (guessed && keypoint.score < 0.6),
                    "{point:?} {index}"
                );
                if let Some(at) = layer.point(index, column) {
                    done.space_m = done.space_m.max((at - truth).amax());
                    done.space += 1;
                }
            }
        }
    }
    done
}

pub(super) fn check(format: Format, opened: &Opened, name: &str) -> Compared {
    let (clip, expected, track) = (clip(), expected(format), &opened.track);
    assert_eq!(opened.facts.reader, expected.reader, "{name}");
    assert_eq!(opened.facts.layout, expected.layout, "{name}");
    assert_eq!(track.frames(), clip.frames.len(), "{name}");
    assert_eq!(track.timeline.timing(), expected.timing, "{name}");
    assert_eq!(track.depth, expected.depth, "{name}");
    assert_eq!(track.size, expected.sized.then(size), "{name}");
    assert_eq!(
        track.picture.is_some(),
        expected.picture_px.is_some(),
        "{name}"
    );
    assert_eq!(track.space.is_some(), expected.space_m.is_some(), "{name}");
    assert_eq!(opened.facts.people.len(), 1, "{name}");
    assert_eq!(opened.facts.frames_with_people, clip.frames.len(), "{name}");
    let first = clip.frames[0].time_s;
    for (index, frame) in clip.frames.iter().enumerate() {
        let time = track
            .timeline
            .time_s(index)
            .expect("as many times as frames");
        let truth = match expected.timing {
            Timing::Stamped => frame.time_s - first,
            _ => index as f64 / 30.0,
        };
        assert!(
            (time - truth).abs() < 2e-6,
            "{name}: frame {index} {time} {truth}"
        );
    }
    let done = compare(opened, clip);
    let all = PAIRS.len() * clip.frames.len();
    if let Some(px) = expected.picture_px {
        assert!(done.picture_px <= px, "{name}: {done:?}");
        assert!(done.picture * 100 > all * 85, "{name}: {done:?} of {all}");
        assert!(
            done.unseen > 0,
            "{name}: points were lost, yet all are seen"
        );
    }
    if let Some(m) = expected.space_m {
        assert!(done.space_m <= m, "{name}: {done:?}");
        assert!(done.space * 100 > all * 85, "{name}: {done:?} of {all}");
    }
    done
}

#[test]
fn every_written_layout_is_read_back() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut read = 0;
    for format in Format::ALL {
        let path = clip()
            .write(format, folder.path(), format.id())
            .expect("it is written");
        let opened = open(&path, &ReadOptions::default(), models())
            .unwrap_or_else(|fault| panic!("{}: {fault}", format.id()));
        let done = check(format, &opened, format.id());
        println!("{}: {done:?}", format.id());
        let list = super::read(
            "bytes",
            clip().bytes(format).expect("bytes"),
            &ReadOptions::default(),
        );
        check(
            format,
            &list.expect("bytes are read"),
            &format!("{} in memory", format.id()),
        );
        read += 1;
    }
    println!(
        "{read} layouts, {} frames at {RATE_HZ} Hz",
        clip().frames.len()
    );
    assert_eq!(read, 9);
}

fn pack(from: &Path, to: &Path) {
    std::fs::write(to, gz(&std::fs::read(from).expect("it is there"))).expect("it is written");
}

#[test]
fn packed_files_are_read_the_same() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for format in Format::ALL {
        let plain = clip()
            .write(format, folder.path(), format.id())
            .expect("it is written");
        let packed = folder.path().join(format!("{}-packed", format.id()));
        if plain.is_dir() {
            std::fs::create_dir(&packed).expect("a folder");
            for entry in std::fs::read_dir(&plain).expect("the folder") {
                let entry = entry.expect("an entry");
                let name = format!("{}.gz", entry.file_name().to_string_lossy());
                pack(&entry.path(), &packed.join(name));
            }
        } else {
            pack(&plain, &packed);
        }
        let [plain, packed] = [plain, packed].map(|path| {
            open(&path, &ReadOptions::default(), models())
                .unwrap_or_else(|fault| panic!("{}: {fault}", format.id()))
        });
        check(format, &packed, format.id());
        assert_eq!(plain.track.joints, packed.track.joints);
        assert_eq!(plain.notes, packed.notes);
        assert_ne!(
            plain.sha256, packed.sha256,
            "the hash is of the bytes as stored"
        );
    }
}

/// The reader of a source, which must be the only one that is certain.
fn only_certain(source: &Source, name: &str) -> &'static str {
    let probe = Probe::of(source).unwrap_or_else(|fault| panic!("{name}: {fault}"));
    let verdicts = scaplane::readers::verdicts(&probe, models());
    assert_eq!(verdicts.len(), scaplane::readers::READERS.len());
    let certain: Vec<_> = verdicts
        .iter()
        .filter(|verdict| verdict.fit.degree == Degree::Certain)
        .collect();
    assert_eq!(certain.len(), 1, "{name}: {verdicts:?}");
    assert!(
        verdicts
            .iter()
            .all(|verdict| !verdict.fit.reason.is_empty())
    );
    certain[0].id
}

#[test]
fn exactly_one_reader_is_certain() {
    let mut samples = 0;
    for entry in std::fs::read_dir(super::project("sample-keypoints")).expect("the samples") {
        let folder = entry.expect("an entry").path();
        if !folder.is_dir() {
            continue;
        }
        let text = std::fs::read_to_string(folder.join("case.toml")).expect("a case");
        let case: toml::Table = text.parse().expect("TOML");
        let format = case["format"]
            .as_str()
            .and_then(Format::from_id)
            .expect("a layout");
        let track = std::fs::read_dir(&folder)
            .expect("a folder")
            .map(|entry| entry.expect("an entry").path())
            .find(|path| {
                path.file_name()
                    .is_some_and(|n| n.to_string_lossy().starts_with("track"))
            })
            .expect("a track");
        let source = Source::open(&track).expect("it opens");
        let name = track.display().to_string();
        assert_eq!(
            only_certain(&source, &name),
            expected(format).reader,
            "{name}"
        );
        let opened = open_source(&source, &ReadOptions::default(), models());
        let opened = opened.unwrap_or_else(|fault| panic!("{fault}"));
        let side = scaplane::body::Joint::Elbow(scaplane::body::Side::Right);
        assert!(opened.track.frames() > 300, "{name}");
        assert!(opened.track.coverage(side) > 0.9, "{name}");
        samples += 1;
    }
    for format in Format::ALL {
        let bytes = clip().bytes(format).expect("bytes");
        let source = Source::from_bytes(format.id(), bytes);
        assert_eq!(only_certain(&source, format.id()), expected(format).reader);
    }
    println!(
        "{samples} samples and {} written layouts, each certain for one reader",
        Format::ALL.len()
    );
    assert_eq!(samples, 5);
}

#[test]
fn frames_that_were_never_recorded_leave_their_time() {
    let mut recipe = recipe();
    recipe.noise.dropped = 0.15;
    let clip = simulate(&recipe).expect("the recipe can be made");
    let opened = super::read(
        "clip",
        clip.bytes(Format::Tidy2d).expect("bytes"),
        &ReadOptions::default(),
    )
    .expect("it is read");
    let longest = opened
        .track
        .timeline
        .times_s()
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max);
    assert!(longest > 1.8 / RATE_HZ, "no frame was dropped: {longest}");
    let last = clip
        .frames
        .last()
        .map(|frame| frame.time_s - clip.frames[0].time_s);
    assert!((opened.track.timeline.duration_s() - last.unwrap_or_default()).abs() < 2e-6);
    assert_eq!(clip.frames.len(), opened.track.frames());
    assert!(clip.frames.iter().all(|frame| frame.person().is_some()));
}
