//! Published curves and values that the program shows beside a reading or is tested against.

use serde::{Deserialize, Serialize};

use super::error::ModelError;
use super::source::SourceStatus;

/// One published value, or one point of a published curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reference {
    /// Kebab-case name of the quantity, for example `st-upward-rotation`.
    pub quantity: String,
    /// `abduction`, `scaption`, `flexion`, or empty when the value belongs to no plane.
    pub plane: String,
    /// Elevation it belongs to in degrees: one number, a range `30-120`, or empty.
    pub elevation_deg: String,
    /// The value in `unit`.
    pub value: f64,
    /// Between-person standard deviation in `unit`; absent where none was published.
    pub sd: Option<f64>,
    /// Unit: `deg`, `1` (pure number), `wk`, `mm`.
    pub unit: String,
    /// Id in `sources.toml`.
    pub source: String,
    /// How far the number was checked.
    pub status: SourceStatus,
}

impl Reference {
    /// The elevation in degrees where the value belongs to exactly one.
    #[must_use]
    pub fn at_deg(&self) -> Option<f64> {
        self.elevation_deg.parse().ok()
    }

    /// First and last elevation in degrees of the range the value belongs to.
    #[must_use]
    pub fn range_deg(&self) -> Option<(f64, f64)> {
        let (low, high) = self.elevation_deg.split_once('-')?;
        Some((low.parse().ok()?, high.parse().ok()?))
    }
}

/// Reads `references.csv`.
pub(crate) fn read(text: &str, faults: &mut Vec<ModelError>) -> Vec<Reference> {
    let mut rows = Vec::new();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    for (i, row) in reader.deserialize::<Reference>().enumerate() {
        // The head is line 1.
        let key = format!("line {}", i + 2);
        match row {
            Ok(row) => {
                let place_known = row.elevation_deg.is_empty()
                    || row.at_deg().is_some()
                    || row.range_deg().is_some_and(|(low, high)| low < high);
                let sd_sound = row.sd.is_none_or(|sd| sd.is_finite() && sd >= 0.0);
                if !(place_known && sd_sound && row.value.is_finite()) {
                    faults.push(ModelError::new(
                        "references.csv",
                        key,
                        format!("`{}` has a number that is no number or no range", row.quantity),
                        "elevation_deg is empty, one number or low-high; sd is empty or not negative",
                    ));
                }
                rows.push(row);
            }
            Err(error) => faults.push(ModelError::new(
                "references.csv",
                key,
                error.to_string(),
                "columns: quantity,plane,elevation_deg,value,sd,unit,source,status",
            )),
        }
    }
    rows
}
