//! Whether every text is there in every language, with the same placeholders, and about things that exist.

use std::collections::BTreeSet;

use super::super::error::ModelError;
use super::super::vocabulary;
use super::{PatientWords, RawPatientWords};
use crate::reading::Why;

const FILE: &str = "patient-words.toml";

/// Keys of the page's texts with their placeholders, in order of the alphabet.
pub const KEYS: &[(&str, &[&str])] = &[
    ("about_clinic", &[]),
    ("about_limits", &[]),
    ("about_private", &[]),
    ("arm_left", &[]),
    ("arm_right", &[]),
    ("as_far", &[]),
    ("change_grew", &[]),
    ("change_heading", &[]),
    ("change_near_many", &["list"]),
    ("change_near_one", &["list"]),
    ("change_none", &[]),
    ("change_second", &[]),
    ("change_unsure", &[]),
    ("change_untold", &[]),
    ("change_wait", &[]),
    ("change_watch", &[]),
    ("change_where_many", &["list"]),
    ("change_where_one", &["list"]),
    ("group_agreed", &[]),
    ("group_change", &[]),
    ("group_close", &[]),
    ("group_untold", &[]),
    ("list_and", &["first", "last"]),
    ("list_to", &["first", "last"]),
    ("next_heading", &[]),
    ("number_many", &["list"]),
    ("number_one", &["list"]),
    ("pace_aim", &[]),
    ("pace_now", &["seconds"]),
    ("pain_heading", &[]),
    ("pain_noted", &["pain"]),
    ("pain_part", &[]),
    ("pain_reached", &["limit", "pain"]),
    ("pain_rest", &[]),
    ("phone_heading", &[]),
    ("picture_above", &[]),
    ("picture_aim", &[]),
    ("picture_aim_name", &[]),
    ("picture_arrow", &[]),
    ("picture_beside", &[]),
    ("picture_now", &["number"]),
    ("picture_now_name", &["number"]),
    ("picture_ring", &[]),
    ("plan_many", &["repetitions", "sets"]),
    ("plan_one", &["repetitions"]),
    ("praise_all", &["praise", "total"]),
    ("praise_check", &[]),
    ("praise_heading", &[]),
    ("praise_most", &["count", "praise", "total"]),
    ("seen_heading", &[]),
    ("seen_many", &["count"]),
    ("seen_none", &[]),
    ("seen_one", &[]),
    ("short_many", &["list"]),
    ("short_one", &["list"]),
    ("stop_call", &[]),
    ("stop_heading", &[]),
    ("stop_numb", &[]),
    ("stop_pain", &[]),
    ("stop_strength", &[]),
    ("thing_other", &[]),
    ("title", &["arm", "exercise"]),
    ("unseen_heading", &[]),
    ("unseen_none", &[]),
    ("unseen_nothing", &[]),
    ("unseen_part", &["count", "thing", "total", "why"]),
    ("unseen_whole", &["thing", "why"]),
    ("why_other", &[]),
];

fn placeholders(text: &str) -> BTreeSet<&str> {
    let inside = text.split('{').skip(1);
    inside
        .filter_map(|part| Some(part.split_once('}')?.0))
        .collect()
}

