//! What `inspect` says beyond the facts: how sure the reading is, and which options would make it better.
//!
//! In: a clip as opened and the options that were given. Out: phrases. It measures nothing.

use crate::readers::{Degree, Opened, ReadOptions};

/// How sure it is that the file is what it was read as, and what else it could be.
pub fn certainty(opened: &Opened, stated: &ReadOptions) -> String {
    let own = opened
        .verdicts
        .iter()
        .find(|verdict| verdict.id == opened.facts.reader);
    let format = match (own, &stated.format) {
        (_, Some(_)) => "format as stated".to_string(),
        (Some(own), None) if own.fit.degree == Degree::Certain => {
            format!("certain: {}", own.fit.reason)
        }
        (Some(own), None) => format!("likely, nothing fits better: {}", own.fit.reason),
        (None, None) => "not told".to_string(),
    };
    let layout = match (opened.facts.layout_by_count, &stated.layout) {
        (_, Some(_)) => "; layout as stated",
        (true, None) => {
            "; the layout only by the number of keypoints, which were found to form a body"
        }
        (false, None) => "",
    };
    let others: Vec<&str> = opened
        .verdicts
        .iter()
        .filter(|verdict| verdict.id != opened.facts.reader && verdict.fit.degree > Degree::No)
        .map(|verdict| verdict.id)
        .collect();
    let others = match others.is_empty() {
        true => String::new(),
        false => format!("; less likely {}", others.join(", ")),
    };
    format!("{format}{layout}{others}")
}

/// An option to add, and what it would bring.
pub type Advice = (String, &'static str);

/// Options that would tell what the file does not.
pub fn options(opened: &Opened, stated: &ReadOptions) -> Vec<Advice> {
    let (facts, track) = (&opened.facts, &opened.track);
    let mut all: Vec<Advice> = Vec::new();
    if !track.timeline.knows_seconds() {
        all.push((
            "--fps RATE".into(),
            "the frame rate of the video; without it repetitions are counted, seconds are not told",
        ));
    }
    if facts.picture && track.size.is_none() {
        all.push((
            "--size WIDTHxHEIGHT".into(),
            match track.picture.is_some() {
                true => "the picture's size in pixels; it narrows the intervals",
                false => {
                    "the picture's size in pixels; without it only the world coordinates are used"
                }
            },
        ));
    }
    if facts.layout_by_count && stated.layout.is_none() {
        all.push((
            format!("--layout {}", facts.layout),
            "if that is the estimator's layout; another one if the skeleton looks wrong",
        ));
    }
    if stated.person.is_none() {
        let others = facts
            .people
            .iter()
            .filter(|person| person.label != track.person);
        for person in others.take(3) {
            all.push((
                format!("--person {}", person.label),
                "if it is that person who exercises",
            ));
        }
    }
    let assumed = opened
        .notes
        .iter()
        .any(|note| note.code == "read/axes-assumed");
    if assumed && !facts.space {
        all.push((
            "--axis-order yx|xy".into(),
            "which picture coordinate comes first, if the skeleton lies on its side",
        ));
    } else if assumed {
        all.push((
            "--up AXIS".into(),
            "the axis that points up, if the skeleton lies on its side",
        ));
    }
    if facts.picture && !stated.mirrored && !facts.mirrored {
        all.push((
            "--mirrored".into(),
            "if it was filmed as a mirror image: the points alone cannot show that",
        ));
    }
    all
}
