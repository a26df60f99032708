//! `review.html`: the clinician's page, one file that works offline.
//!
//! In: a review and its context. Out: one HTML text with its style, script, drawings and series inside. It
//! asks for nothing over the network, which its own content policy enforces; without a script it still reads
//! in full, with the figure at its worst moment.

use super::chart::Drawn;
use super::context::Context;
use super::curves::{self, Form, Limits};
use super::figure::{self, Skeleton};
use super::finite::finite;
use super::view::View;
use super::{embed, margins, words};
use crate::session::{Review, Session, Toward};
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("page/review.html");
const STYLE: &str = include_str!("page/page.css");
const SCRIPT: &str = include_str!("page/page.js");

/// Most margin plots: what a reader takes in at a glance.
const MOST_MARGIN_PLOTS: usize = 3;

/// A drawing with its words; `svgs` holds one form or a wide and a narrow one.
#[derive(Debug, Serialize)]
struct Plate {
    id: String,
    title: String,
    svgs: Vec<String>,
    caption: String,
    /// Whether the lines of way out and way back need a key.
    two_ways: bool,
    /// Words of the shaded band, empty where there is none.
    band: String,
    /// Why there is no drawing, empty where there is one.
    absent: String,
}

/// The page.
///
/// # Errors
/// When a drawing or the template fails, which no data should cause.
pub fn page(review: &Review, context: &Context) -> Drawn<String> {
    let review = Review {
        session: finite(&review.session),
        traces: review.traces.clone(),
    };
    let view = View::of(&review.session, context);
    let skeleton = Skeleton::of(&review.traces.figure, review.session.side);
    let moment = worst_moment(&review, &view);
    let caption = match &view.findings.first() {
        Some(row) => format!(
            "Repetition {}{}: {}",
            row.worst_rep,
            row.moment
                .as_ref()
                .map(|m| format!(", {m}"))
                .unwrap_or_default(),
            row.text
        ),
        None => "Start of the first repetition.".to_string(),
    };
    let figure = (!skeleton.bones.is_empty()).then(|| {
        figure::svg(
            &review.traces.figure,
            &skeleton,
            moment,
            "Stick figure of the recording",
        )
    });
    let margins = margin_plates(&review.session, context)?;
    let (main, pair, elbow) = curve_plates(&review, context)?;
    let signals = ["elevation", "plane", "upward-rotation", "girdle-elevation"];
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("review.html", TEMPLATE)?;
    let page = environment.get_template("review.html")?.render(context! {
        view => Value::from(Serde(&view)),
        style => Value::from_safe_string(STYLE.to_string()),
        script => Value::from_safe_string(SCRIPT.to_string()),
        series => Value::from_safe_string(embed::series(&review, &skeleton, &signals)),
        figure => figure.map(Value::from_safe_string),
        figure_caption => caption,
        film => Value::from(Serde(&context.film)),
        first_frame => moment,
        replayable => embed::kept_frames(&review.traces.times_s).len() > 1,
        outward => named(&context.outward, "way out"),
        back => named(&context.back, "way back"),
        margins => Value::from(Serde(&margins)),
        main => Value::from(Serde(&main)),
        pair => Value::from(Serde(&pair)),
        elbow => Value::from(Serde(&elbow)),
    })?;
    Ok(page)
}

fn named<'a>(name: &'a str, otherwise: &'a str) -> &'a str {
    match name {
        "" => otherwise,
        name => name,
    }
}

/// Frame shown first: of the worst finding, else the top of the first repetition, else the start.
fn worst_moment(review: &Review, view: &View) -> usize {
    let found = view.findings.iter().find_map(|row| row.frame);
    let first = review.session.reps.first().map(|rep| rep.peak_frame);
    found.or(first).unwrap_or(0) as usize
}

/// Margin plots of the trends that are claimed; without any, of the worst finding's measure.
fn margin_plates(session: &Session, context: &Context) -> Drawn<Vec<Plate>> {
    let claimed = |toward: Toward| {
        session
            .sets
            .iter()
            .flat_map(|set| set.drift.iter().map(move |drift| (set.number, drift)))
            .filter(move |(_, drift)| drift.toward == toward)
    };
    let chosen = claimed(Toward::Outside).chain(claimed(Toward::Inside));
    let mut plates = Vec::new();
    for (set, drift) in chosen.take(MOST_MARGIN_PLOTS) {
        let title = context.title(&drift.measure);
        let name = format!(
            "{title}: margin to the limit by repetition, set {set}. {}",
            drift.text
        );
        let Some(svg) = margins::margins(drift, &name)? else {
            continue;
        };
        let set_words = match session.sets.len() {
            0 | 1 => String::new(),
            _ => format!(", set {set}"),
        };
        plates.push(Plate {
            id: format!("margin-{}", plates.len() + 1),
            title: format!("Margin of {}{set_words}", words::lower(&title)),
            svgs: vec![svg],
            caption:
                "Distance of each repetition from the nearest limit with its 95 % interval; below \
                      zero is outside. The dashed line is the trend."
                    .to_string(),
            two_ways: false,
            band: String::new(),
            absent: String::new(),
        });
    }
    Ok(plates)
}

