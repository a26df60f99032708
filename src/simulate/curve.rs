//! Scapula and clavicle posture as a function of the arm's elevation and plane.
//!
//! In: thoracohumeral elevation and plane of elevation in degrees. Out: the angles of
//! the scapula in the thorax and of the clavicle, in degrees, for a healthy shoulder
//! or for a curve given by the user. It knows nothing about faults or time.
//!
//! Source of the published tables: Ludewig et al. 2009 (J Bone Joint Surg Am 91:378-389,
//! bone pins, n = 12), values at 30, 60, 90 and 120 degrees of elevation as digitised
//! in the open Spartacus data set (10.5281/zenodo.11455521).

use serde::{Deserialize, Serialize};

/// Angles of one shoulder girdle in degrees.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GirdlePose {
    /// Scapular upward rotation; up is positive.
    pub upward_rotation_deg: f64,
    /// Scapular tilt; posterior is positive.
    pub tilt_deg: f64,
    /// Scapular internal rotation (protraction of the blade); internal is positive.
    pub internal_rotation_deg: f64,
    /// Clavicle elevation; up is positive.
    pub clavicle_elevation_deg: f64,
    /// Clavicle protraction; forward is positive, so a retracted clavicle is negative.
    pub clavicle_protraction_deg: f64,
}

/// Which curve of upward rotation the simulated shoulder follows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Curve {
    /// The published tables, the same way up and down.
    #[default]
    Published,
    /// Upward rotation against elevation, `(elevation_deg, upward_rotation_deg)` in
    /// rising order of elevation, raising and lowering apart. The clavicle rises with
    /// it in the published proportion.
    Table {
        /// The course while the arm goes up.
        raise: Vec<(f64, f64)>,
        /// The course while the arm comes down; empty means the same as `raise`.
        #[serde(default)]
        lower: Vec<(f64, f64)>,
    },
}

/// Values at 30, 60, 90, 120 degrees of elevation.
type Row = [f64; 4];

struct Table {
    plane_deg: f64,
    upward: Row,
    tilt: Row,
    internal: Row,
    elevation: Row,
    retraction: Row,
}

// Ludewig et al. 2009 (see the head of this file); plane of scaption taken as 40 degrees
// (laboratories use 40: Dayanidhi 2005).
const TABLES: [Table; 3] = [
    Table {
        plane_deg: 0.0,
        upward: [15.6, 26.5, 36.5, 46.4],
        tilt: [-10.2, -6.1, -2.1, 3.8],
        internal: [31.2, 30.5, 30.8, 30.6],
        elevation: [14.3, 16.8, 18.1, 19.5],
        retraction: [31.3, 37.3, 40.6, 44.0],
    },
    Table {
        plane_deg: 40.0,
        upward: [15.5, 26.0, 34.4, 43.5],
        tilt: [-11.2, -6.8, -2.8, 2.7],
        internal: [38.5, 38.8, 39.0, 37.2],
        elevation: [11.5, 14.4, 15.5, 16.9],
        retraction: [24.6, 29.0, 32.0, 36.3],
    },
    Table {
        plane_deg: 90.0,
        upward: [15.1, 24.4, 32.9, 43.3],
        tilt: [-10.4, -5.7, -1.4, 5.4],
        internal: [44.3, 46.7, 47.8, 43.5],
        elevation: [10.1, 12.0, 13.5, 14.5],
        retraction: [20.4, 22.7, 24.8, 31.7],
    },
];

// common practice, no source: in the setting phase the blade turns at about half the later
// slope on average (published single values scatter from negative to large)
const SETTING_SLOPE: f64 = 0.5;
// from memory, not verified: the slope flattens toward the end of range
const ABOVE_120_SLOPE: f64 = 0.8;
// from memory, not verified
const ABOVE_150_SLOPE: f64 = 0.4;

/// The table's row at an elevation, linear between its values and continued beyond them.
fn along(row: &Row, elevation_deg: f64) -> f64 {
    let [at30, at60, at90, at120] = *row;
    let e = elevation_deg.clamp(-30.0, 180.0);
    let low = (at60 - at30) / 30.0;
    let high = (at120 - at90) / 30.0;
    if e < 30.0 {
        at30 + SETTING_SLOPE * low * (e - 30.0)
    } else if e < 60.0 {
        at30 + low * (e - 30.0)
    } else if e < 90.0 {
        at60 + (at90 - at60) / 30.0 * (e - 60.0)
    } else if e < 120.0 {
        at90 + high * (e - 90.0)
    } else {
        let first = (e - 120.0).min(30.0);
        let second = (e - 150.0).max(0.0);
        at120 + high * (ABOVE_120_SLOPE * first + ABOVE_150_SLOPE * second)
    }
}

