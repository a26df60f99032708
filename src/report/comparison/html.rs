//! `compare.html`: the comparison on one page that works offline, without a script.

use super::super::chart::Drawn;
use super::super::context::Context;
use super::{RowWords, Sheet, plot};
use crate::compare::{Comparison, Row};
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("../page/compare.html");
const STYLE: &str = include_str!("../page/page.css");

/// A measure with its drawings.
#[derive(Debug, Serialize)]
struct Plate {
    row: RowWords,
    svgs: Vec<String>,
}

/// The page.
///
/// # Errors
/// When a drawing or the template fails, which no data should cause.
pub fn page(comparison: &Comparison, context: &Context) -> Drawn<String> {
    let sheet = Sheet::of(comparison, context);
    let with_difference = |row: &&Row| row.difference.is_some();
    let plates = comparison
        .measures
        .iter()
        .filter(with_difference)
        .zip(&sheet.compared)
        .map(|(row, words)| plate(row, words, &sheet.minus))
        .collect::<Drawn<Vec<Plate>>>()?;
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("compare.html", TEMPLATE)?;
    Ok(environment.get_template("compare.html")?.render(context! {
        sheet => Value::from(Serde(&sheet)),
        plates => Value::from(Serde(&plates)),
        style => Value::from_safe_string(STYLE.to_string()),
        program => concat!("scaplane ", env!("CARGO_PKG_VERSION")),
    })?)
}

fn plate(row: &Row, words: &RowWords, minus: &str) -> Drawn<Plate> {
    let [a, b] = &words.values;
    let values = format!("{}, mean and 95 % interval. A: {a}. B: {b}.", words.title);
    let difference = format!("{}. {}", words.title, words.sentence);
    Ok(Plate {
        svgs: [
            plot::values(row, &values)?,
            plot::difference(row, minus, &difference)?,
        ]
        .into_iter()
        .flatten()
        .collect(),
        row: words.clone(),
    })
}
