//! `scaplane stickers`: coloured dots on the skin of the back, followed through a video and added to its track.

use super::options::Reading;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Follow coloured dots on the back and add them to a track.
///
/// The clinician puts a dot on the acromial angle, the root of the scapular spine and the inferior angle, and if wanted
/// on C7 and the middle of the back (eighth thoracic vertebra); the phone stands behind. Tell the dots by their colour,
/// or by their places in one picture. The written track holds them as points of the shoulder blade, and `review` then
/// measures the rhythm directly. Skin moves over the blade: such points are trusted to about 120 degrees of elevation.
#[derive(Args)]
pub struct Stickers {
    /// Video, filmed from behind.
    video: PathBuf,
    /// Track of that video, from any estimator that is read.
    #[arg(long)]
    track: PathBuf,
    /// Side of the dots.
    #[arg(long, default_value = "right")]
    side: Blades,
    /// Colour of all dots that --dot does not name: a word such as green, or #rrggbb.
    #[arg(long)]
    colour: Option<String>,
    /// A dot and its place in the picture at --at, or its colour, such as spine-root=512,640 or c7=blue; named
    /// acromial-angle, spine-root, inferior-angle (-left, -right), c7, mid-back. May be given several times.
    #[arg(long, value_name = "NAME=X,Y|COLOUR")]
    dot: Vec<String>,
    /// Seconds from the start at which the places of --dot are.
    #[arg(
        long,
        value_name = "SECONDS",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    at: f64,
    /// Write the picture at --at as PNG, to read places from, and do nothing else.
    #[arg(long, value_name = "FILE")]
    still: Option<PathBuf>,
    /// Track to write; without it the video's name with `-dots.json`, in this folder.
    #[arg(long)]
    out: Option<PathBuf>,
    #[command(flatten)]
    reading: Reading,
}

/// Which blades carry dots.
#[derive(Clone, Copy, ValueEnum)]
enum Blades {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
    /// Both.
    Both,
}

/// Runs the command.
#[cfg(not(feature = "video"))]
pub fn run(_: &Stickers, _: &crate::models::Models, _: bool) -> Result<(), crate::note::Fault> {
    Err(super::video_absent())
}

#[cfg(feature = "video")]
pub use with_video::run;

#[cfg(feature = "video")]
mod with_video {
    use super::{Blades, Stickers};
    use crate::body::Side;
    use crate::cli::{output, watch::Bar};
    use crate::convert::{Target, write};
    use crate::media::{self, Asked, Bgr, Dot, Told};
    use crate::models::Models;
    use crate::note::{Fault, FaultKind, Place};
    use crate::readers::{self, ReadOptions};
    use nalgebra::Vector2;
    use std::path::PathBuf;

    /// Runs the command.
    pub fn run(args: &Stickers, models: &Models, quiet: bool) -> Result<(), Fault> {
        if let Some(path) = &args.still {
            media::still(&args.video, args.at, path)?;
            output::mention(&format!("wrote {}", path.display()), quiet);
            return Ok(());
        }
        let told = args.told()?;
        let size = media::picture_size(&args.video)?;
        let options = args.reading.options();
        let options = ReadOptions {
            size: options.size.or(Some(size)),
            ..options
        };
        let models = models.clone().with_every_joint();
        let opened = readers::open(&args.track, &options, &models)?;
        for note in &opened.notes {
            output::mention(&note.text, quiet);
        }
        let asked = Asked {
            told,
            side: args.sides()[0],
            mirrored: opened.facts.mirrored || options.mirrored,
        };
        let bar = Bar::new("looking for dots", quiet)?;
        let found = media::stickers(&args.video, opened.track, &asked, &bar)?;
        for note in &found.notes {
            output::mention(&note.text, quiet);
        }
        let out = args.out();
        write(&found.track, Target::Native, &out)?;
        output::say(&words(&found, &out.display().to_string()))
    }

    impl Stickers {
        fn sides(&self) -> &'static [Side] {
            match self.side {
                Blades::Left => &[Side::Left],
                Blades::Right => &[Side::Right],
                Blades::Both => &Side::BOTH,
            }
        }

        fn out(&self) -> PathBuf {
            self.out.clone().unwrap_or_else(|| {
                let stem = self.video.file_stem().unwrap_or_default().to_string_lossy();
                PathBuf::from(format!("{stem}-dots.json"))
            })
        }

