//! Dots followed through rendered clips, against the places where they were painted.
//!
//! `SCAPLANE_DOT_CLIPS=100 cargo test --release --features video --test video dots -- --nocapture` does the full count
//! and prints the figures; by itself the test does a few.

use crate::render::{DOTS, Film, H264, Look, Rendered, render};
use nalgebra::Vector2;
use rayon::prelude::*;
use scaplane::body::Side;
use scaplane::media::{Asked, Dot, LEAST_CONFIDENCE, Stickers, Told, Watch, stickers};
use scaplane::models::Models;
use scaplane::readers::{ReadOptions, open};
use scaplane::simulate::Format;
use scaplane::track::PictureSize;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

static MODELS: LazyLock<Models> = LazyLock::new(|| Models::embedded().expect("shipped models"));

/// Nobody watches.
pub struct Nobody;

impl Watch for Nobody {
    fn begin(&self, _: usize) {}
    fn step(&self) {}
    fn end(&self) {}
    fn is_over(&self) -> bool {
        false
    }
}

/// Renders a clip to `clip.mp4` and what an estimator saw to `track.csv`.
pub fn filmed(look: &Look, folder: &Path, options: &[&str]) -> (Rendered, PathBuf, PathBuf) {
    let video = folder.join("clip.mp4");
    // Sixty ticks a second; a tick without a picture of its own repeats the last and is dropped by ffmpeg.
    let ticks = look.ticks();
    let shown: Vec<String> = ticks.iter().map(|tick| format!("eq(n,{tick})")).collect();
    let select = format!("select='{}'", shown.join("+"));
    let varying = ["-vf", &select, "-fps_mode", "passthrough"];
    let (rate, options) = match look.steps.len() {
        1 => ("30", options.to_vec()),
        _ => ("60", [options, &varying].concat()),
    };
    let mut film = Film::new(&video, look.size, rate, &options);
    let mut number = 0;
    let rendered = render(look, |bytes, _| {
        let repeats = match (look.steps.len(), ticks.get(number + 1)) {
            (1, _) | (_, None) => 1,
            (_, Some(next)) => next - ticks[number],
        };
        (0..repeats).for_each(|_| film.add(bytes));
        number += 1;
    });
    film.end();
    let track = folder.join("track.csv");
    std::fs::write(
        &track,
        rendered.clip.bytes(Format::Tidy2d).expect("a table"),
    )
    .expect("written");
    (rendered, video, track)
}

/// Keeps a clip to be looked at or timed: `SCAPLANE_KEEP=FOLDER`, with `SCAPLANE_DOT_FIRST` as its seed.
#[test]
#[ignore = "writes a clip for scripts/bench-video"]
fn keep_a_clip() {
    let folder =
        PathBuf::from(std::env::var_os("SCAPLANE_KEEP").expect("SCAPLANE_KEEP names a folder"));
    std::fs::create_dir_all(&folder).expect("a folder");
    let look = Look::of_seed(first_seed(), 300);
    filmed(&look, &folder, &H264);
}

fn first_seed() -> u64 {
    let text = std::env::var("SCAPLANE_DOT_FIRST").ok();
    text.and_then(|text| text.parse().ok()).unwrap_or(0)
}

fn named(look: &Look) -> Vec<Dot> {
    DOTS.iter()
        .take(look.dots())
        .filter_map(|(name, _)| Dot::from_name(name, Side::Right))
        .collect()
}

fn told(look: &Look, rendered: &Rendered) -> Told {
    let dots = named(look);
    if look.seed.is_multiple_of(2) {
        // A colour as a person would state it, not quite what the camera sees.
        let stated = look.dot.map(|c| (c * 0.9 + 12.0) as u8);
        Told::Stated(dots.into_iter().map(|dot| (dot, stated)).collect())
    } else {
        // Marked by hand, a pixel or two beside.
        let row = &rendered.dots[6];
        let marks = dots
            .into_iter()
            .zip(row)
            .map(|(dot, (at, _))| (dot, at + Vector2::new(1.5, -1.0)));
        Told::Marked(marks.collect(), rendered.times_s[6])
    }
}

