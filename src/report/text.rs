//! The summary on the terminal: 80 columns, findings first.
//!
//! In: the rows of [`View`]. Out: plain text; colour only if asked, and never the only sign: every state has
//! its word and its mark (`!!` outside, `~` near, `ok` within, `?` cannot tell).

use super::columns::{width, wrapped};
use super::context::Context;
use super::finite::finite;
use super::view::View;
use super::words;
use crate::session::{Session, Verdict};

/// Columns of a terminal line.
pub const COLUMNS: usize = 80;

/// Whether to colour marks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Colour {
    /// Plain text.
    #[default]
    Never,
    /// ANSI colours on marks and headings.
    Ansi,
}

/// The summary without a context; `title` is the exercise's.
pub fn summary(session: &Session, title: &str) -> String {
    terminal(session, &Context::titled(title), Colour::Never)
}

/// The whole summary.
pub fn terminal(session: &Session, context: &Context, colour: Colour) -> String {
    let view = View::of(&finite(session), context);
    let mut page = Page {
        out: String::new(),
        colour,
    };
    page.wrap(0, &view.title);
    page.wrap(0, &view.facts.join(", "));
    page.blank();
    page.wrap(0, &view.headline);
    for text in [&view.incomplete].into_iter().filter(|t| !t.is_empty()) {
        page.wrap(0, text);
    }
    if !view.seen.is_empty() {
        page.wrap(0, &format!("{}.", view.seen.join("; ")));
    }
    findings(&mut page, &view);
    drift(&mut page, &view);
    repetitions(&mut page, &view);
    unseen(&mut page, &view);
    if !view.plan.is_empty() {
        page.heading("Plan");
        for (label, text) in &view.plan {
            page.wrap(0, &format!("{label}: {text}"));
        }
    }
    for row in &view.compare {
        page.wrap(0, &format!("{}: {}: {}", row.with, row.title, row.reading));
    }
    if !view.notes.is_empty() {
        page.heading("Notes on the data");
        for note in &view.notes {
            page.hang("-", 2, &note.text);
        }
    }
    page.blank();
    for caution in view.cautions.iter().take(2) {
        page.wrap(0, caution);
    }
    page.out
}

/// Column at which the text of a marked row starts.
const TEXT_AT: usize = 4;

fn findings(page: &mut Page, view: &View) {
    page.heading("Findings");
    if view.findings.is_empty() {
        page.wrap(0, &view.no_findings);
    }
    for row in &view.findings {
        let verdict = verdict_of(row.verdict);
        page.marked(verdict, &row.text);
        let worst = match &row.moment {
            Some(moment) => format!("; worst at {moment} in repetition {}", row.worst_rep),
            None => String::new(),
        };
        page.wrap(TEXT_AT, &format!("{}{worst}", row.wherein));
        page.wrap(TEXT_AT, &format!("{}: {}", row.title, row.measured()));
        if !row.cue.is_empty() {
            page.wrap(TEXT_AT, &format!("Cue: {}", row.cue));
        }
    }
}

fn drift(page: &mut Page, view: &View) {
    if view.drifts.is_empty() && view.no_drift.is_empty() {
        return;
    }
    page.heading("Drift over the set");
    for row in &view.drifts {
        let mark = match row.toward {
            "outside" => "->",
            _ => "<-",
        };
        page.hang(mark, TEXT_AT, &row.text);
    }
    for text in &view.no_drift {
        page.hang("", TEXT_AT, text);
    }
}

fn repetitions(page: &mut Page, view: &View) {
    if view.reps.is_empty() {
        return;
    }
    page.heading("Repetitions");
    if let Some(title) = view.key_titles.first() {
        page.wrap(
            0,
            &format!("Number, time, verdict, {}:", words::lower(title)),
        );
    }
    let longest = view.reps.iter().map(|row| row.number.to_string().len());
    let width = longest.max().unwrap_or_default().max(2);
    for row in &view.reps {
        let mut first = row
            .key
            .first()
            .map_or_else(String::new, |cell| cell.line.clone());
        if !row.incomplete.is_empty() {
            first = match first.is_empty() {
                true => row.incomplete.clone(),
                false => format!("{first}; {}", row.incomplete),
            };
        }
        let text = format!(
            "{:>width$}  {}  {:<11}",
            row.number, row.span, row.verdict_words
        );
        page.marked_table(verdict_of(row.verdict), &text, &first);
    }
}