/// The two neighbouring planes of the tables and the weight of the second. Below 30 degrees
/// of elevation the plane loses its meaning, so every plane runs into the scapular one.
fn neighbours(elevation_deg: f64, plane_deg: f64) -> (&'static Table, &'static Table, f64) {
    let [side, scapular, ahead] = &TABLES;
    let trust = super::channel::minimum_jerk((elevation_deg - 8.0) / 22.0);
    let plane = scapular.plane_deg + (plane_deg.clamp(0.0, 90.0) - scapular.plane_deg) * trust;
    if plane <= scapular.plane_deg {
        (side, scapular, plane / scapular.plane_deg)
    } else {
        let span = ahead.plane_deg - scapular.plane_deg;
        (scapular, ahead, (plane - scapular.plane_deg) / span)
    }
}

fn published(elevation_deg: f64, plane_deg: f64) -> GirdlePose {
    let (first, second, weight) = neighbours(elevation_deg, plane_deg);
    let mix = |pick: fn(&Table) -> &Row| {
        let a = along(pick(first), elevation_deg);
        a + (along(pick(second), elevation_deg) - a) * weight
    };
    GirdlePose {
        upward_rotation_deg: mix(|t| &t.upward),
        tilt_deg: mix(|t| &t.tilt),
        internal_rotation_deg: mix(|t| &t.internal),
        clavicle_elevation_deg: mix(|t| &t.elevation),
        clavicle_protraction_deg: -mix(|t| &t.retraction),
    }
}

/// Degrees of clavicle elevation per degree of upward rotation between 30 and 120 degrees.
fn clavicle_per_upward(elevation_deg: f64, plane_deg: f64) -> f64 {
    let (first, second, weight) = neighbours(elevation_deg, plane_deg);
    let slope = |t: &Table| (t.elevation[3] - t.elevation[0]) / (t.upward[3] - t.upward[0]);
    slope(first) + (slope(second) - slope(first)) * weight
}

/// A user's table at an elevation: linear between rows, continued with the end slopes.
fn interpolate(table: &[(f64, f64)], elevation_deg: f64) -> Option<f64> {
    let after = table.partition_point(|row| row.0 <= elevation_deg);
    let index = after.clamp(1, table.len().checked_sub(1)?.max(1));
    let (x0, y0) = *table.get(index - 1)?;
    let Some(&(x1, y1)) = table.get(index) else {
        return Some(y0);
    };
    Some(y0 + (y1 - y0) * (elevation_deg - x0) / (x1 - x0))
}

/// How one person's girdle departs from the average.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GirdleHabit {
    /// Factor on every change of the girdle from its resting posture (1 is average).
    pub share_gain: f64,
    /// Added to the clavicle's elevation in degrees.
    pub elevation_offset_deg: f64,
    /// Added to the clavicle's protraction in degrees.
    pub protraction_offset_deg: f64,
    /// Added to the scapula's upward rotation in degrees.
    pub upward_offset_deg: f64,
}

impl Default for GirdleHabit {
    fn default() -> Self {
        Self {
            share_gain: 1.0,
            elevation_offset_deg: 0.0,
            protraction_offset_deg: 0.0,
            upward_offset_deg: 0.0,
        }
    }
}

impl Curve {
    /// The girdle's posture for an arm at `elevation_deg` in `plane_deg`.
    ///
    /// `lowering` is 0 on the way up, 1 on the way down and between while it changes over.
    pub fn pose(
        &self,
        elevation_deg: f64,
        plane_deg: f64,
        lowering: f64,
        habit: &GirdleHabit,
    ) -> GirdlePose {
        let mut pose = published(elevation_deg, plane_deg);
        let rest = published(0.0, plane_deg);
        if let Curve::Table { raise, lower } = self {
            let lower = if lower.is_empty() { raise } else { lower };
            let at = |e: f64| -> f64 {
                let up = interpolate(raise, e).unwrap_or(pose.upward_rotation_deg);
                let down = interpolate(lower, e).unwrap_or(up);
                up + (down - up) * lowering.clamp(0.0, 1.0)
            };
            let upward = at(elevation_deg);
            let gained = upward - rest.upward_rotation_deg;
            pose.upward_rotation_deg = upward;
            pose.clavicle_elevation_deg = rest.clavicle_elevation_deg
                + clavicle_per_upward(elevation_deg, plane_deg) * gained;
        }
        let scale = |now: f64, rest: f64| rest + (now - rest) * habit.share_gain;
        GirdlePose {
            upward_rotation_deg: scale(pose.upward_rotation_deg, rest.upward_rotation_deg)
                + habit.upward_offset_deg,
            tilt_deg: scale(pose.tilt_deg, rest.tilt_deg),
            internal_rotation_deg: pose.internal_rotation_deg,
            clavicle_elevation_deg: scale(pose.clavicle_elevation_deg, rest.clavicle_elevation_deg)
                + habit.elevation_offset_deg,
            clavicle_protraction_deg: scale(
                pose.clavicle_protraction_deg,
                rest.clavicle_protraction_deg,
            ) + habit.protraction_offset_deg,
        }
    }

