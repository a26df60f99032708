//! How many repetitions were seen, and which were as agreed.

use crate::models::Words;
use crate::session::{Rep, Session, Verdict};

/// What was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Heading.
    pub heading: String,
    /// How many whole repetitions, in one sentence.
    pub headline: String,
    /// What belongs to the count: the plan, repetitions that were not whole.
    pub lines: Vec<String>,
    /// Whole repetitions by verdict, those as agreed first.
    pub groups: Vec<Group>,
    /// Said below the groups: that they hold for what could be seen. Empty where all was seen.
    pub as_far: String,
}

/// Repetitions of one verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The verdict.
    pub verdict: Verdict,
    /// The verdict in everyday words.
    pub label: String,
    /// Numbers of the repetitions.
    pub numbers: Vec<u32>,
    /// The numbers in words.
    pub list: String,
}

/// Order and words of the groups.
const GROUPS: [(Verdict, &str); 4] = [
    (Verdict::Within, "group_agreed"),
    (Verdict::Outside, "group_change"),
    (Verdict::Near, "group_close"),
    (Verdict::CannotTell, "group_untold"),
];

/// Repetitions that are whole.
pub(super) fn whole(session: &Session) -> impl Iterator<Item = &Rep> {
    session.reps.iter().filter(|rep| rep.complete)
}

pub(super) fn seen(session: &Session, words: Words<'_>) -> Seen {
    let count = whole(session).count();
    let headline = match count {
        0 => words.say("seen_none", &[]),
        1 => words.say("seen_one", &[]),
        several => words.say("seen_many", &[("count", &several.to_string())]),
    };
    let short: Vec<u32> = session
        .reps
        .iter()
        .filter(|rep| !rep.complete)
        .map(|rep| rep.number)
        .collect();
    let mut lines = Vec::new();
    lines.extend(planned(session, words));
    if !short.is_empty() && count > 0 {
        lines.push(words.numbers("short", &short));
    }
    let groups: Vec<Group> = GROUPS
        .iter()
        .map(|(verdict, key)| {
            let numbers: Vec<u32> = whole(session)
                .filter(|rep| rep.verdict == *verdict)
                .map(|rep| rep.number)
                .collect();
            Group {
                verdict: *verdict,
                label: words.say(key, &[]),
                list: words.numbers("number", &numbers),
                numbers,
            }
        })
        .filter(|group| !group.numbers.is_empty())
        .collect();
    let partly = whole(session)
        .any(|rep| rep.verdict != Verdict::CannotTell && rep.judged.measurable < rep.judged.of);
    Seen {
        heading: words.say("seen_heading", &[]),
        headline,
        lines,
        groups,
        as_far: match partly {
            true => words.say("as_far", &[]),
            false => String::new(),
        },
    }
}

fn planned(session: &Session, words: Words<'_>) -> Option<String> {
    let prescribed = session.plan.as_ref()?.prescribed.as_ref()?;
    let repetitions = prescribed.repetitions.to_string();
    let sets = prescribed.sets.to_string();
    Some(match prescribed.sets {
        1 => words.say("plan_one", &[("repetitions", &repetitions)]),
        _ => words.say(
            "plan_many",
            &[("repetitions", &repetitions), ("sets", &sets)],
        ),
    })
}