/// Checks that every text is there in every language.
pub(crate) fn checked(raw: Option<RawPatientWords>, faults: &mut Vec<ModelError>) -> PatientWords {
    let Some(raw) = raw else {
        return PatientWords::default();
    };
    let words = PatientWords {
        languages: raw.language,
        page: raw.page,
        praise: raw.praise,
        thing: raw.thing,
        why: raw.why,
        exercise: raw.exercise,
    };
    let mut fault = |key: String, problem: String, remedy: &str| {
        faults.push(ModelError::new(FILE, key, problem, remedy));
    };
    if words.languages.is_empty() {
        fault(
            "language".into(),
            "no language is named".into(),
            "add a [[language]]",
        );
    }
    for (key, _) in KEYS {
        if !words.page.contains_key(*key) {
            fault(
                format!("page.{key}"),
                "the text is missing".into(),
                "write it in every language",
            );
        }
    }
    let praised = words.praise.iter().flat_map(|praise| &praise.measures);
    let named = words.thing.iter().flat_map(|thing| &thing.measures);
    for measure in praised.chain(named) {
        if vocabulary::unit_of(measure).is_none() {
            fault(
                "measures".into(),
                format!("there is no measure `{measure}`"),
                "name one of `scaplane measures`",
            );
        }
    }
    for code in words.why.iter().flat_map(|why| &why.codes) {
        if !Why::ALL.iter().any(|why| why.code() == code) {
            fault(
                "why.codes".into(),
                format!("no reason has the code `{code}`"),
                "name a reason for a value that is absent",
            );
        }
    }
    for (key, text) in words.texts() {
        let wanted: Option<BTreeSet<&str>> = match key.strip_prefix("page.") {
            None => Some(BTreeSet::new()),
            Some(name) => KEYS
                .iter()
                .find(|(known, _)| *known == name)
                .map(|(_, names)| names.iter().copied().collect()),
        };
        let Some(wanted) = wanted else {
            fault(key, "the page has no such text".into(), "remove it");
            continue;
        };
        for language in &words.languages {
            match text.get(&language.id) {
                Some(said) if said.trim().is_empty() => fault(
                    format!("{key}.{}", language.id),
                    "the text is empty".into(),
                    "write one plain sentence",
                ),
                Some(said) if placeholders(said) != wanted => fault(
                    format!("{key}.{}", language.id),
                    format!("its placeholders are not those of the text: {wanted:?}"),
                    "keep each {word} in braces as it is, and add none",
                ),
                Some(_) => {}
                None => fault(
                    format!("{key}.{}", language.id),
                    format!("the text is missing in {}", language.name),
                    "write it in every language",
                ),
            }
        }
        for other in text.keys() {
            if !words.languages.iter().any(|language| language.id == *other) {
                fault(
                    format!("{key}.{other}"),
                    format!("`{other}` is no language of this file"),
                    "add it as a [[language]], or remove it",
                );
            }
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::super::{ModelErrors, ModelFiles, Models};

    fn refused(from: &str, to: &str, key: &str, word: &str) {
        let files = ModelFiles::embedded();
        let text = files.text(super::FILE).expect("shipped");
        assert!(text.contains(from), "{from}");
        let broken = files.clone().with(super::FILE, &text.replacen(from, to, 1));
        let ModelErrors(faults) = Models::from_files(&broken).expect_err(to);
        let found = faults
            .iter()
            .any(|fault| fault.key.contains(key) && fault.problem.contains(word));
        assert!(found, "{faults:?}");
    }

    #[test]
    fn a_half_translated_file_is_refused_with_its_place() {
        refused(
            "de = \"Wie vereinbart\"\n",
            "",
            "page.group_agreed.de",
            "missing in Deutsch",
        );
        refused(
            "de = \"Wie vereinbart\"",
            "de = \" \"",
            "page.group_agreed.de",
            "empty",
        );
        refused(
            "{count}-mal gesehen",
            "-mal gesehen",
            "page.seen_many.de",
            "placeholders",
        );
        refused(
            "{count} times.",
            "{counts} times.",
            "page.seen_many.en",
            "placeholders",
        );
        refused(
            "[page.seen_one]",
            "[page.seen_wun]",
            "page.seen_one",
            "missing",
        );
        refused(
            "[page.seen_one]",
            "[page.seen_wun]",
            "page.seen_wun",
            "no such text",
        );
        refused("id = \"de\"", "id = \"fr\"", ".de", "no language");
        refused(
            "[\"trunk-lean\"]",
            "[\"trunk-leen\"]",
            "measures",
            "no measure",
        );
        refused(
            "\"rate-unknown\"",
            "\"rate-unkown\"",
            "why.codes",
            "no reason",
        );
    }
}
