//! `batch.csv`: one row a result, which is a clip and an arm.

use super::{Cell, Column, Entry, Kind, LEAD, Spec, columns_of, lead};
use crate::session::{Space, Toward, Verdict};

const OWN: &Spec = &[
    (
        "folder",
        Kind::Text,
        true,
        "folder of its reports below the output folder",
    ),
    ("sha256", Kind::Text, true, "SHA-256 of the clip's bytes"),
    ("reader", Kind::Text, true, "file format id"),
    ("layout", Kind::Text, true, "keypoint layout id"),
    (
        "space",
        Kind::Text,
        true,
        "what angles come from: image or world",
    ),
    (
        "view",
        Kind::Text,
        false,
        "view of the person; null where it could not be told",
    ),
    (
        "view_yaw_deg",
        Kind::Number,
        false,
        "turn of the trunk: 0 faces the phone",
    ),
    ("frames", Kind::Whole, true, "frames of the clip"),
    (
        "duration_s",
        Kind::Number,
        false,
        "length; null where no rate is known",
    ),
    (
        "rate_hz",
        Kind::Number,
        false,
        "frames a second; null where no rate is known",
    ),
    ("reps", Kind::Whole, true, "repetitions"),
    ("reps_complete", Kind::Whole, true, "of these: complete"),
    (
        "reps_measurable",
        Kind::Whole,
        true,
        "of these: with a verdict other than cannot tell",
    ),
    (
        "reps_outside",
        Kind::Whole,
        true,
        "of the measurable: outside",
    ),
    ("reps_near", Kind::Whole, true, "of the measurable: near"),
    (
        "reps_within",
        Kind::Whole,
        true,
        "of the measurable: within",
    ),
    ("sets", Kind::Whole, true, "sets"),
    (
        "drift_outside",
        Kind::Text,
        false,
        "measures with a claimed drift toward outside, set:measure, spaces between",
    ),
    (
        "unseen",
        Kind::Text,
        false,
        "judged measures that could not be measured everywhere, measure:n/m, spaces between",
    ),
    (
        "notes",
        Kind::Text,
        false,
        "codes of the notes on the data, spaces between",
    ),
    (
        "plan_phase",
        Kind::Text,
        false,
        "phase of the plan, in the clinic's words",
    ),
    (
        "limits_changed",
        Kind::Whole,
        false,
        "limits that the plan changes; null without a plan",
    ),
    (
        "pain_before",
        Kind::Number,
        false,
        "pain before, 0 to 10, as told",
    ),
    (
        "pain_during",
        Kind::Number,
        false,
        "worst pain during the exercise, 0 to 10, as told",
    ),
    (
        "pain_after",
        Kind::Number,
        false,
        "pain after, 0 to 10, as told",
    ),
    ("effort", Kind::Number, false, "effort, 0 to 10, as told"),
    ("video", Kind::Text, false, "video, from the manifest"),
    ("note", Kind::Text, false, "free text, from the manifest"),
];

pub(super) fn columns() -> Vec<Column> {
    let mut columns = columns_of(LEAD);
    columns.extend(columns_of(OWN));
    columns
}

pub(super) fn row(result: &Entry<'_>) -> Vec<Cell> {
    let session = &result.session;
    let clip = &session.clip;
    let count = |verdict: Verdict| {
        let of = |rep: &&crate::session::Rep| rep.verdict == verdict;
        session.reps.iter().filter(of).count() as u64
    };
    let all = session.reps.len() as u64;
    let complete = session.reps.iter().filter(|rep| rep.complete).count() as u64;
    let drift: Vec<String> = session
        .sets
        .iter()
        .flat_map(|set| set.drift.iter().map(move |drift| (set.number, drift)))
        .filter(|(_, drift)| drift.toward == Toward::Outside)
        .map(|(set, drift)| format!("{set}:{}", drift.measure))
        .collect();
    let unseen: Vec<String> = session
        .unseen
        .iter()
        .map(|row| format!("{}:{}/{}", row.measure, row.measurable, row.of))
        .collect();
    let mut notes: Vec<&str> = session
        .notes
        .iter()
        .map(|note| note.code.as_str())
        .collect();
    notes.sort_unstable();
    notes.dedup();
    let joined = |words: String| {
        Some(words)
            .filter(|words| !words.is_empty())
            .as_ref()
            .into()
    };
    let plan = session.plan.as_ref();
    let said = session.reported.unwrap_or_default();
    let mut cells = lead(result);
    cells.extend([
        (&result.folder).into(),
        (&clip.sha256).into(),
        (&clip.reader).into(),
        (&clip.layout).into(),
        match clip.space {
            Space::Image => "image".into(),
            Space::World => "world".into(),
        },
        clip.view.as_ref().map(|view| &view.name).into(),
        clip.view.as_ref().map(|view| view.yaw_deg).into(),
        clip.frames.into(),
        clip.duration_s.into(),
        clip.rate_hz.into(),
        all.into(),
        complete.into(),
        (all - count(Verdict::CannotTell)).into(),
        count(Verdict::Outside).into(),
        count(Verdict::Near).into(),
        count(Verdict::Within).into(),
        (session.sets.len() as u64).into(),
        joined(drift.join(" ")),
        joined(unseen.join(" ")),
        joined(notes.join(" ")),
        plan.and_then(|plan| plan.phase.as_ref()).into(),
        plan.map(|plan| plan.changed_limits.len() as u64).into(),
        said.pain_before.into(),
        said.pain_during.into(),
        said.pain_after.into(),
        said.effort.into(),
        result.clip.about.video.as_ref().into(),
        result.clip.about.note.as_ref().into(),
    ]);
    cells
}