fn unseen(page: &mut Page, view: &View) {
    page.heading("What could not be seen");
    if view.unseen.is_empty() {
        let text = match view.reps.is_empty() {
            true => "No repetition was found, so nothing was measured.",
            false => "Everything judged was measurable in every repetition.",
        };
        page.wrap(0, text);
    }
    let mut advised: Vec<&str> = Vec::new();
    for row in &view.unseen {
        page.marked(
            Verdict::CannotTell,
            &format!("{}: {}; {}.", row.title, row.share, row.why),
        );
        if !row.remedy.is_empty() && !advised.contains(&row.remedy.as_str()) {
            page.wrap(TEXT_AT, &row.remedy);
            advised.push(&row.remedy);
        }
    }
    if !view.placement.is_empty() && !advised.contains(&view.placement.as_str()) {
        page.wrap(0, &format!("Phone: {}", view.placement));
    }
}

fn verdict_of(id: &str) -> Verdict {
    match id {
        "outside" => Verdict::Outside,
        "near" => Verdict::Near,
        "within" => Verdict::Within,
        _ => Verdict::CannotTell,
    }
}

/// Signs that every terminal and every log file shows.
pub(super) fn plain(text: &str) -> String {
    text.replace("° (", " (")
        .replace('°', " deg")
        .replace(['\u{2212}', '–'], "-")
        .replace('\u{a0}', " ")
        .replace(|c: char| c.is_control() && !c.is_whitespace(), "")
}

/// A text in lines of at most 80 columns, each so far from the left.
pub fn paragraph(indent: usize, text: &str) -> String {
    let mut page = Page {
        out: String::new(),
        colour: Colour::Never,
    };
    page.wrap(indent, text);
    page.out
}

/// A text under construction.
pub(super) struct Page {
    pub(super) out: String,
    pub(super) colour: Colour,
}

impl Page {
    pub(super) fn blank(&mut self) {
        self.out.push('\n');
    }

    pub(super) fn wrap(&mut self, indent: usize, text: &str) {
        for line in wrapped(&plain(text), COLUMNS - indent) {
            self.out.push_str(&format!("{:indent$}{line}\n", ""));
        }
    }

    pub(super) fn heading(&mut self, text: &str) {
        self.blank();
        let line = match self.colour {
            Colour::Never => format!("{}\n", text.to_uppercase()),
            Colour::Ansi => format!("\u{1b}[1m{}\u{1b}[0m\n", text.to_uppercase()),
        };
        self.out.push_str(&line);
    }

    /// A short sign, then text that hangs from column `at`.
    pub(super) fn hang(&mut self, sign: &str, at: usize, text: &str) {
        let pad = at.saturating_sub(width(sign));
        for (place, line) in wrapped(&plain(text), COLUMNS - at).iter().enumerate() {
            match place {
                0 => self.out.push_str(&format!("{sign}{:pad$}{line}\n", "")),
                _ => self.out.push_str(&format!("{:at$}{line}\n", "")),
            }
        }
    }

    /// Mark of a verdict before a text; the text names the state in words.
    fn marked(&mut self, verdict: Verdict, text: &str) {
        let mark = self.mark(verdict);
        let text = format!("{}. {text}", sentence(verdict.words()));
        for (place, line) in wrapped(&plain(&text), COLUMNS - TEXT_AT).iter().enumerate() {
            match place {
                0 => self.out.push_str(&format!("{mark}{line}\n")),
                _ => self.out.push_str(&format!("{:TEXT_AT$}{line}\n", "")),
            }
        }
    }

    /// A row of the repetition list: fixed columns, then the reading; where that is long, under them.
    fn marked_table(&mut self, verdict: Verdict, text: &str, reading: &str) {
        let mark = self.mark(verdict);
        let (text, reading) = (plain(text), plain(reading));
        if TEXT_AT + width(&text) + 2 + width(&reading) <= COLUMNS {
            let line = format!("{text}  {reading}");
            self.out.push_str(&format!("{mark}{}\n", line.trim_end()));
            return;
        }
        self.out.push_str(&format!("{mark}{}\n", text.trim_end()));
        self.wrap(TEXT_AT + 4, &reading);
    }

    fn mark(&self, verdict: Verdict) -> String {
        let mark = format!("{:<TEXT_AT$}", words::mark(verdict));
        // Okabe and Ito's hues on the 256-colour cube: vermilion, orange, bluish green; grey.
        let code = match verdict {
            Verdict::Outside => 166,
            Verdict::Near => 178,
            Verdict::Within => 36,
            Verdict::CannotTell => 245,
        };
        match self.colour {
            Colour::Never => mark,
            Colour::Ansi => format!("\u{1b}[38;5;{code}m{mark}\u{1b}[0m"),
        }
    }
}

fn sentence(words: &str) -> String {
    let mut text = words.to_string();
    if let Some(first) = text.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    text
}
