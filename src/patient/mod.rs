//! What a patient is told of a result, as plain data: in everyday words, never more than the verdicts say.
//!
//! In: a review, the exercise with the limits in force, the words of one language. Out: [`Said`], every sentence in
//! the order of importance, and the drawings as positions. Reports only lay it out. There is no score: a count of
//! repetitions, one thing to change, praise that was measured.

mod above;
mod aim;
mod beside;
mod change;
mod drawing;
mod pain;
mod pose;
mod praise;
mod reps;
mod scene;
mod unseen;

pub use change::{Change, Cue};
pub use drawing::{Drawing, SeenFrom};
pub use pose::{Point, Pose};
pub use reps::{Group, Seen};

use crate::body::Side;
use crate::models::{Exercise, Words};
use crate::session::Review;
use std::collections::BTreeSet;

/// A heading with its sentences.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Heading.
    pub heading: String,
    /// Sentences or short paragraphs.
    pub lines: Vec<String>,
}

/// Everything that is said, in the order in which it is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// Id of the language.
    pub language: String,
    /// Exercise and arm.
    pub title: String,
    /// The exercise in one sentence.
    pub summary: String,
    /// Said first: that the pain which was reported reaches the plan's limit.
    pub pain: Option<Part>,
    /// How many repetitions, and which were as agreed.
    pub seen: Seen,
    /// The one thing to change.
    pub change: Change,
    /// What went well.
    pub praise: Part,
    /// What the camera could not tell.
    pub unseen: Part,
    /// Where to put the phone, if that may help.
    pub phone: Option<Part>,
    /// When to stop and call the clinic.
    pub stop: Part,
    /// What this is and what it is not.
    pub about: Vec<String>,
    /// Texts of the exercise file that this language has no words for; they are said as they stand there.
    pub untranslated: BTreeSet<String>,
}

/// Chooses what is said.
pub fn said(review: &Review, exercise: &Exercise, words: Words<'_>) -> Said {
    let session = &review.session;
    let mut speaker = Speaker {
        words,
        untranslated: BTreeSet::new(),
    };
    let arm = match session.side {
        Side::Left => words.say("arm_left", &[]),
        Side::Right => words.say("arm_right", &[]),
    };
    let title = speaker.translated(&exercise.patient_title);
    let summary = speaker.translated(&exercise.patient_summary);
    let pain = pain::reached(session, words);
    let change = change::change(review, exercise, pain.is_some(), &mut speaker);
    let unseen = unseen::unseen(session, words);
    let phone = unseen::helps(session).then(|| Part {
        heading: words.say("phone_heading", &[]),
        lines: vec![speaker.translated(&exercise.views.placement)],
    });
    let mut stop = part(
        words,
        "stop_heading",
        &["stop_pain", "stop_numb", "stop_strength", "stop_call"],
    );
    stop.lines.extend(pain::noted(session, words));
    Said {
        language: words.language().to_string(),
        title: words.say("title", &[("exercise", &title), ("arm", &arm)]),
        summary,
        pain,
        seen: reps::seen(session, words),
        change,
        praise: praise::praise(session, exercise, words),
        unseen,
        phone,
        stop,
        about: part(
            words,
            "stop_heading",
            &["about_clinic", "about_limits", "about_private"],
        )
        .lines,
        untranslated: speaker.untranslated,
    }
}

fn part(words: Words<'_>, heading: &str, lines: &[&str]) -> Part {
    Part {
        heading: words.say(heading, &[]),
        lines: lines.iter().map(|key| words.say(key, &[])).collect(),
    }
}

/// The words of one language, and what they lacked so far.
struct Speaker<'a> {
    words: Words<'a>,
    untranslated: BTreeSet<String>,
}

impl Speaker<'_> {
    /// A text of the exercise file in the language, or as it stands there.
    fn translated(&mut self, text: &str) -> String {
        match self.words.of_exercise(text) {
            Some(known) => known.to_string(),
            None => {
                if !self.words.is_first() {
                    self.untranslated.insert(text.to_string());
                }
                text.to_string()
            }
        }
    }
}
