//! `note.html`: the note as one printed page.

use super::Sheet;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};

const TEMPLATE: &str = include_str!("../page/note.html");
const STYLE: &str = include_str!("../page/page.css");

/// The page.
///
/// # Errors
/// When the template fails, which no data should cause.
pub fn note_page(sheet: &Sheet) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("note.html", TEMPLATE)?;
    environment.get_template("note.html")?.render(context! {
        sheet => Value::from(Serde(sheet)),
        style => Value::from_safe_string(STYLE.to_string()),
    })
}
