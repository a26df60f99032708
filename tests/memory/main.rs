//! Memory of reading a long clip, counted by an allocator of its own, so in a program of its own: kept points
//! grow with the clip, nothing else does.

use peak_alloc::PeakAlloc;
use scaplane::models::Models;
use scaplane::readers::{ReadOptions, open};
use std::fmt::Write as _;
use std::io::Write as _;

#[global_allocator]
static HEAP: PeakAlloc = PeakAlloc;

/// Frames of the shorter and of the longer clip. Their difference leaves out what any clip needs.
const FRAMES: [usize; 2] = [12_000, 36_000];

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
    let list = |scale: [f64; 2]| {
        let mut out = String::from("[");
        for point in 0..33 {
            let [x, y] = at(point);
            let comma = if point == 0 { "" } else { "," };
            write!(
                out,
                "{comma}{{\"x\":{:.7},\"y\":{:.7},\"z\":0.0213457,\"visibility\":0.99871}}",
                (x - 0.5) * scale[0] + if world { 0.0 } else { 0.5 },
                (y - 0.6) * scale[1] + if world { 0.0 } else { 0.6 },
            )
            .expect("text");
        }
        out + "]"
    };
    let picture = list([1.0, 1.0]);
    let stamp = number as f64 * 1000.0 / 30.0;
    match world {
        true => format!(
            "{{\"frame\":{number},\"timestamp_ms\":{stamp:.3},\"landmarks\":{picture},\"worldLandmarks\":{}}}",
            list([1.8, 1.0])
        ),
        false => {
            format!("{{\"frame\":{number},\"timestamp_ms\":{stamp:.3},\"landmarks\":{picture}}}")
        }
    }
}

/// Bytes kept by an opened clip and the most that lived while it was read.
fn reading(frames: usize, world: bool, models: &Models) -> [f64; 2] {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    write!(
        file,
        "{{\"fps\":30,\"width\":1280,\"height\":720,\"frames\":["
    )
    .expect("room");
    for number in 0..frames {
        let comma = if number == 0 { "" } else { "," };
        write!(file, "{comma}{}", frame(number, world)).expect("room");
    }
    write!(file, "]}}").expect("room");
    file.flush().expect("room");
    HEAP.reset_peak_usage();
    let before = HEAP.current_usage();
    let opened = open(file.path(), &ReadOptions::default(), models).expect("it is read");
    assert_eq!(opened.track.frames(), frames);
    let [kept, most] = [HEAP.current_usage(), HEAP.peak_usage()].map(|now| (now - before) as f64);
    drop(opened);
    [kept, most]
}

/// One test, so that nothing else allocates beside it. Limits are those of an hour at 30 frames a second on a
/// phone-sized machine: 650 bytes a frame are 70 MB.
#[test]
fn a_long_clip_is_read_with_flat_memory() {
    let models = Models::embedded().expect("the built-in data are whole");
    for (world, kept_limit, most_limit) in [(false, 450.0, 1000.0), (true, 650.0, 1500.0)] {
        let [short, long] = FRAMES.map(|frames| reading(frames, world, &models));
        let by_frame = |at: usize| (long[at] - short[at]) / (FRAMES[1] - FRAMES[0]) as f64;
        let flat = long[1] - by_frame(1) * FRAMES[1] as f64;
        let dimensions = if world {
            "picture and world"
        } else {
            "picture"
        };
        println!(
            "{dimensions}: {:.0} bytes a frame are kept, {:.0} live at most while it is read, beside {:.1} MB that do not grow",
            by_frame(0),
            by_frame(1),
            flat / 1e6
        );
        assert!(
            by_frame(0) <= kept_limit,
            "{dimensions}: {:.0} kept",
            by_frame(0)
        );
        assert!(
            by_frame(1) <= most_limit,
            "{dimensions}: {:.0} at most",
            by_frame(1)
        );
        assert!(flat < 32e6, "{dimensions}: {flat} bytes beside");
    }
}