    /// What is wrong with a user's table, if anything.
    pub(super) fn fault(&self) -> Option<&'static str> {
        let Curve::Table { raise, lower } = self else {
            return None;
        };
        if raise.len() < 2 || lower.len() == 1 {
            return Some("a table needs at least two rows");
        }
        for table in [raise, lower] {
            let finite = |row: &(f64, f64)| row.0.abs() <= 360.0 && row.1.abs() <= 180.0;
            if !table.iter().all(finite) {
                return Some("a table holds a value that is no angle");
            }
            if table.windows(2).any(|pair| match pair {
                [first, second] => second.0 - first.0 < 1e-6,
                _ => false,
            }) {
                return Some("elevations of a table must rise from row to row");
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn upward(curve: &Curve, e: f64, p: f64, lowering: f64) -> f64 {
        curve
            .pose(e, p, lowering, &GirdleHabit::default())
            .upward_rotation_deg
    }

    #[test]
    fn the_published_increments_come_back() {
        // Ludewig 2009: scaption 30-60 +10.5, abduction 30-120 +30.8, flexion 90-120 +10.4
        let curve = Curve::Published;
        let gain = |p, from, to| upward(&curve, to, p, 0.0) - upward(&curve, from, p, 0.0);
        assert!((gain(40.0, 30.0, 60.0) - 10.5).abs() < 1e-9);
        assert!((gain(0.0, 30.0, 120.0) - 30.8).abs() < 1e-9);
        assert!((gain(90.0, 90.0, 120.0) - 10.4).abs() < 1e-9);
        // half-way between scaption and flexion
        assert!((upward(&curve, 90.0, 65.0, 0.0) - (34.4 + 32.9) / 2.0).abs() < 1e-9);
    }

    #[test]
    fn at_rest_no_plane_differs_and_the_curve_never_jumps() {
        let curve = Curve::Published;
        assert_eq!(
            upward(&curve, 0.0, 0.0, 0.0),
            upward(&curve, 0.0, 90.0, 0.0)
        );
        for plane in [-90.0, 0.0, 20.0, 40.0, 77.0, 120.0] {
            for step in 0..1800 {
                let e = f64::from(step) / 10.0;
                let jump = upward(&curve, e + 0.1, plane, 0.0) - upward(&curve, e, plane, 0.0);
                assert!((-0.02..0.06).contains(&jump), "{plane} {e} {jump}");
            }
        }
    }

    #[test]
    fn a_table_may_differ_up_and_down_and_carries_the_clavicle() {
        let curve = Curve::Table {
            raise: vec![(30.0, 0.0), (120.0, 45.0)],
            lower: vec![(30.0, 0.0), (60.0, 15.0), (120.0, 45.0)],
        };
        assert_eq!(curve.fault(), None);
        assert!((upward(&curve, 60.0, 40.0, 0.0) - 15.0).abs() < 1e-9);
        assert!((upward(&curve, 75.0, 40.0, 0.0) - 22.5).abs() < 1e-9);
        assert!((upward(&curve, 150.0, 40.0, 0.0) - 60.0).abs() < 1e-9);
        let low = curve.pose(30.0, 40.0, 0.0, &GirdleHabit::default());
        let high = curve.pose(120.0, 40.0, 0.0, &GirdleHabit::default());
        let rise = high.clavicle_elevation_deg - low.clavicle_elevation_deg;
        // 5.4 degrees of clavicle for 28.0 of upward rotation in scaption
        assert!((rise - 45.0 * 5.4 / 28.0).abs() < 1e-9);
    }

    #[test]
    fn a_bad_table_is_named() {
        let table = |raise| Curve::Table {
            raise,
            lower: vec![],
        };
        assert!(table(vec![]).fault().is_some());
        assert!(table(vec![(0.0, 1.0)]).fault().is_some());
        assert!(table(vec![(30.0, 1.0), (20.0, 2.0)]).fault().is_some());
        assert!(table(vec![(0.0, f64::NAN), (20.0, 2.0)]).fault().is_some());
    }
}
