//! Contrast of the patient's page, reckoned from its style: every colour of text on every ground, light and dark.

use std::collections::BTreeMap;

/// Least contrast of text (WCAG 2.2, success criterion 1.4.3).
const LEAST: f64 = 4.5;
/// Grounds that text stands on.
const GROUNDS: [&str; 3] = ["paper", "card", "care"];

fn style() -> String {
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/report/page/selfcheck.css");
    std::fs::read_to_string(path).expect("the style")
}

/// Relative luminance of a colour such as `#2a251f` or `#fff` (WCAG 2.2).
fn luminance(hex: &str) -> f64 {
    let digits: Vec<char> = hex.trim_start_matches('#').chars().collect();
    let wide = |at: usize| match digits.len() {
        3 => format!("{0}{0}", digits[at]),
        _ => digits[2 * at..2 * at + 2].iter().collect(),
    };
    let part = |at: usize| {
        let value = f64::from(u8::from_str_radix(&wide(at), 16).expect("a colour")) / 255.0;
        match value <= 0.04045 {
            true => value / 12.92,
            false => ((value + 0.055) / 1.055).powf(2.4),
        }
    };
    0.2126 * part(0) + 0.7152 * part(1) + 0.0722 * part(2)
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The palettes in order: light, dark, print.
fn palettes(style: &str) -> Vec<BTreeMap<&str, &str>> {
    style
        .split(":root {")
        .skip(1)
        .map(|rest| {
            let block = rest.split_once('}').expect("a block").0;
            block
                .split(';')
                .filter_map(|line| line.trim().strip_prefix("--")?.split_once(':'))
                .map(|(name, value)| (name.trim(), value.trim()))
                .collect()
        })
        .collect()
}

#[test]
fn text_keeps_its_contrast_in_every_palette() {
    assert!((contrast("#000", "#ffffff") - 21.0).abs() < 1e-9);
    let style = style();
    let texts: Vec<&str> = style
        .match_indices("color: var(--")
        .filter(|(at, _)| !style[..*at].ends_with("border-"))
        .map(|(at, found)| style[at + found.len()..].split(')').next().expect("a name"))
        .collect();
    assert!(texts.len() >= 2, "{texts:?}");
    let grounds: Vec<&str> = style
        .match_indices("background: var(--")
        .map(|(at, found)| style[at + found.len()..].split(')').next().expect("a name"))
        .collect();
    assert!(
        grounds.iter().all(|ground| GROUNDS.contains(ground)),
        "{grounds:?}"
    );
    let palettes = palettes(&style);
    assert_eq!(palettes.len(), 3);
    for palette in &palettes {
        for text in &texts {
            for ground in GROUNDS {
                let found = contrast(palette[text], palette[ground]);
                assert!(found >= LEAST, "{text} on {ground}: {found:.2}");
            }
        }
        // Strokes that carry meaning: 3 to 1 (success criterion 1.4.11).
        for stroke in ["now", "aim", "ink"] {
            assert!(
                contrast(palette[stroke], palette["paper"]) >= 3.0,
                "{stroke}"
            );
        }
    }
}