        /// Dots by place if any is, else by colour.
        fn told(&self) -> Result<Told, Fault> {
            let mut marks: Vec<(Dot, Vector2<f64>)> = Vec::new();
            let mut stated: Vec<(Dot, Bgr)> = Vec::new();
            for text in &self.dot {
                let (dot, said) = named(text, self.sides()[0])?;
                if marks.iter().any(|(other, _)| *other == dot)
                    || stated.iter().any(|(other, _)| *other == dot)
                {
                    return Err(wrong(
                        "--dot",
                        &format!("{dot} is given twice"),
                        "giving each dot once",
                    ));
                }
                match place(said) {
                    Some(at) => marks.push((dot, at)),
                    None => stated.push((dot, colour("--dot", said)?)),
                }
            }
            if !marks.is_empty() && (self.colour.is_some() || !stated.is_empty()) {
                return Err(wrong(
                    "--dot",
                    "some dots are told by place and others by colour",
                    "either the places of all dots, or the colours of all",
                ));
            }
            if let Some(text) = &self.colour {
                let all = colour("--colour", text)?;
                for dot in self.sides().iter().flat_map(|side| Dot::of_blade(*side)) {
                    if !stated.iter().any(|(other, _)| *other == dot) {
                        stated.push((dot, all));
                    }
                }
            }
            let told: Vec<Dot> = marks
                .iter()
                .map(|(dot, _)| *dot)
                .chain(stated.iter().map(|(dot, _)| *dot))
                .collect();
            let needed = self.sides().iter().flat_map(|side| Dot::of_blade(*side));
            let missing: Vec<String> = needed
                .filter(|dot| !told.contains(dot))
                .map(|dot| dot.to_string())
                .collect();
            if !missing.is_empty() {
                return Err(wrong(
                    "--dot",
                    &format!("not every dot of the blade is told: {}", missing.join("; ")),
                    "--colour green for dots of one colour, or --dot spine-root=X,Y and so on with --at SECONDS; \
                     --still FILE writes the picture to read places from",
                ));
            }
            Ok(match marks.is_empty() {
                true => Told::Stated(stated),
                false => Told::Marked(marks, self.at),
            })
        }
    }

    fn named(text: &str, side: Side) -> Result<(Dot, &str), Fault> {
        text.split_once('=')
            .and_then(|(name, said)| Some((Dot::from_name(name.trim(), side)?, said.trim())))
            .ok_or_else(|| {
                wrong(
                    "--dot",
                    &format!("`{text}` names no dot"),
                    "acromial-angle, spine-root, inferior-angle, c7 or mid-back, then = and X,Y or a colour",
                )
            })
    }

    fn place(text: &str) -> Option<Vector2<f64>> {
        let (x, y) = text.split_once(',')?;
        let at = Vector2::new(x.trim().parse().ok()?, y.trim().parse().ok()?);
        at.iter().all(|value: &f64| value.is_finite()).then_some(at)
    }

    fn colour(option: &'static str, text: &str) -> Result<Bgr, Fault> {
        media::colour_from_text(text).ok_or_else(|| {
            let names = media::colour_names().join(", ");
            wrong(
                option,
                &format!("`{text}` is no colour"),
                &format!("one of {names}, or #rrggbb"),
            )
        })
    }

    fn wrong(option: &str, what: &str, remedy: &str) -> Fault {
        let place = Place::default().field(option);
        Fault::new(FaultKind::Usage, "usage/bad-value", what, place, remedy)
    }

    /// What was found, in lines of at most 80 letters.
    fn words(found: &media::Stickers, out: &str) -> String {
        let mut text = format!(
            "{:<34} {:>7} {:>11} {:>12}\n",
            "dot", "seen", "confidence", "longest gap"
        );
        for dot in &found.dots {
            text += &format!(
                "{:<34} {:>5.1} % {:>11.2} {:>10.2} s\n",
                dot.dot.to_string(),
                100.0 * dot.seen,
                dot.confidence,
                dot.longest_gap_s
            );
        }
        text += "\nConfidence 0.5 stands for an expected error of one pixel; below it a dot\n\
                 counts as not seen. Skin moves over the blade: these points are trusted to\n\
                 about 120 degrees of elevation.\n";
        text + &format!("\nwrote {out}; next: scaplane review {out} --exercise ID --side SIDE\n")
    }
}
