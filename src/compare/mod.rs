//! Two arms, or the same arm on two days: every measure side by side, with the interval of the difference.
//!
//! In: two sessions of one exercise. Out: a [`Comparison`], plain data that reports draw. The chain: each side's
//! repetitions become a [`mean`] whose interval holds what differs between repetitions and what does not; two
//! means become a [`difference`]; and a difference is judged by guard band against the measure's published error.
//! Nothing is measured anew here, and no figure of what counts as different stands in this code.

pub mod difference;
pub mod mean;
mod other_side;
mod read;
mod refuse;
mod result;

pub use other_side::fill_other_side;
pub use read::review_of;
pub use refuse::fault;
pub use result::{
    Addition, Between, Comparison, Difference, FORMAT, Floor, GivenAs, Mean, Party, Row, Verdict,
};

use crate::body::Side;
use crate::measures;
use crate::models::{self, Models};
use crate::note::{Fault, Note};
use crate::pipeline::CAUTIONS;
use crate::session::{Program, Reason, Session, Space};

/// A session with what the user says of it.
#[derive(Debug, Clone, Copy)]
pub struct Entry<'a> {
    /// What was measured.
    pub session: &'a Session,
    /// What the user calls it: a day, a week after the operation.
    pub name: Option<&'a str>,
    /// Whether the user gave a clip or a review.
    pub given_as: GivenAs,
}

/// Compares two sessions; the difference is that of `b` less `a`.
///
/// # Errors
/// The sessions are of different exercises, or of the same arm in the same clip.
pub fn compare(a: &Entry<'_>, b: &Entry<'_>, models: &Models) -> Result<Comparison, Fault> {
    refuse::unlike(a, b)?;
    let between = match a.session.side == b.session.side {
        true => Between::Sessions,
        false => Between::Arms,
    };
    let addition = addition(between, a.session, b.session);
    let measures = ids(a.session, b.session, models)
        .into_iter()
        .map(|id| row(id, a.session, b.session, addition, models))
        .collect();
    Ok(Comparison {
        format: FORMAT.to_string(),
        program: Program {
            name: "scaplane".into(),
            version: env!("CARGO_PKG_VERSION").into(),
        },
        exercise: a.session.exercise.clone(),
        between,
        a: party(a),
        b: party(b),
        systematic_parts: addition,
        notes: notes(between, a.session, b.session),
        measures,
        cautions: cautions(between),
    })
}

/// How the parts of the error that stay the same through a clip add up.
///
/// A trunk line that is off toward one side makes one arm read too high and the other too low, and a turn of the
/// person that is misjudged does the same to the planes of both: between arms the parts may be opposite, and are
/// added in full. On the same arm seen in the same way an error tends to repeat; two independent ones are the
/// most that needs to be reckoned with, and their squares add. Seen in another way it may turn its sign: in full.
fn addition(between: Between, a: &Session, b: &Session) -> Addition {
    let view = |session: &Session| session.clip.view.as_ref().map(|view| view.name.clone());
    let alike = a.clip.space == b.clip.space
        && a.clip.layout == b.clip.layout
        && view(a) == view(b)
        && (view(a).is_some() || a.clip.space == Space::World);
    match between {
        Between::Sessions if alike => Addition::Squares,
        _ => Addition::Full,
    }
}

/// Measures of either session in the order of the exercise, then others by name.
fn ids<'a>(a: &'a Session, b: &'a Session, models: &'a Models) -> Vec<&'a str> {
    let present = |id: &str| {
        let mut reps = a.reps.iter().chain(&b.reps);
        reps.any(|rep| rep.readings.contains_key(id))
    };
    let mut ids: Vec<&str> = models
        .exercise(&a.exercise)
        .map_or_else(Vec::new, |exercise| {
            exercise
                .measures()
                .into_iter()
                .filter(|id| present(id))
                .collect()
        });
    for id in a
        .reps
        .iter()
        .chain(&b.reps)
        .flat_map(|rep| rep.readings.keys())
    {
        if !ids.contains(&id.as_str()) {
            ids.push(id);
        }
    }
    ids
}

fn row(id: &str, a: &Session, b: &Session, addition: Addition, models: &Models) -> Row {
    let floor = floor(models.floors.get(id), models);
    let (side_a, side_b) = (mean::of(a, id), mean::of(b, id));
    let mut judged = difference::judged(&side_a, &side_b, addition, floor.value);
    if judged.verdict != Verdict::CannotTell && hangs_on_one_turn(id, a, b) {
        judged.verdict = Verdict::CannotTell;
        judged.why = Some(Reason {
            code: "one-turn".to_string(),
            text: "a misjudged turn of the person moves the planes of the two arms apart in one picture".to_string(),
        });
    }
    Row {
        measure: id.to_string(),
        title: measures::card(id).map_or(id.to_string(), |card| card.title.to_string()),
        unit: measures::card(id).map_or(String::new(), |card| card.unit.to_string()),
        a: Mean::of(side_a),
        b: Mean::of(side_b),
        difference: judged.difference,
        floor,
        verdict: judged.verdict,
        why: judged.why,
    }
}

