//! What a clip is judged against: an exercise, with the limits of the treating clinician's plan where there is one.
//!
//! In: an exercise, a plan, what the person said. Out: reviews in which the plan stands beside what was done. The
//! plan changes limits and scales the rhythm; it changes no measurement.

use super::{Ask, Provenance, planned, review};
use crate::body::Side;
use crate::models::{Exercise, Models};
use crate::plan::{self, Plan};
use crate::session::{Reported, Review};
use crate::track::Track;
use std::borrow::Cow;

/// An order to review clips of one exercise.
#[derive(Debug, Clone)]
pub struct Order<'a> {
    plan: Option<&'a Plan>,
    default: &'a Exercise,
    exercise: Cow<'a, Exercise>,
    reported: Option<Reported>,
}

impl<'a> Order<'a> {
    /// An exercise with its default limits, or those of the plan in their place.
    pub fn new(default: &'a Exercise, plan: Option<&'a Plan>) -> Order<'a> {
        let prescription = plan.and_then(|plan| plan.prescription(&default.id));
        Order {
            plan,
            default,
            exercise: match prescription {
                Some(one) => Cow::Owned(plan::exercise_with(default, one)),
                None => Cow::Borrowed(default),
            },
            reported: None,
        }
    }

    /// The same with what the person said of pain and effort.
    #[must_use]
    pub fn reported(self, reported: Option<Reported>) -> Order<'a> {
        Order { reported, ..self }
    }

    /// The exercise with the limits in force for an arm: those of the plan are for the treated one only.
    pub fn exercise(&self, side: Side) -> &Exercise {
        match self.plan {
            Some(plan) if plan.side != side => self.default,
            _ => &self.exercise,
        }
    }

    /// Whether the limits in force for an arm are the defaults.
    pub fn is_default(&self, side: Side) -> bool {
        std::ptr::eq(self.exercise(side), self.default)
    }

    /// Reviews arms of one track, in order; see [`Order::review`].
    pub fn reviews(
        &self,
        track: Track,
        sides: &[Option<Side>],
        provenance: &Provenance,
        models: &Models,
        ask: &Ask,
    ) -> Vec<Review> {
        let of = |track: Track, side: Option<Side>| {
            self.review(track, provenance, models, &Ask { side, ..*ask })
        };
        let Some((last, others)) = sides.split_last() else {
            return Vec::new();
        };
        // A long track is most of the memory, so it is copied only while another arm waits for it.
        let mut reviews: Vec<Review> = (others.iter())
            .map(|side| of(track.clone(), *side))
            .collect();
        reviews.push(of(track, *last));
        reviews
    }

    /// Reviews one track: the arm asked for, else the treated one. The plan's limits and inclinometer readings count for
    /// the treated arm only.
    pub fn review(
        &self,
        track: Track,
        provenance: &Provenance,
        models: &Models,
        ask: &Ask,
    ) -> Review {
        let side = ask.side.or(self.plan.map(|plan| plan.side));
        let treated = self.plan.filter(|plan| side == Some(plan.side));
        let ask = Ask {
            side,
            calibration: ask.calibration.or(treated.and_then(Plan::calibration)),
            ..*ask
        };
        let exercise = side.map_or(self.default, |side| self.exercise(side));
        let mut review = review(track, provenance, exercise, models, &ask);
        review.session.plan = self
            .plan
            .map(|plan| planned(&review.session, plan, self.default));
        review.session.reported = self.reported;
        review
    }
}
