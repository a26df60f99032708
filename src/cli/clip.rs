//! What commands that review a clip have in common: which exercise, which sides, and the way to its reviews.

use super::options::{self, Reading, SideChoice, ViewChoice};
use crate::body::Side;
use crate::models::{Exercise, Models};
use crate::note::{Fault, FaultKind, Place};
use crate::pipeline::{Ask, Order, Provenance};
use crate::plan::{self, Plan};
use crate::readers::{self, ReadOptions};
use crate::session::Review;
use crate::track::Track;
use clap::Args;
use std::path::{Path, PathBuf};

/// What a user says of a clip that is reviewed.
#[derive(Args)]
pub struct About {
    /// Exercise; `scaplane exercises` lists them. A plan with one exercise tells it.
    #[arg(long)]
    exercise: Option<String>,
    /// Plan of the treating clinician: what is prescribed, changed limits, pain limit, inclinometer readings.
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Side to measure; without it that of the plan, else the arm that moves more.
    #[arg(long)]
    side: Option<SideChoice>,
    /// View of the person; without it told from the track.
    #[arg(long)]
    view: Option<ViewChoice>,
    /// Cut-off of the low-pass filter in hertz; without it chosen by residual analysis.
    #[arg(long)]
    cutoff: Option<f64>,
    #[command(flatten)]
    reading: Reading,
}

impl About {
    /// The plan, read.
    pub fn plan(&self, models: &Models) -> Result<Option<Plan>, Fault> {
        let plan = self.plan.as_ref();
        plan.map(|path| plan::read(path, models)).transpose()
    }

    /// The exercise as it was stated.
    pub fn exercise(&self) -> Option<&str> {
        self.exercise.as_deref()
    }

    /// The side as it was stated.
    pub fn side(&self) -> Option<SideChoice> {
        self.side
    }

    /// Names of the options that say how a clip is read and measured: a review made before cannot obey them.
    pub fn of_a_clip(&self) -> Vec<&'static str> {
        let own = [
            ("--plan", self.plan.is_some()),
            ("--view", self.view.is_some()),
            ("--cutoff", self.cutoff.is_some()),
        ];
        let own = own.into_iter().filter(|(_, given)| *given);
        let mut names: Vec<&str> = own.map(|(name, _)| name).collect();
        names.extend(self.reading.given().into_iter().map(|(name, _)| name));
        names.dedup();
        names
    }

    /// What the clip is judged against.
    pub fn order<'a>(
        &self,
        plan: Option<&'a Plan>,
        models: &'a Models,
    ) -> Result<Order<'a>, Fault> {
        self.order_of(None, plan, models)
    }

    /// The same, where something else tells the exercise if it is not stated.
    pub fn order_of<'a>(
        &self,
        told: Option<&str>,
        plan: Option<&'a Plan>,
        models: &'a Models,
    ) -> Result<Order<'a>, Fault> {
        let exercise = exercise(self.exercise().or(told), plan, models)?;
        Ok(Order::new(exercise, plan))
    }

    /// What is asked of the clip.
    pub fn asked(&self, plan: Option<&Plan>) -> Result<Asked, Fault> {
        Ok(Asked {
            sides: sides(self.side, plan),
            view: self.view,
            cutoff_hz: cutoff(self.cutoff)?,
            options: self.reading.options(),
            numbers_only: false,
        })
    }
}

/// The exercise that is stated, or the only one of the plan.
fn exercise<'a>(
    stated: Option<&str>,
    plan: Option<&Plan>,
    models: &'a Models,
) -> Result<&'a Exercise, Fault> {
    let id = stated.or(plan.and_then(Plan::only_exercise));
    let id = id.ok_or_else(|| {
        let prescribed = plan.into_iter().flat_map(|plan| &plan.exercise);
        let mut known: Vec<&str> = prescribed.map(|one| one.id.as_str()).collect();
        if known.is_empty() {
            known = models.exercises.keys().collect();
        }
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            "which exercise the clip shows is not stated",
            Place::default().field("--exercise"),
            format!("--exercise with one of {}", known.join(", ")),
        )
    })?;
    options::exercise(id, models)
}

/// The sides to measure: as asked, else that of the plan, else the one that moves more.
fn sides(choice: Option<SideChoice>, plan: Option<&Plan>) -> Vec<Option<Side>> {
    match (choice, plan) {
        (None, Some(plan)) => vec![Some(plan.side)],
        (choice, _) => SideChoice::sides(choice),
    }
}

/// A cut-off that a filter can have.
pub fn cutoff(stated: Option<f64>) -> Result<Option<f64>, Fault> {
    match stated.filter(|cutoff| !(cutoff.is_finite() && *cutoff > 0.0)) {
        None => Ok(stated),
        Some(cutoff) => Err(Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("{cutoff} is no cut-off"),
            Place::default().field("--cutoff"),
            "a frequency in hertz, such as 6",
        )),
    }
}

/// What is asked of a clip, whatever the exercise.
pub struct Asked {
    /// Sides to measure; `None` stands for the one that moves more.
    pub sides: Vec<Option<Side>>,
    /// Stated view.
    pub view: Option<ViewChoice>,
    /// Stated cut-off, hertz.
    pub cutoff_hz: Option<f64>,
    /// How the file is to be read.
    pub options: ReadOptions,
    /// Whether nothing will be drawn.
    pub numbers_only: bool,
}

impl Asked {
    /// The review of each side.
    pub fn reviews(
        &self,
        clip: &Path,
        order: &Order<'_>,
        models: &Models,
    ) -> Result<Vec<Review>, Fault> {
        let Opened { track, provenance } = self.open(clip, models)?;
        Ok(order.reviews(track, &self.sides, &provenance, models, &self.ask()))
    }

    /// The clip, read.
    pub fn open(&self, clip: &Path, models: &Models) -> Result<Opened, Fault> {
        let opened = readers::open(clip, &self.options, models)?;
        let provenance = Provenance {
            source: clip
                .file_name()
                .map_or_else(|| "-".into(), |name| name.to_string_lossy().into_owned()),
            sha256: opened.sha256,
            reader: opened.facts.reader.to_string(),
            notes: opened.notes,
        };
        Ok(Opened {
            track: opened.track,
            provenance,
        })
    }

    /// The review of one side.
    pub fn review(
        &self,
        opened: &Opened,
        side: Option<Side>,
        order: &Order<'_>,
        models: &Models,
    ) -> Review {
        let ask = Ask { side, ..self.ask() };
        order.review(opened.track.clone(), &opened.provenance, models, &ask)
    }

    fn ask(&self) -> Ask {
        Ask {
            view: self.view.map(Into::into),
            cutoff_hz: self.cutoff_hz,
            numbers_only: self.numbers_only,
            ..Ask::default()
        }
    }
}

/// A clip that was read.
pub struct Opened {
    track: Track,
    provenance: Provenance,
}
