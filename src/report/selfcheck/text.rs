//! What the patient is told, on the terminal: the words of the page in 80 columns.
//!
//! Every group has a sign of its own (`+` as agreed, `>` to change, `~` close, `?` could not be told) beside its words.

use crate::patient::{Part, Said};
use crate::report::columns::wrapped;
use crate::report::text::{COLUMNS, Colour};
use crate::session::Verdict;

/// Column at which the text of a marked line starts.
const TEXT_AT: usize = 2;

/// The whole text.
pub fn terminal(said: &Said, colour: Colour) -> String {
    let mut page = Page {
        out: String::new(),
        colour,
    };
    page.strong(&said.title);
    page.wrap("", &said.summary);
    if let Some(part) = &said.pain {
        page.part(part);
    }
    page.heading(&said.seen.heading);
    page.wrap("", &said.seen.headline);
    for line in &said.seen.lines {
        page.wrap("", line);
    }
    for group in &said.seen.groups {
        let text = format!("{}: {}", group.label.trim_end_matches('.'), group.list);
        page.wrap(sign(group.verdict), &text);
    }
    page.wrap("", &said.seen.as_far);
    page.heading(&said.change.heading);
    for line in &said.change.lines {
        page.wrap("", line);
    }
    for cue in &said.change.cues {
        page.wrap("", &cue.before);
        page.wrap(">", &cue.text);
        for line in &cue.lines {
            page.wrap(" ", line);
        }
    }
    page.part(&said.praise);
    page.part(&said.unseen);
    if let Some(part) = &said.phone {
        page.part(part);
    }
    page.part(&said.stop);
    page.out.push('\n');
    for line in &said.about {
        page.wrap("", line);
    }
    page.out
}

fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "+",
        Verdict::Outside => ">",
        Verdict::Near => "~",
        Verdict::CannotTell => "?",
    }
}

struct Page {
    out: String,
    colour: Colour,
}

impl Page {
    fn strong(&mut self, text: &str) {
        for line in wrapped(text, COLUMNS) {
            match self.colour {
                Colour::Never => self.out.push_str(&format!("{line}\n")),
                Colour::Ansi => self.out.push_str(&format!("\u{1b}[1m{line}\u{1b}[0m\n")),
            }
        }
    }

    fn heading(&mut self, text: &str) {
        self.out.push('\n');
        self.strong(&text.to_uppercase());
    }

    fn part(&mut self, part: &Part) {
        self.heading(&part.heading);
        for line in &part.lines {
            self.wrap("-", line);
        }
    }

    /// A text, with a sign before it that it hangs from; nothing for an empty text.
    fn wrap(&mut self, sign: &str, text: &str) {
        if text.is_empty() {
            return;
        }
        let at = if sign.is_empty() { 0 } else { TEXT_AT };
        for (place, line) in wrapped(text, COLUMNS - at).iter().enumerate() {
            let sign = if place == 0 { sign } else { "" };
            self.out.push_str(format!("{sign:<at$}{line}").trim_end());
            self.out.push('\n');
        }
    }
}