/// A signal over time with the limits of a measure of it.
fn over_time(
    review: &Review,
    id: &str,
    signal: &str,
    title: &str,
    of: &str,
    limits: Option<Limits>,
) -> Drawn<Plate> {
    let mut svgs = Vec::new();
    for form in [Form::Wide, Form::Narrow] {
        let name = format!("{title}, with the repetitions numbered and marked");
        svgs.extend(curves::over_time(review, signal, &name, limits, form)?);
    }
    let absent = match svgs.is_empty() {
        true => format!("{title}: this signal could not be measured in the clip."),
        false => String::new(),
    };
    let limit_words = match limits {
        Some([None, None]) | None => String::new(),
        Some(limit) => format!(
            " Dashed: the limits of the {}, {}.",
            words::lower(of),
            words::limit(limit, "deg")
        ),
    };
    Ok(Plate {
        id: id.to_string(),
        title: title.to_string(),
        svgs,
        caption: format!(
            "Each shaded stretch is a repetition, with its number and verdict.{limit_words}"
        ),
        two_ways: false,
        band: String::new(),
        absent,
    })
}

/// Elevation over time, the pair against elevation, and the elbow path where the exercise judges it.
fn curve_plates(review: &Review, context: &Context) -> Drawn<(Plate, Vec<Plate>, Option<Plate>)> {
    let main = over_time(
        review,
        "elevation",
        "elevation",
        "Elevation of the arm over time",
        &context.title("peak-elevation"),
        context.limit("peak-elevation").map(|row| row.limit),
    )?;
    let elbow = match context.limit("elbow-path") {
        None => None,
        Some(row) => Some(over_time(
            review,
            "elbow-path",
            "elbow-path",
            "Elbow path over time",
            &context.title("elbow-path"),
            Some(row.limit),
        )?),
    };
    let mut pair = vec![rhythm_plate(review, context)?];
    pair.extend(plane_plate(review, context)?);
    Ok((main, pair, elbow))
}

fn rhythm_plate(review: &Review, context: &Context) -> Drawn<Plate> {
    let signal = curves::rhythm_signal(review);
    let svg = curves::rhythm(review, context)?;
    let blade = signal == Some("upward-rotation");
    let basis = signal
        .and_then(|signal| review.traces.basis.get(signal))
        .map_or("", |basis| words::basis(*basis));
    let title = match (blade, signal) {
        (true, _) => "Upward rotation of the shoulder blade".to_string(),
        (false, Some(_)) => "Rise of the shoulder point (proxy)".to_string(),
        (false, None) => "Scapulohumeral rhythm".to_string(),
    };
    let caption = match (blade, signal) {
        (true, _) => format!(
            "Evidence: {basis}. Compare the slope, not the height: where the points sit on the blade shifts the \
             whole curve.{}",
            match context.skin_trusted_to_deg {
                Some(deg) => format!(
                    " Above {deg:.0}° skin no longer follows the blade: the rhythm leaves that part out."
                ),
                None => String::new(),
            }
        ),
        (false, Some(_)) => "No point on the shoulder blade is in the track. This is the rise of the shoulder \
                             point about the collar bone, not the rotation of the blade, so no published band \
                             stands behind it."
            .to_string(),
        (false, None) => String::new(),
    };
    let banded = blade && context.rotation_band.len() > 1;
    Ok(Plate {
        id: "rhythm".to_string(),
        title,
        absent: match svg {
            Some(_) => String::new(),
            None => "Neither the shoulder blade nor the rise of the shoulder point could be measured in a \
                     complete repetition."
                .to_string(),
        },
        two_ways: svg.is_some(),
        band: match banded && svg.is_some() {
            true => format!(
                "healthy people raising the arm, mean ± 2 SD ({})",
                context.rotation_source
            ),
            false => String::new(),
        },
        svgs: svg.into_iter().collect(),
        caption,
    })
}

fn plane_plate(review: &Review, context: &Context) -> Drawn<Option<Plate>> {
    let svg = curves::plane(review, context)?;
    let limits = context.plane_limits_deg();
    if svg.is_none() && limits.is_none() {
        return Ok(None);
    }
    Ok(Some(Plate {
        id: "plane".to_string(),
        title: "Plane of elevation".to_string(),
        absent: match svg {
            Some(_) => String::new(),
            None => {
                "The plane of elevation could not be measured in a complete repetition.".to_string()
            }
        },
        two_ways: svg.is_some(),
        band: limits
            .filter(|_| svg.is_some())
            .map_or(String::new(), |(low, high)| {
                format!(
                    "the limits, {}",
                    words::limit([Some(low), Some(high)], "deg")
                )
            }),
        svgs: svg.into_iter().collect(),
        caption: "0° is straight to the side, 90° straight ahead.".to_string(),
    }))
}
