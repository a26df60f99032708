//! `selfcheck.html`: the patient's page, one file for a phone that works offline and needs no script.
//!
//! In: what is said. Out: one HTML text with its style and drawings inside. Its content policy allows nothing but its
//! own style, so nothing can be asked of the network.

use super::drawing;
use crate::patient::{Cue, Part, Said};
use crate::report::words;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("../page/selfcheck.html");
const STYLE: &str = include_str!("../page/selfcheck.css");

#[derive(Serialize)]
struct Section<'a> {
    id: &'static str,
    heading: &'a str,
    lines: &'a [String],
}

#[derive(Serialize)]
struct Group<'a> {
    verdict: &'static str,
    label: &'a str,
    list: &'a str,
}

#[derive(Serialize)]
struct Picture {
    kind: &'static str,
    svg: String,
    caption: String,
    pace: String,
}

#[derive(Serialize)]
struct CueRow<'a> {
    before: &'a str,
    text: &'a str,
    lines: &'a [String],
    pictures: Vec<Picture>,
    sign: &'a str,
    view: &'a str,
}

/// The page.
///
/// # Errors
/// When the template fails, which no data should cause.
pub fn page(said: &Said) -> Result<String, minijinja::Error> {
    let groups: Vec<Group<'_>> = said
        .seen
        .groups
        .iter()
        .map(|group| Group {
            verdict: words::verdict_id(group.verdict),
            label: &group.label,
            list: &group.list,
        })
        .collect();
    let mut strip: Vec<(u32, &'static str)> = said
        .seen
        .groups
        .iter()
        .flat_map(|group| {
            let verdict = words::verdict_id(group.verdict);
            group.numbers.iter().map(move |number| (*number, verdict))
        })
        .collect();
    strip.sort_unstable();
    let cues: Vec<CueRow<'_>> = said.change.cues.iter().map(row).collect();
    let mut after = vec![
        section_of("praise", &said.praise),
        section_of("unseen", &said.unseen),
    ];
    after.extend(said.phone.iter().map(|part| section_of("phone", part)));
    after.push(section_of("stop", &said.stop));
    let pain = said.pain.as_ref().map(|part| section_of("pain", part));
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("selfcheck.html", TEMPLATE)?;
    environment
        .get_template("selfcheck.html")?
        .render(context! {
            language => &said.language,
            title => &said.title,
            summary => &said.summary,
            pain => Value::from(Serde(&pain)),
            seen_heading => &said.seen.heading,
            headline => &said.seen.headline,
            seen_lines => &said.seen.lines,
            as_far => &said.seen.as_far,
            strip => Value::from(Serde(&strip)),
            groups => Value::from(Serde(&groups)),
            change_heading => &said.change.heading,
            change_lines => &said.change.lines,
            cues => Value::from(Serde(&cues)),
            after => Value::from(Serde(&after)),
            about => &said.about,
            style => Value::from_safe_string(STYLE.to_string()),
            program => concat!("scaplane ", env!("CARGO_PKG_VERSION")),
        })
}

fn section_of<'a>(id: &'static str, part: &'a Part) -> Section<'a> {
    Section {
        id,
        heading: &part.heading,
        lines: &part.lines,
    }
}

fn row(cue: &Cue) -> CueRow<'_> {
    let mut pictures = Vec::new();
    let (mut sign, mut view) = ("", "");
    if let Some(drawn) = &cue.drawing {
        let captions = &drawn.captions;
        let [pace_now, pace_aim] = captions.pace.clone();
        pictures.push(Picture {
            kind: "now",
            svg: drawing::now(drawn),
            caption: captions.now.clone(),
            pace: pace_now,
        });
        pictures.extend(drawing::aim(drawn).map(|svg| Picture {
            kind: "aim",
            svg,
            caption: captions.aim.clone(),
            pace: pace_aim,
        }));
        (sign, view) = (&captions.sign, &captions.view);
    }
    CueRow {
        before: &cue.before,
        text: &cue.text,
        lines: &cue.lines,
        pictures,
        sign,
        view,
    }
}
