//! Videos as phones write them: every codec, rotation and rate gives upright pictures at the right times.

use crate::render::{Film, H264};
use opencv::core::{Mat, Vec3b};
use opencv::prelude::*;
use scaplane::media::encode::Encoder;
use scaplane::media::footage::Footage;
use scaplane::track::PictureSize;
use std::path::{Path, PathBuf};
use std::process::Command;

const SIZE: [u32; 2] = [320, 240];

/// A picture whose number is told by the height of a white bar on black, and whose top left corner is red.
fn picture(number: usize) -> Vec<u8> {
    let [width, height] = SIZE.map(|side| side as usize);
    let mut bytes = vec![0_u8; 3 * width * height];
    for (n, pixel) in bytes.chunks_exact_mut(3).enumerate() {
        let (x, y) = (n % width, n / width);
        if x < 40 && y < 40 {
            pixel.copy_from_slice(&[0, 0, 255]);
        } else if x >= 160 && y < 6 * number {
            pixel.copy_from_slice(&[255, 255, 255]);
        }
    }
    bytes
}

fn number_in(mat: &Mat) -> usize {
    let bright = |y: i32| mat.at_2d::<Vec3b>(y, 240).is_ok_and(|pixel| pixel[1] > 128);
    ((0..mat.rows()).filter(|y| bright(*y)).count() as f64 / 6.0).round() as usize
}

fn red_corner(mat: &Mat) -> bool {
    mat.at_2d::<Vec3b>(20, 20)
        .is_ok_and(|pixel| pixel[2] > 150 && pixel[1] < 100)
}

/// Numbers and times of all pictures of a file, and the size.
fn played(path: &Path) -> (Vec<usize>, Vec<f64>, PictureSize) {
    let footage = Footage::open(path).expect("a video");
    let size = footage.size();
    let mut numbers = Vec::new();
    let played = footage
        .play(|picture| {
            assert!(
                red_corner(&picture.mat),
                "picture {} is not upright",
                picture.number
            );
            numbers.push(number_in(&picture.mat));
            Ok(true)
        })
        .expect("it plays");
    let (times, note) = played.times().expect("times");
    assert_eq!(note, None);
    (numbers, times, size)
}

fn even(count: usize) -> Vec<f64> {
    (0..count).map(|n| n as f64 / 30.0).collect()
}

fn near(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 6e-4)
}

#[test]
fn every_codec_gives_all_pictures_in_order() {
    let folder = tempfile::tempdir().expect("a folder");
    let hevc = [
        "-c:v",
        "libx265",
        "-preset",
        "ultrafast",
        "-x265-params",
        "log-level=none",
    ];
    for (name, options) in [
        ("a.mp4", &H264[..]),
        ("b.mp4", &hevc[..]),
        ("c.mov", &H264[..]),
    ] {
        let path = folder.path().join(name);
        let mut film = Film::new(&path, SIZE, "30", options);
        (0..30).for_each(|number| film.add(&picture(number)));
        film.end();
        let (numbers, times, size) = played(&path);
        assert_eq!(numbers, (0..30).collect::<Vec<_>>(), "{name}");
        assert!(near(&times, &even(30)), "{name}: {times:?}");
        assert_eq!([size.width, size.height], SIZE.map(f64::from));
    }
}

#[test]
fn a_phone_held_upright_or_on_its_head_gives_upright_pictures() {
    let folder = tempfile::tempdir().expect("a folder");
    // Stored lying, with the turn in the container, as a phone does. Versions of ffmpeg disagree about the sense of the
    // tag, so that one counts with which ffmpeg itself shows the picture upright.
    for filter in ["transpose=2", "hflip,vflip", "transpose=1"] {
        let stored = folder.path().join("stored.mp4");
        let options = [&H264[..], &["-vf", filter]].concat();
        let mut film = Film::new(&stored, SIZE, "30", &options);
        (0..12).for_each(|number| film.add(&picture(number)));
        film.end();
        let turned = [90, 180, 270].map(|turn| turned(&stored, turn));
        let upright: Vec<&PathBuf> = turned
            .iter()
            .filter(|path| upright_by_ffmpeg(path))
            .collect();
        let [path] = upright.as_slice() else {
            panic!("{filter}: {upright:?}")
        };
        let (numbers, _, size) = played(path);
        assert_eq!(numbers, (0..12).collect::<Vec<_>>(), "{filter}");
        assert_eq!([size.width, size.height], SIZE.map(f64::from), "{filter}");
    }
}

