//! Memory of a long clip, counted by an allocator of its own, so in a program of its own: frames and points lie in a file,
//! what grows with the clip are its times, its angles and its repetitions.

use peak_alloc::PeakAlloc;
use scaplane::models::Models;
use scaplane::pipeline::{Ask, Provenance, review};
use scaplane::readers::{ReadOptions, open};
use std::fmt::Write as _;
use std::io::Write as _;

#[global_allocator]
static HEAP: PeakAlloc = PeakAlloc;

/// Frames of the shorter and of the longer clip. Their difference leaves out what any clip needs.
const FRAMES: [usize; 2] = [18_000, 36_000];

/// One frame with 33 landmarks; the right arm goes up and down every five seconds.
fn frame(number: usize, world: bool) -> String {
    let lift = (60.0 - 60.0 * (number as f64 / 150.0 * std::f64::consts::TAU).cos()).to_radians();
    let at = |point: usize| match point {
        0 => [0.5, 0.2],
        11 => [0.55, 0.3],
        12 => [0.45, 0.3],
        13 => [0.56, 0.45],
        14 => [0.45 - 0.1 * lift.sin(), 0.3 + 0.15 * lift.cos()],
        15 => [0.56, 0.6],
        16 => [0.45 - 0.2 * lift.sin(), 0.3 + 0.3 * lift.cos()],
        23 => [0.53, 0.6],
        24 => [0.47, 0.6],
        _ => [0.5 + 0.002 * point as f64, 0.1 + 0.02 * point as f64],
    };
    let list = |scale: [f64; 2], middle: [f64; 2]| {
        let mut out = String::from("[");
        for point in 0..33 {
            let [x, y] = at(point);
            let comma = if point == 0 { "" } else { "," };
            write!(
                out,
                "{comma}{{\"x\":{:.7},\"y\":{:.7},\"z\":0.0213457,\"visibility\":0.99871}}",
                (x - 0.5) * scale[0] + middle[0],
                (y - 0.6) * scale[1] + middle[1],
            )
            .expect("text");
        }
        out + "]"
    };
    let picture = list([1.0, 1.0], [0.5, 0.6]);
    let stamp = number as f64 * 1000.0 / 30.0;
    match world {
        true => format!(
            "{{\"frame\":{number},\"timestamp_ms\":{stamp:.3},\"landmarks\":{picture},\"worldLandmarks\":{}}}",
            list([1.8, 1.0], [0.0, 0.0])
        ),
        false => {
            format!("{{\"frame\":{number},\"timestamp_ms\":{stamp:.3},\"landmarks\":{picture}}}")
        }
    }
}

/// A clip of so many frames in a file.
fn clip(frames: usize, world: bool) -> tempfile::NamedTempFile {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    let mut out = std::io::BufWriter::new(&mut file);
    write!(
        out,
        "{{\"fps\":30,\"width\":1280,\"height\":720,\"frames\":["
    )
    .expect("room");
    for number in 0..frames {
        let comma = if number == 0 { "" } else { "," };
        write!(out, "{comma}{}", frame(number, world)).expect("room");
    }
    write!(out, "]}}").expect("room");
    out.flush().expect("room");
    drop(out);
    file
}

/// Bytes that lived at most while a clip was read, that an opened clip keeps, and that lived at most while it was reviewed.
fn memory(frames: usize, world: bool, models: &Models) -> [f64; 3] {
    let file = clip(frames, world);
    let exercise = models.exercise("scapular-raise").expect("it is built in");
    HEAP.reset_peak_usage();
    let before = HEAP.current_usage();
    let since = |now: usize| now.saturating_sub(before) as f64;
    let opened = open(file.path(), &ReadOptions::default(), models).expect("it is read");
    assert_eq!(opened.track.frames(), frames);
    let (reading, kept) = (since(HEAP.peak_usage()), since(HEAP.current_usage()));
    HEAP.reset_peak_usage();
    let ask = Ask {
        numbers_only: true,
        ..Ask::default()
    };
    let provenance = Provenance {
        source: "clip".into(),
        sha256: opened.sha256,
        reader: opened.facts.reader.into(),
        notes: opened.notes,
    };
    let review = review(opened.track, &provenance, exercise, models, &ask);
    // Every five seconds the arm goes up and down, but for those at the ends.
    assert!(
        review.session.reps.len() + 2 > frames / 150,
        "{}",
        review.session.reps.len()
    );
    [reading, kept, since(HEAP.peak_usage())]
}

/// One test, so that nothing else allocates beside it. Of an hour at 30 frames a second, 108 000 frames, 100 bytes a frame
/// are 11 MB.
#[test]
fn a_long_clip_takes_hardly_more_memory_than_a_short_one() {
    let models = Models::embedded().expect("the built-in data are whole");
    for (world, limits) in [(false, [150.0, 50.0, 400.0]), (true, [150.0, 50.0, 400.0])] {
        let [short, long] = FRAMES.map(|frames| memory(frames, world, &models));
        let dimensions = if world {
            "picture and world"
        } else {
            "picture"
        };
        let stages = ["read", "kept", "reviewed"];
        for (stage, ((short, long), limit)) in stages.iter().zip(short.iter().zip(long).zip(limits))
        {
            let by_frame = (long - short) / (FRAMES[1] - FRAMES[0]) as f64;
            let beside = long - by_frame * FRAMES[1] as f64;
            println!(
                "{dimensions}, {stage}: {by_frame:.0} bytes a frame beside {:.1} MB that do not grow",
                beside / 1e6
            );
            assert!(
                by_frame <= limit,
                "{dimensions}, {stage}: {by_frame} bytes a frame"
            );
            assert!(
                beside < 40e6,
                "{dimensions}, {stage}: {beside} bytes beside"
            );
        }
    }
}
