//! `scaplane compare`: simulated pairs with known truth, the command as a user runs it, and its files.

mod command;
mod pages;
mod refused;
mod simulated;

use crate::support::{MODELS, recipe, reviewed_as};
use scaplane::body::Side;
use scaplane::compare::{Comparison, Entry, GivenAs, Row, compare};
use scaplane::pipeline::Ask;
use scaplane::session::Session;
use scaplane::simulate::{self, Clip, Exercise, Format, Noise, Recipe, RepTruth, Working};

/// A recording of one arm: its review, and its true repetitions.
struct Taken {
    session: Session,
    truth: Vec<RepTruth>,
}

impl Taken {
    fn of(clip: &Clip, side: Side, format: Format) -> Taken {
        let ask = Ask {
            side: Some(side),
            ..Ask::default()
        };
        let arm = match side {
            Side::Left => simulate::Side::Left,
            Side::Right => simulate::Side::Right,
        };
        Taken {
            session: reviewed_as(clip, format, clip.recipe.exercise.id(), &ask),
            truth: clip.truth.reps_of(arm).cloned().collect(),
        }
    }

    fn of_recipe(recipe: &Recipe, format: Format) -> Taken {
        let side = match recipe.side {
            Working::Left => Side::Left,
            _ => Side::Right,
        };
        let clip = simulate::simulate(recipe).expect("a sound recipe");
        Taken::of(&clip, side, format)
    }

    /// True mean of a measure over the complete repetitions, if each of them was found.
    fn truth(&self, measure: &str) -> Option<f64> {
        let all = self.truth.iter();
        let values: Option<Vec<f64>> = all
            .filter(|rep| rep.complete)
            .map(|rep| rep.value(measure))
            .collect();
        let values = values?;
        let found = self.session.reps.iter().filter(|rep| rep.complete).count();
        (found == values.len() && found > 0).then(|| values.iter().sum::<f64>() / found as f64)
    }
}

/// Both arms of a clip in which both do the exercise.
fn both_arms(exercise: Exercise, view: &str, seed: u64, format: Format) -> [Taken; 2] {
    let mut recipe = recipe(exercise, view, seed, 5, Noise::typical());
    recipe.side = Working::Both;
    let clip = simulate::simulate(&recipe).expect("a sound recipe");
    [Side::Left, Side::Right].map(|side| Taken::of(&clip, side, format))
}

fn compared(a: &Session, b: &Session) -> Comparison {
    let entry = |session| Entry {
        session,
        name: None,
        given_as: GivenAs::Clip,
    };
    compare(&entry(a), &entry(b), &MODELS).expect("a comparison")
}

fn row<'a>(comparison: &'a Comparison, measure: &str) -> &'a Row {
    let mut rows = comparison.measures.iter();
    rows.find(|row| row.measure == measure)
        .unwrap_or_else(|| panic!("no {measure}"))
}
