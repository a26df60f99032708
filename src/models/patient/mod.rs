//! The words a patient sees, in each language: one file, `patient-words.toml`.
//!
//! In: that file. Out: [`PatientWords`], in which every text has every language and the same `{placeholders}` in
//! each, so that no page can be half translated; [`Words`] is one language of it. What is said when is decided
//! elsewhere.

mod check;

use std::collections::BTreeMap;

use serde::Deserialize;

use super::exercise::Limit;

pub(crate) use check::checked;

/// One text by language id.
pub type Text = BTreeMap<String, String>;

/// A language of the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Language {
    /// Id for `--lang` and for the page's `lang`, such as `de`.
    pub id: String,
    /// What it calls itself.
    pub name: String,
    /// Sign before the decimals.
    pub decimal: String,
}

/// A praise with the measures it rests on.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Praise {
    /// Measures that must all be judged and inside their limits.
    pub measures: Vec<String>,
    /// Findings of which each limit could make one; empty where any limit will do.
    #[serde(default)]
    pub instead_of: Vec<String>,
    /// The words.
    #[serde(flatten)]
    pub text: Text,
}

impl Praise {
    /// Whether the praise is about a limit.
    pub fn is_about(&self, limit: &Limit) -> bool {
        let possible = || {
            limit
                .said()
                .any(|words| self.instead_of.contains(&words.code))
        };
        self.measures.contains(&limit.measure) && (self.instead_of.is_empty() || possible())
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Thing {
    measures: Vec<String>,
    #[serde(flatten)]
    text: Text,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Reason {
    codes: Vec<String>,
    #[serde(flatten)]
    text: Text,
}

/// The file as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawPatientWords {
    language: Vec<Language>,
    page: BTreeMap<String, Text>,
    praise: Vec<Praise>,
    thing: Vec<Thing>,
    why: Vec<Reason>,
    exercise: Vec<Text>,
}

/// Every text a patient sees, in every language.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PatientWords {
    /// Languages; the first is the one of the exercise files.
    pub languages: Vec<Language>,
    page: BTreeMap<String, Text>,
    praise: Vec<Praise>,
    thing: Vec<Thing>,
    why: Vec<Reason>,
    exercise: Vec<Text>,
}

impl PatientWords {
    /// One language, by id.
    pub fn words(&self, id: &str) -> Option<Words<'_>> {
        let language = self.languages.iter().find(|language| language.id == id)?;
        Some(Words {
            all: self,
            language,
        })
    }

    /// Every praise of the file.
    pub fn praise(&self) -> &[Praise] {
        &self.praise
    }

    /// Every text that stands in the file, with where it stands.
    pub fn texts(&self) -> impl Iterator<Item = (String, &Text)> {
        let named = |list: &'static str, at: usize, text| (format!("{list}[{at}]"), text);
        let page = self
            .page
            .iter()
            .map(|(key, text)| (format!("page.{key}"), text));
        let praise = self.praise.iter().map(|praise| &praise.text);
        let thing = self.thing.iter().map(|thing| &thing.text);
        let why = self.why.iter().map(|why| &why.text);
        page.chain(
            praise
                .enumerate()
                .map(move |(at, text)| named("praise", at, text)),
        )
        .chain(
            thing
                .enumerate()
                .map(move |(at, text)| named("thing", at, text)),
        )
        .chain(
            why.enumerate()
                .map(move |(at, text)| named("why", at, text)),
        )
        .chain(
            self.exercise
                .iter()
                .enumerate()
                .map(move |(at, text)| named("exercise", at, text)),
        )
    }
}

/// The words of one language.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    all: &'a PatientWords,
    language: &'a Language,
}

