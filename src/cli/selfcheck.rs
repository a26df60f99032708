//! `scaplane selfcheck`: the patient's page and the same words on the terminal.

use super::options::Told;
use super::{clip, output};
use crate::models::{Models, Words};
use crate::note::{Fault, FaultKind, Place};
use crate::patient;
use crate::report::{self, selfcheck};
use clap::Args;
use std::path::PathBuf;

/// Tell the person who exercised, in everyday words.
///
/// How often, what was as agreed, the one thing to change.
#[derive(Args)]
pub struct Selfcheck {
    /// Track: a file, a folder of frame files, or `-` for standard input.
    clip: PathBuf,
    #[command(flatten)]
    about: clip::About,
    #[command(flatten)]
    reported: Told,
    /// Language of the words: en, de, or one that the definition files add.
    #[arg(long, default_value = "en")]
    lang: String,
    /// Folder for selfcheck.html.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Selfcheck, models: &Models, quiet: bool) -> Result<(), Fault> {
    let words = words(&args.lang, models)?;
    let plan = args.about.plan(models)?;
    let order = args.about.order(plan.as_ref(), models)?;
    let order = order.reported(args.reported.session());
    let asked = args.about.asked(plan.as_ref())?;
    let reviews = asked.reviews(&args.clip, &order, models)?;
    let both = reviews.len() > 1;
    for (place, review) in reviews.iter().enumerate() {
        let said = patient::said(review, order.exercise(review.session.side), words);
        if place > 0 {
            output::say("\n")?;
        }
        output::say(&selfcheck::terminal(&said, output::colour()))?;
        if place == 0 && !said.untranslated.is_empty() {
            output::mention(
                &format!(
                    "{} texts of this exercise have no words in `{}` and are shown as they stand in its file",
                    said.untranslated.len(),
                    args.lang
                ),
                quiet,
            );
        }
        if let Some(out) = &args.out {
            let mut folder = out.clone();
            if both {
                folder.push(review.session.side.id());
            }
            let page = selfcheck::page(&said)
                .map_err(|error| report::refused(selfcheck::FILE_NAME, error))?;
            std::fs::create_dir_all(&folder)
                .map_err(|error| report::write_fault(&folder, &error))?;
            report::clear(&folder);
            let path = report::write_file(
                &folder,
                selfcheck::FILE_NAME,
                page.as_bytes(),
                report::Settling::Now,
            )?;
            output::mention(&format!("wrote {}", path.display()), quiet);
        }
    }
    Ok(())
}

fn words<'a>(id: &str, models: &'a Models) -> Result<Words<'a>, Fault> {
    models.patient.words(id).ok_or_else(|| {
        let known: Vec<String> = models
            .patient
            .languages
            .iter()
            .map(|language| format!("{} ({})", language.id, language.name))
            .collect();
        Fault::new(
            FaultKind::Usage,
            "usage/bad-value",
            format!("there are no words in `{id}`"),
            Place::default().field("--lang"),
            format!("one of {}", known.join(", ")),
        )
    })
}
