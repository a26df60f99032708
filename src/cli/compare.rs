//! `scaplane compare`: two arms, or the same arm on two days.

use super::options::SideChoice;
use super::{clip, output};
use crate::body::Side;
use crate::compare::{self, Comparison, Entry, GivenAs, in_order};
use crate::models::Models;
use crate::note::{Fault, Place};
use crate::plan::Plan;
use crate::report::{self, Context, comparison};
use crate::session::Session;
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};

/// Compare two arms, or the same arm on two days.
///
/// Every measure stands side by side, with the interval of the difference, which is B less A. It is called different only
/// if its whole interval lies beyond the published error of the measure. The other arm is an imperfect reference: it may
/// be affected itself.
#[derive(Args)]
pub struct Compare {
    /// The reference: a clip, or a review.json that `scaplane review` wrote. Alone: a clip whose two arms are
    /// compared.
    a: PathBuf,
    /// What is held against it: a clip or a review.json.
    b: Option<PathBuf>,
    #[command(flatten)]
    about: clip::About,
    /// Arm of B, if it is not that of A; `--side` alone holds for both.
    #[arg(long)]
    side_b: Option<Arm>,
    /// What A is called, such as a day or `week 12`; nobody's name.
    #[arg(long, value_parser = called)]
    name_a: Option<String>,
    /// What B is called.
    #[arg(long, value_parser = called)]
    name_b: Option<String>,
    /// Folder for compare.html and compare.json.
    #[arg(long)]
    out: Option<PathBuf>,
    /// `-` prints the comparison as JSON on standard output instead of the summary.
    #[arg(long, value_name = "-")]
    json: Option<String>,
}

/// One arm.
#[derive(Clone, Copy, ValueEnum)]
enum Arm {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
}

impl From<Arm> for Side {
    fn from(arm: Arm) -> Side {
        match arm {
            Arm::Left => Side::Left,
            Arm::Right => Side::Right,
        }
    }
}

/// Longest name of a recording: more does not fit a heading.
const LONGEST_NAME: usize = 40;

fn called(text: &str) -> Result<String, String> {
    let name = text.trim();
    let sound = !name.is_empty()
        && name.chars().count() <= LONGEST_NAME
        && !name.chars().any(char::is_control);
    match sound {
        true => Ok(name.to_string()),
        false => Err(format!(
            "write a name of 1 to {LONGEST_NAME} characters, such as `week 12`"
        )),
    }
}