/// A copy with a turn in its container.
fn turned(stored: &Path, turn: u32) -> PathBuf {
    let path = stored.with_file_name(format!("{turn}.mp4"));
    let status = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-i"])
        .arg(stored)
        .args(["-c", "copy", "-metadata:s:v:0", &format!("rotate={turn}")])
        .arg(&path)
        .status();
    assert!(status.is_ok_and(|status| status.success()));
    path
}

/// Whether ffmpeg shows the red corner at the top left.
fn upright_by_ffmpeg(path: &Path) -> bool {
    let corner = Command::new("ffmpeg")
        .args(["-v", "error", "-i"])
        .arg(path)
        .args(["-frames:v", "1", "-vf", "crop=20:20:10:10,scale=1:1"])
        .args(["-f", "rawvideo", "-pix_fmt", "rgb24", "-"])
        .output()
        .expect("ffmpeg");
    matches!(corner.stdout.as_slice(), [r, g, _] if *r > 150 && *g < 100)
}

#[test]
fn a_varying_rate_is_kept_through_writing_and_reading() {
    let folder = tempfile::tempdir().expect("a folder");
    let size = PictureSize {
        width: 320.0,
        height: 240.0,
    };
    let mut times = vec![0.0];
    for n in 0..25 {
        times.push(times[n] + [0.0333, 0.0334, 0.05, 0.0333, 0.2][n % 5]);
    }
    let mut encoder = Encoder::begin(folder.path(), size).expect("ffmpeg");
    for (number, time) in times.iter().enumerate() {
        let bytes = picture(number);
        let flat = Mat::new_rows_cols_with_bytes::<Vec3b>(240, 320, &bytes).expect("a picture");
        encoder.add(&flat, *time).expect("it is taken");
    }
    let path = folder.path().join("vfr.mp4");
    encoder
        .finish()
        .expect("whole")
        .persist(&path)
        .expect("renamed");
    let (numbers, seen, _) = played(&path);
    assert_eq!(numbers, (0..26).collect::<Vec<_>>());
    assert!(near(&seen, &times), "{seen:?}");
    // The other program says the same of the file.
    let told = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-select_streams",
            "v",
            "-show_entries",
            "frame=pts_time:stream=codec_name",
        ])
        .args(["-of", "csv=p=0"])
        .arg(&path)
        .output()
        .expect("ffprobe");
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    let stamps: Vec<f64> = told
        .lines()
        .filter_map(|line| line.trim_end_matches(',').parse().ok())
        .collect();
    assert!(near(&stamps, &times), "{told}");
    assert!(told.contains("h264"));
}

#[test]
fn an_encoder_that_is_given_up_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let size = PictureSize {
        width: 320.0,
        height: 240.0,
    };
    let encoder = Encoder::begin(folder.path(), size).expect("ffmpeg");
    assert_eq!(std::fs::read_dir(folder.path()).expect("a list").count(), 1);
    drop(encoder);
    assert_eq!(std::fs::read_dir(folder.path()).expect("a list").count(), 0);
}

#[test]
fn what_is_no_video_is_refused_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = folder.path().join("notes.mp4");
    std::fs::write(&text, "no video\n").expect("written");
    for path in [text, folder.path().join("absent.mp4")] {
        let fault = Footage::open(&path).err().expect("refused");
        assert_eq!(fault.code, "video/unreadable");
        assert!(
            fault.remedy.len() > 10 && fault.place.file.is_some(),
            "{fault}"
        );
    }
}