fn followed(look: &Look, rendered: &Rendered, video: &Path, track: &Path) -> Stickers {
    let [width, height] = look.size.map(f64::from);
    let options = ReadOptions {
        size: Some(PictureSize { width, height }),
        ..ReadOptions::default()
    };
    let models = MODELS.clone().with_every_joint();
    let opened = open(track, &options, &models).expect("a track");
    let asked = Asked {
        told: told(look, rendered),
        side: Side::Right,
        mirrored: false,
    };
    stickers(video, opened.track, &asked, &Nobody)
        .unwrap_or_else(|fault| panic!("seed {}: {fault}", look.seed))
}

/// What came of one clip or of many.
#[derive(Default, Debug)]
struct Tally {
    errors_px: Vec<f64>,
    /// Places nearer to another dot, or to nothing that is a dot.
    switches: usize,
    /// Dots that the arm did not touch, and how many of them were seen.
    free: usize,
    free_seen: usize,
    /// Dots that the arm covered by more than a half and that were believed all the same.
    covered_believed: usize,
}

fn tally(rendered: &Rendered, found: &Stickers) -> Tally {
    let mut tally = Tally::default();
    assert_eq!(found.places.len(), rendered.dots.len());
    for (picture, (places, truth)) in found.places.iter().zip(&rendered.dots).enumerate() {
        for (dot, place) in places.iter().enumerate() {
            let (true_at, covered) = truth[dot];
            let believed = place.filter(|(_, confidence)| *confidence >= LEAST_CONFIDENCE);
            tally.free += usize::from(covered == 0.0);
            let Some((at, _)) = believed else { continue };
            let error = (at - true_at).norm();
            let nearest_other = truth
                .iter()
                .enumerate()
                .filter(|(n, _)| *n != dot)
                .map(|(_, (t, _))| (at - t).norm());
            if error > 10.0 || nearest_other.fold(f64::INFINITY, f64::min) < error {
                tally.switches += 1;
                println!(
                    "picture {picture}, dot {dot}: {error:.1} px off, {:.0} % covered; around it: {}",
                    100.0 * covered,
                    around(found, rendered, picture, dot)
                );
            }
            tally.free_seen += usize::from(covered == 0.0);
            tally.covered_believed += usize::from(covered > 0.5);
            tally.errors_px.push(error);
        }
    }
    tally
}

/// How far off the dot was taken to be in the pictures before and after, and how surely.
fn around(found: &Stickers, rendered: &Rendered, picture: usize, dot: usize) -> String {
    let near = picture.saturating_sub(5)..(picture + 6).min(found.places.len());
    let told = near.map(|n| match found.places[n][dot] {
        Some((at, confidence)) => {
            format!(
                "{:.1} ({confidence:.2})",
                (at - rendered.dots[n][dot].0).norm()
            )
        }
        None => "-".into(),
    });
    told.collect::<Vec<_>>().join(" ")
}

fn quantile(sorted: &[f64], q: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * q).round() as usize]
}

