//! What a clip is judged against: an exercise, with the limits of the treating clinician's plan where there is one.
//!
//! In: an exercise, a plan, what the person said. Out: reviews in which the plan stands beside what was done. The
//! plan changes limits and scales the rhythm; it changes no measurement.

use super::{Ask, Provenance, planned, review};
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

    /// The exercise with the limits in force.
    pub fn exercise(&self) -> &Exercise {
        &self.exercise
    }

    /// Reviews one track. The plan's inclinometer readings count for the side they were taken on.
    pub fn review(
        &self,
        track: Track,
        provenance: &Provenance,
        models: &Models,
        ask: &Ask,
    ) -> Review {
        let treated = self.plan.filter(|plan| ask.side == Some(plan.side));
        let ask = Ask {
            calibration: ask.calibration.or(treated.and_then(Plan::calibration)),
            ..*ask
        };
        let mut review = review(track, provenance, &self.exercise, models, &ask);
        review.session.plan = self
            .plan
            .map(|plan| planned(&review.session, plan, self.default));
        review.session.reported = self.reported;
        review
    }
}
