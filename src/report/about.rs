//! What the clip is and how it was measured, in short phrases.
//!
//! In: a session. Out: words. Nothing that the result does not hold is said: no date, no person's name.

use super::words;
use crate::session::{Session, Space};
use crate::track::Timing;

/// Clip, duration and view, each a short phrase.
pub fn facts(session: &Session) -> Vec<String> {
    let clip = &session.clip;
    let mut facts = vec![clip.source.clone()];
    facts.push(match (clip.duration_s, clip.rate_hz) {
        (Some(duration), Some(rate)) => format!(
            "{} s at {} frames a second",
            words::number(duration, 1),
            words::number(rate, usize::from((rate - rate.round()).abs() > 0.05))
        ),
        (Some(duration), None) => format!("{} s", words::number(duration, 1)),
        _ => format!("{} frames, frame rate unknown", clip.frames),
    });
    facts.push(match &clip.view {
        Some(view) => format!("seen {}", view_words(&view.name)),
        None => "view unknown".to_string(),
    });
    if session.sets.len() > 1 {
        facts.push(words::count(session.sets.len(), "set"));
    }
    facts
}

fn view_words(name: &str) -> String {
    match name {
        "front" => "from the front".to_string(),
        "back" => "from behind".to_string(),
        "left" | "right" => format!("from the person's {name} side"),
        "oblique" => "obliquely".to_string(),
        other => format!("from: {other}"),
    }
}

/// How it was measured: label and text.
pub fn how(session: &Session) -> Vec<(String, String)> {
    let clip = &session.clip;
    let mut how = vec![
        (
            "Angles from".to_string(),
            match clip.space {
                Space::Image => "one picture; depth is inferred from foreshortening, and the intervals say how far".to_string(),
                Space::World => "world coordinates in the file".to_string(),
            },
        ),
        (
            "Keypoints".to_string(),
            format!("layout {}, read by {}; person {}", clip.layout, clip.reader, clip.person),
        ),
        (
            "Time".to_string(),
            match clip.timing {
                Timing::Stamped => "time stamps in the file",
                Timing::Stated => "a stated frame rate",
                Timing::Assumed => "no rate is stated, so no seconds are reported; times in the curves are nominal",
            }
            .to_string(),
        ),
        (
            "Smoothing".to_string(),
            clip.cutoff_hz.map_or("none".to_string(), |hz| {
                format!("zero-phase low-pass, cut-off {} Hz", words::number(hz, 1))
            }),
        ),
    ];
    if let Some(view) = &clip.view {
        how.push((
            "Turn of the trunk to the phone".to_string(),
            format!(
                "{}, {}",
                words::estimate(view.yaw_deg, view.low_deg, view.high_deg, "deg"),
                match view.stated {
                    true => "as stated",
                    false => "estimated",
                }
            ),
        ));
    }
    how.push((
        "Intervals".to_string(),
        "95 %. Outside: the whole interval is beyond the limit. Within: all of it is inside. Near: it straddles the limit. Cannot tell: no value, or an interval wider than the limits are apart".to_string(),
    ));
    how.push((
        "Evidence".to_string(),
        "direct: the points that define the quantity were in the track; calibrated: scaled to this person's own inclinometer readings; proxy: inferred through a model of the body".to_string(),
    ));
    how.push(("File".to_string(), format!("SHA-256 {}", clip.sha256)));
    how
}
