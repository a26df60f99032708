//! What a report needs beside the result: titles, limits, the published band, where the phone goes.
//!
//! In: the data files and the measures' cards. Out: [`Context`], plain words and numbers looked up once.
//! A report never looks anything up itself, so that it can be drawn for an exercise it has never seen.

use super::words;
use crate::measures;
use crate::models::{Exercise, Models};
use std::collections::BTreeMap;

/// One limit as the reports show it.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitRow {
    /// Measure id.
    pub measure: String,
    /// Lower and upper end, `None` where open.
    pub limit: [Option<f64>; 2],
    /// Unit of both ends.
    pub unit: String,
    /// Why this band, in the words of the exercise file.
    pub note: String,
    /// Citation of its source.
    pub source: String,
}

/// One point of a published band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandPoint {
    /// Elevation, degrees.
    pub elevation_deg: f64,
    /// Lower edge, degrees.
    pub low_deg: f64,
    /// Upper edge, degrees.
    pub high_deg: f64,
}

/// A video beside the page.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Film {
    /// Name of its file, in the folder of the page.
    pub file: String,
    /// Its time at the clip's first frame, seconds.
    pub offset_s: f64,
}

/// Words and numbers that are not in the result itself.
#[derive(Debug, Clone, Default)]
pub struct Context {
    /// Title of the exercise.
    pub exercise_title: String,
    /// One sentence about it.
    pub exercise_summary: String,
    /// Where to put the phone.
    pub placement: String,
    /// Name of the way out, for example `raise`.
    pub outward: String,
    /// Name of the way back, for example `lower`.
    pub back: String,
    /// Measure id to title.
    pub titles: BTreeMap<String, String>,
    /// Measure id to its definition in one sentence.
    pub definitions: BTreeMap<String, String>,
    /// Measures in the order in which they are shown, judged ones first.
    pub order: Vec<String>,
    /// What the exercise judges.
    pub limits: Vec<LimitRow>,
    /// Plane of elevation aimed at, degrees.
    pub plane_aim_deg: Option<f64>,
    /// Published upward rotation of healthy people, mean plus and minus two standard deviations.
    pub rotation_band: Vec<BandPoint>,
    /// Citation of the band.
    pub rotation_source: String,
    /// Elevation to which points on the skin over the blade are trusted, degrees.
    pub skin_trusted_to_deg: Option<f64>,
    /// The video beside the page, if there is one.
    pub film: Option<Film>,
}

/// Quantity, plane and source of the band behind the rhythm curve: the one published set at hand that
/// states its spread between people (Henninger 2020, 20 healthy shoulders).
const BAND: (&str, &str) = ("st-upward-rotation", "henninger-2020");

impl Context {
    /// Everything the data files and the measures' cards say about an exercise.
    pub fn of(exercise: &Exercise, models: &Models) -> Context {
        let cite = |id: &str| {
            models
                .source(id)
                .map_or_else(|| id.to_string(), |source| source.citation.clone())
        };
        let aim = exercise.plane.as_ref().map(|plane| plane.aim_deg);
        Context {
            exercise_title: exercise.title.clone(),
            exercise_summary: exercise.summary.clone(),
            placement: exercise.views.placement.clone(),
            outward: exercise.phases.outward.clone(),
            back: exercise.phases.back.clone(),
            titles: measures::cards()
                .map(|card| (card.id.to_string(), card.title.to_string()))
                .collect(),
            definitions: measures::cards()
                .map(|card| (card.id.to_string(), card.definition.to_string()))
                .collect(),
            order: exercise
                .measures()
                .into_iter()
                .map(str::to_string)
                .collect(),
            limits: exercise
                .limits
                .iter()
                .map(|limit| LimitRow {
                    measure: limit.measure.clone(),
                    limit: [limit.low, limit.high],
                    unit: limit.unit.symbol().to_string(),
                    note: limit.note.clone(),
                    source: cite(&limit.source),
                })
                .collect(),
            plane_aim_deg: aim,
            rotation_band: band(models, plane_name(aim)),
            rotation_source: cite(BAND.1),
            skin_trusted_to_deg: Some(models.landmarks.scapula_skin_trusted_to_deg.value),
            film: None,
        }
    }

    /// A context that knows the exercise's title only: for results whose definition is not at hand.
    pub fn titled(title: &str) -> Context {
        Context {
            exercise_title: title.to_string(),
            ..Context::default()
        }
    }

    /// Title of a measure; made from its id where no card is known.
    pub fn title(&self, measure: &str) -> String {
        self.titles
            .get(measure)
            .cloned()
            .unwrap_or_else(|| words::title_of_id(measure))
    }

    /// The limit on a measure.
    pub fn limit(&self, measure: &str) -> Option<&LimitRow> {
        self.limits.iter().find(|limit| limit.measure == measure)
    }

    /// The exercise's plane limits as planes of elevation, degrees.
    pub fn plane_limits_deg(&self) -> Option<(f64, f64)> {
        match (self.plane_aim_deg, self.limit("plane-deviation")?.limit) {
            (Some(aim), [Some(low), Some(high)]) => Some((aim + low, aim + high)),
            _ => None,
        }
    }

    /// Measure ids of a repetition in the order shown: the exercise's, then any others by name.
    pub fn ordered<'a>(&'a self, present: impl Iterator<Item = &'a String>) -> Vec<&'a str> {
        let present: Vec<&String> = present.collect();
        let known = self
            .order
            .iter()
            .filter(|id| present.contains(id))
            .map(String::as_str);
        let others = present
            .iter()
            .filter(|id| !self.order.contains(id))
            .map(|id| id.as_str());
        known.chain(others).collect()
    }
}

/// The published plane nearest to an aim: the file knows abduction (0), scaption (about 35), flexion (90).
fn plane_name(aim_deg: Option<f64>) -> &'static str {
    match aim_deg {
        Some(aim) if aim < 15.0 => "abduction",
        Some(aim) if aim > 65.0 => "flexion",
        _ => "scaption",
    }
}

fn band(models: &Models, plane: &str) -> Vec<BandPoint> {
    models
        .references
        .iter()
        .filter(|row| row.quantity == BAND.0 && row.source == BAND.1 && row.plane == plane)
        .filter_map(|row| {
            let sd = row.sd?;
            Some(BandPoint {
                elevation_deg: row.at_deg()?,
                low_deg: row.value - 2.0 * sd,
                high_deg: row.value + 2.0 * sd,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_exercise_has_a_context_with_titles_for_all_it_names() {
        let models = Models::embedded().unwrap();
        assert!(models.exercises.len() >= 10);
        for exercise in models.exercises.values() {
            let context = Context::of(exercise, &models);
            for measure in &context.order {
                assert!(context.titles.contains_key(measure), "{measure}");
            }
            assert_eq!(context.limits.len(), exercise.limits.len());
            assert_eq!(context.rotation_band.len(), 4, "{}", exercise.id);
        }
    }

    #[test]
    fn plane_limits_are_the_aim_plus_the_band() {
        let models = Models::embedded().unwrap();
        let context = Context::of(models.exercise("scapular-raise").unwrap(), &models);
        assert_eq!(context.plane_limits_deg(), Some((20.0, 55.0)));
        assert_eq!(Context::titled("x").plane_limits_deg(), None);
    }
}