/// Measures that hang on the turn of the person, with opposite sign in the two arms.
const OF_THE_PLANE: [&str; 3] = ["plane-of-elevation", "plane-deviation", "arc-exposure"];

/// Whether a difference between two arms is as much one of the person's turn: both are seen in one picture, and the
/// turn was told from the track. Now and then it is off by more than its interval says, and then twice that stands
/// between the planes of the arms. Where the view is stated, or each arm has a picture of its own, it is not so.
fn hangs_on_one_turn(id: &str, a: &Session, b: &Session) -> bool {
    let told = |session: &Session| session.clip.view.as_ref().is_none_or(|view| !view.stated);
    OF_THE_PLANE.contains(&id)
        && a.side != b.side
        && a.clip.sha256 == b.clip.sha256
        && a.clip.space == Space::Image
        && told(a)
}

fn floor(floor: Option<&models::Floor>, models: &Models) -> Floor {
    let cite = |id: &String| {
        models
            .source(id)
            .map_or(id.clone(), |source| source.citation.clone())
    };
    Floor {
        value: floor.and_then(|floor| floor.value),
        source: floor.map_or_else(Vec::new, |floor| floor.sources.iter().map(cite).collect()),
        note: floor.map_or_else(String::new, |floor| floor.note.clone()),
    }
}

fn party(entry: &Entry<'_>) -> Party {
    let session = entry.session;
    Party {
        name: entry.name.map(str::to_string),
        side: session.side,
        source: session.clip.source.clone(),
        sha256: session.clip.sha256.clone(),
        given_as: entry.given_as,
        layout: session.clip.layout.clone(),
        space: session.clip.space,
        view: session.clip.view.clone(),
        repetitions: session.reps.len() as u32,
        complete: session.reps.iter().filter(|rep| rep.complete).count() as u32,
    }
}

fn notes(between: Between, a: &Session, b: &Session) -> Vec<Note> {
    let mut notes = Vec::new();
    let view = |session: &Session| {
        let view = session.clip.view.as_ref();
        view.map_or_else(
            || "a view that could not be told".to_string(),
            |view| view.name.clone(),
        )
    };
    // The left arm from the left is seen as the right arm from the right.
    let mirrored = match (between, view(b).as_str()) {
        (Between::Arms, "left") => "right".to_string(),
        (Between::Arms, "right") => "left".to_string(),
        (_, own) => own.to_string(),
    };
    let same_clip = a.clip.sha256 == b.clip.sha256;
    if !same_clip && view(a) != mirrored {
        notes.push(Note::new(
            "compare/views-differ",
            format!(
                "A was seen from {}, B from {}: part of a difference may be that of the views.",
                view(a),
                view(b)
            ),
        ));
    }
    if a.clip.layout != b.clip.layout || a.clip.space != b.clip.space {
        notes.push(Note::new(
            "compare/points-differ",
            format!(
                "A was measured from points of {}, B from points of {}: they may lie at different places of the \
                 body.",
                a.clip.layout, b.clip.layout
            ),
        ));
    }
    notes
}

/// That options hold for one of the two only: the other was reviewed before.
pub fn for_the_clip(options: &[&str], a: GivenAs) -> Note {
    let (clip, review) = match a {
        GivenAs::Clip => ("A", "B"),
        GivenAs::Review => ("B", "A"),
    };
    let options = options.join(", ");
    Note::new(
        "compare/one-clip",
        format!("{options}: for the clip {clip} only; {review} stays as it was reviewed before."),
    )
}

/// What the other arm is worth as a reference.
pub const OTHER_ARM: &str = "The other arm is an imperfect reference: it may be affected itself, and the dominant \
     arm differs from the other in range, strength and the way the blade moves.";

/// What another day is worth.
pub const OTHER_DAY: &str = "Between two days the place of the phone, clothes, load, warming up and the time of \
     day differ too; a change is not yet an effect of the treatment.";

fn cautions(between: Between) -> Vec<String> {
    let own = match between {
        Between::Arms => OTHER_ARM,
        Between::Sessions => OTHER_DAY,
    };
    let many = "Several measures are compared at once; one that is called different by chance is possible.";
    [own, many]
        .into_iter()
        .chain(CAUTIONS)
        .map(str::to_string)
        .collect()
}

/// The two arms of a clip in order: the reference first. The reference is the arm that is not treated; where
/// nobody says which is, the left one.
pub fn in_order<T>(left: T, right: T, treated: Option<Side>) -> [T; 2] {
    match treated {
        Some(Side::Left) => [right, left],
        _ => [left, right],
    }
}