/// Runs the command.
pub fn run(args: &Compare, models: &Models, quiet: bool) -> Result<(), Fault> {
    if args.json.as_deref().is_some_and(|target| target != "-") {
        return Err(compare::fault(
            "usage/bad-value",
            "the comparison is printed to standard output only",
            Place::default().field("--json"),
            "--json - to print it, or --out DIR to write compare.json",
        ));
    }
    let plan = args.about.plan(models)?;
    let comparison = match &args.b {
        Some(b) => of_two(args, b, plan.as_ref(), models)?,
        None => of_one(args, plan.as_ref(), models)?,
    };
    let context = match models.exercise(&comparison.exercise) {
        Some(exercise) => Context::of(exercise, models),
        None => Context::titled(&comparison.exercise),
    };
    if args.json.is_some() {
        output::say(&report::json::comparison(&comparison))?;
    } else {
        let text = comparison::terminal(&comparison, &context, output::colour());
        output::say(&text)?;
    }
    if let Some(out) = &args.out {
        for path in comparison::write(out, &comparison, &context)? {
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    Ok(())
}

/// The two arms of one clip.
fn of_one(args: &Compare, plan: Option<&Plan>, models: &Models) -> Result<Comparison, Fault> {
    let place = Place::file(args.a.display().to_string());
    if compare::review_of(&args.a)?.is_some() {
        return Err(compare::fault(
            "compare/one-arm",
            "one review holds one arm",
            place,
            "a second review or clip after it, or the clip itself to compare its two arms",
        ));
    }
    let one_arm = matches!(
        args.about.side(),
        Some(SideChoice::Left | SideChoice::Right)
    );
    if one_arm || args.side_b.is_some() {
        return Err(compare::fault(
            "compare/one-arm",
            "one clip is given, and one arm of it is asked for",
            place.field(if one_arm { "--side" } else { "--side-b" }),
            "--side both to compare its two arms, or a second clip",
        ));
    }
    let order = args.about.order(plan, models)?;
    let asked = args.about.asked(plan)?;
    let opened = asked.open(&args.a, models)?;
    let review = |side| asked.review(&opened, Some(side), &order, models).session;
    let (left, right) = (review(Side::Left), review(Side::Right));
    let [a, b] = in_order(&left, &right, plan.map(|plan| plan.side));
    compare::compare(
        &entry(a, &args.name_a, GivenAs::Clip),
        &entry(b, &args.name_b, GivenAs::Clip),
        models,
    )
}

/// One arm of each of two recordings.
fn of_two(
    args: &Compare,
    b: &Path,
    plan: Option<&Plan>,
    models: &Models,
) -> Result<Comparison, Fault> {
    if matches!(args.about.side(), Some(SideChoice::Both)) {
        return Err(compare::fault(
            "compare/which-arm",
            "two recordings are given, and both arms of each are asked for",
            Place::default().field("--side"),
            "--side for the arm of A, and --side-b where B shows the other one",
        ));
    }
    let (first, second) = (compare::review_of(&args.a)?, compare::review_of(b)?);
    let of_a_clip = args.about.of_a_clip();
    if first.is_some() && second.is_some() && !of_a_clip.is_empty() {
        return Err(compare::fault(
            "compare/reviewed-before",
            format!(
                "{} would change how a clip is measured, and two reviews made before are given",
                of_a_clip.join(", ")
            ),
            Place::default().field(of_a_clip[0]),
            "leaving it out, or the clips themselves in place of their reviews",
        ));
    }
    let held = [&first, &second].into_iter().flatten().next();
    let told = held.map(|session| session.exercise.clone());
    let session = |path: &Path,
                   review: Option<Session>,
                   side: Option<Side>|
     -> Result<(Session, GivenAs), Fault> {
        if let Some(session) = review {
            return Ok((as_stated(session, path, args, side)?, GivenAs::Review));
        }
        let order = args.about.order_of(told.as_deref(), plan, models)?;
        let asked = args.about.asked(plan)?;
        let side = side.or(asked.sides.first().copied().flatten());
        let opened = asked.open(path, models)?;
        let review = asked.review(&opened, side, &order, models);
        Ok((review.session, GivenAs::Clip))
    };
    let (a, a_as) = session(&args.a, first, None)?;
    let (b, b_as) = session(b, second, args.side_b.map(Side::from))?;
    let mut comparison = compare::compare(
        &entry(&a, &args.name_a, a_as),
        &entry(&b, &args.name_b, b_as),
        models,
    )?;
    if a_as != b_as && !of_a_clip.is_empty() {
        comparison
            .notes
            .push(compare::for_the_clip(&of_a_clip, a_as));
    }
    Ok(comparison)
}

fn entry<'a>(session: &'a Session, name: &'a Option<String>, given_as: GivenAs) -> Entry<'a> {
    Entry {
        session,
        name: name.as_deref(),
        given_as,
    }
}

/// A review as it was made; what is stated beside it must be what it holds.
fn as_stated(
    session: Session,
    path: &Path,
    args: &Compare,
    side: Option<Side>,
) -> Result<Session, Fault> {
    let place = |field: &str| Place::file(path.display().to_string()).field(field);
    if let Some(stated) = args.about.exercise().filter(|id| *id != session.exercise) {
        return Err(compare::fault(
            "compare/exercises-differ",
            format!("the review is of `{}`, not of `{stated}`", session.exercise),
            place("--exercise"),
            "leaving --exercise out, or a review of that exercise",
        ));
    }
    let own = match args.about.side() {
        Some(SideChoice::Left) => Some(Side::Left),
        Some(SideChoice::Right) => Some(Side::Right),
        _ => None,
    };
    match side.or(own).filter(|stated| *stated != session.side) {
        Some(stated) => Err(compare::fault(
            "compare/which-arm",
            format!(
                "the review is of the {} arm, not of the {} one",
                session.side.id(),
                stated.id()
            ),
            place("--side"),
            "leaving --side out, or the review of that arm",
        )),
        None => Ok(session),
    }
}