#[test]
fn centres_are_true_to_a_pixel_and_no_dot_becomes_another() {
    let clips = std::env::var("SCAPLANE_DOT_CLIPS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(4_u64);
    let first = first_seed();
    let tallies: Vec<(u64, Tally)> = (first..first + clips)
        .into_par_iter()
        .map(|seed| {
            let folder = tempfile::tempdir().expect("a folder");
            let look = Look::of_seed(seed, if clips > 10 { 150 } else { 90 });
            let (rendered, video, track) = filmed(&look, folder.path(), &H264);
            let found = followed(&look, &rendered, &video, &track);
            (seed, tally(&rendered, &found))
        })
        .collect();
    let mut all = Tally::default();
    for (seed, mut one) in tallies {
        one.errors_px.sort_by(f64::total_cmp);
        if clips > 10 || one.switches > 0 {
            println!(
                "seed {seed}: median {:.3}, largest {:.3} px, {} switches, {} of {} free dots seen",
                quantile(&one.errors_px, 0.5),
                quantile(&one.errors_px, 1.0),
                one.switches,
                one.free_seen,
                one.free
            );
        }
        all.errors_px.extend(one.errors_px);
        all.switches += one.switches;
        all.free += one.free;
        all.free_seen += one.free_seen;
        all.covered_believed += one.covered_believed;
    }
    all.errors_px.sort_by(f64::total_cmp);
    let at = |q: f64| quantile(&all.errors_px, q);
    let seen = all.free_seen as f64 / all.free as f64;
    println!(
        "{clips} clips, {} centres: median {:.3}, 95 % {:.3}, 99 % {:.3}, largest {:.3} px; {} switches; {:.1} % of \
         the dots that nothing touched were seen; {} covered by more than a half were believed",
        all.errors_px.len(),
        at(0.5),
        at(0.95),
        at(0.99),
        at(1.0),
        all.switches,
        100.0 * seen,
        all.covered_believed
    );
    assert_eq!(all.switches, 0);
    assert!(at(0.5) < 0.3 && at(0.95) < 0.7 && at(0.99) < 1.0);
    assert!(seen > 0.95, "{seen}");
}

#[test]
fn clothes_and_somebody_with_dots_of_the_same_colour_are_not_taken_for_the_dots() {
    for seed in [2, 4, 7] {
        let folder = tempfile::tempdir().expect("a folder");
        let look = Look {
            company: true,
            ..Look::of_seed(seed, 60)
        };
        let (rendered, video, track) = filmed(&look, folder.path(), &H264);
        if let Some(kept) = std::env::var_os("SCAPLANE_KEEP") {
            std::fs::copy(
                &video,
                PathBuf::from(kept).join(format!("company-{seed}.mp4")),
            )
            .expect("kept");
        }
        let found = followed(&look, &rendered, &video, &track);
        let mut tally = tally(&rendered, &found);
        tally.errors_px.sort_by(f64::total_cmp);
        let worst = quantile(&tally.errors_px, 0.99);
        println!(
            "seed {seed}: 99 % {worst:.2} px, {} of {} seen",
            tally.free_seen, tally.free
        );
        assert_eq!(tally.switches, 0, "seed {seed}");
        assert!(
            worst < 1.0 && tally.free_seen as f64 > 0.9 * tally.free as f64,
            "seed {seed}"
        );
    }
}

#[test]
fn hevc_and_a_varying_rate_change_nothing() {
    let hevc = [
        "-c:v",
        "libx265",
        "-preset",
        "ultrafast",
        "-crf",
        "24",
        "-x265-params",
        "log-level=none",
    ];
    let even = Look {
        most: 60,
        ..Look::of_seed(7, 60)
    };
    let varying = Look {
        steps: vec![8, 8, 4, 12, 8, 16, 8],
        ..even.clone()
    };
    for (look, options) in [(even, &hevc[..]), (varying, &H264[..])] {
        let folder = tempfile::tempdir().expect("a folder");
        let (rendered, video, track) = filmed(&look, folder.path(), options);
        let found = followed(&look, &rendered, &video, &track);
        let late = |(a, b): (&f64, &f64)| (a - b).abs();
        let worst = found
            .times_s
            .iter()
            .zip(&rendered.times_s)
            .map(late)
            .fold(0.0, f64::max);
        assert!(worst < 1e-3, "{worst}");
        let mut tally = tally(&rendered, &found);
        tally.errors_px.sort_by(f64::total_cmp);
        println!(
            "{options:?}: median {:.3}, 95 % {:.3}, largest {:.3} px",
            quantile(&tally.errors_px, 0.5),
            quantile(&tally.errors_px, 0.95),
            quantile(&tally.errors_px, 1.0)
        );
        assert_eq!(tally.switches, 0);
        assert!(
            quantile(&tally.errors_px, 0.95) < 0.8,
            "{:?}",
            tally.errors_px.last()
        );
        assert!(tally.free_seen as f64 > 0.9 * tally.free as f64);
    }
}