impl<'a> Words<'a> {
    /// Id of the language.
    pub fn language(&self) -> &'a str {
        &self.language.id
    }

    fn of(&self, text: &'a Text) -> &'a str {
        text.get(&self.language.id).map_or("", String::as_str)
    }

    /// A text of the page with its placeholders filled.
    pub fn say(&self, key: &str, values: &[(&str, &str)]) -> String {
        let text = self.all.page.get(key).map_or("", |text| self.of(text));
        filled(text, values)
    }

    /// Every praise that could be given, with its words.
    pub fn praises(&self) -> impl Iterator<Item = (&'a Praise, &'a str)> {
        let words = *self;
        self.all
            .praise
            .iter()
            .map(move |praise| (praise, words.of(&praise.text)))
    }

    /// What a measure is about.
    pub fn thing(&self, measure: &str) -> String {
        let known = self
            .all
            .thing
            .iter()
            .find(|thing| thing.measures.iter().any(|id| id == measure));
        known.map_or_else(
            || self.say("thing_other", &[]),
            |thing| self.of(&thing.text).to_string(),
        )
    }

    /// Why something could not be told, by the code of the reason.
    pub fn why(&self, code: &str) -> String {
        let known = self
            .all
            .why
            .iter()
            .find(|why| why.codes.iter().any(|known| known == code));
        known.map_or_else(
            || self.say("why_other", &[]),
            |why| self.of(&why.text).to_string(),
        )
    }

    /// A text of an exercise file in this language, or `None` if the file has no translation of it.
    pub fn of_exercise(&self, text: &str) -> Option<&'a str> {
        let first = self.all.languages.first()?;
        let row = self
            .all
            .exercise
            .iter()
            .find(|row| row.get(&first.id).is_some_and(|own| own == text))?;
        row.get(&self.language.id).map(String::as_str)
    }

    /// Whether the exercise files are written in this language.
    pub fn is_first(&self) -> bool {
        let first = self.all.languages.first();
        first.is_some_and(|first| first.id == self.language.id)
    }

    /// A number as this language writes it, without decimals that are zero.
    pub fn number(&self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        let short = match text.contains('.') {
            true => text.trim_end_matches('0').trim_end_matches('.'),
            false => &text,
        };
        short.replace('.', &self.language.decimal)
    }

    /// Numbers as a list in words: `1, 3 and 8 to 10`.
    pub fn list(&self, numbers: &[u32]) -> String {
        let mut runs: Vec<(u32, u32)> = Vec::new();
        for number in numbers {
            match runs.last_mut() {
                Some((_, last)) if *last + 1 == *number => *last = *number,
                _ => runs.push((*number, *number)),
            }
        }
        let mut parts: Vec<String> = Vec::new();
        for (first, last) in runs {
            let ends = [("first", &*first.to_string()), ("last", &*last.to_string())];
            match last - first {
                0 => parts.push(first.to_string()),
                1 => parts.extend([first.to_string(), last.to_string()]),
                _ => parts.push(self.say("list_to", &ends)),
            }
        }
        match parts.pop() {
            None => String::new(),
            Some(only) if parts.is_empty() => only,
            Some(last) => self.say("list_and", &[("first", &parts.join(", ")), ("last", &last)]),
        }
    }

    /// A sentence about one number or about several: `key` with `_one` or `_many`.
    pub fn numbers(&self, key: &str, numbers: &[u32]) -> String {
        let end = match numbers.len() {
            1 => "one",
            _ => "many",
        };
        self.say(&format!("{key}_{end}"), &[("list", &self.list(numbers))])
    }
}

fn filled(text: &str, values: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = text;
    // One pass, so that a value with braces in it stays as it is.
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let (name, behind) = after.split_once('}').unwrap_or((after, ""));
        let value = values.iter().find(|(known, _)| *known == name);
        out.push_str(value.map_or("", |(_, value)| value));
        rest = behind;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::super::Models;

    #[test]
    fn lists_and_numbers_are_said_as_people_say_them() {
        let models = Models::embedded().expect("shipped");
        let (en, de) = (
            models.patient.words("en").expect("English"),
            models.patient.words("de").expect("German"),
        );
        assert_eq!(en.list(&[1, 3, 8, 9, 10]), "1, 3 and 8 to 10");
        assert_eq!(de.list(&[4, 5]), "4 und 5");
        assert_eq!(en.list(&[7]), "7");
        assert_eq!(de.number(3.5, 1), "3,5");
        assert_eq!(en.number(4.0, 1), "4");
        assert_eq!(en.number(10.0, 0), "10");
        assert_eq!(en.numbers("number", &[7]), "Number 7");
        assert!(models.patient.words("xx").is_none());
        assert_eq!(super::filled("a {x} b", &[("x", "{y}")]), "a {y} b");
    }
}
