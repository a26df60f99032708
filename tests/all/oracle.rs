//! Numbers of `scaplane::dsp` against those of NumPy and SciPy, case by case.
//!
//! With SCAPLANE_PYTHON naming a Python that has SciPy, `tests/oracle/make.py` is run and its answers are used;
//! without it the stored `tests/oracle/cases.json`, made by the same script. Each test prints which, and asserts
//! how many cases it compared.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use scaplane::dsp::DspError;
use scaplane::dsp::butterworth::{dual_pass_cutoff, lowpass_ba, lowpass_sos, zero_phase_response};
use scaplane::dsp::fit::{deming, weighted_line, york};
use scaplane::dsp::holm::holm;
use scaplane::dsp::integrate::trapezoid;
use scaplane::dsp::interpolate::{Origin, Shape, resample};
use scaplane::dsp::mann_kendall::{Method, exact_upper_tail, mann_kendall};
use scaplane::dsp::peaks::{PeakRule, find_peaks};
use scaplane::dsp::robust::{HampelRule, hampel_flags, mad, median, robust_sd};
use scaplane::dsp::sparc::sparc;
use scaplane::dsp::theil_sen::theil_sen;
use scaplane::dsp::zero_phase::{
    filtfilt, lfilter_zi, sosfilt_zi, sosfiltfilt, zero_phase_lowpass,
};
use serde_json::Value;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/oracle")
}

/// All cases, made or read once for all tests, and where they came from.
fn oracle() -> &'static (Value, String) {
    static ORACLE: OnceLock<(Value, String)> = OnceLock::new();
    ORACLE.get_or_init(|| {
        let (path, _keep, from) = match std::env::var_os("SCAPLANE_PYTHON") {
            Some(python) => {
                let dir = tempfile::tempdir().expect("a temporary folder");
                let path = dir.path().join("cases.json");
                let run = Command::new(&python)
                    .arg(folder().join("make.py"))
                    .arg(&path)
                    .output()
                    .unwrap_or_else(|e| panic!("SCAPLANE_PYTHON cannot be run: {e}"));
                assert!(
                    run.status.success(),
                    "make.py failed: {}",
                    String::from_utf8_lossy(&run.stderr)
                );
                (path, Some(dir), "made now by SCAPLANE_PYTHON")
            }
            None => (folder().join("cases.json"), None, "stored"),
        };
        let text = std::fs::read_to_string(path).expect("the cases can be read");
        let all: Value = serde_json::from_str(&text).expect("the cases are JSON");
        let from = format!("{from}, versions {}", all["versions"]);
        (all, from)
    })
}

/// Runs `check` on every case of a kind and asserts their number.
fn each(kind: &str, least: usize, check: impl Fn(&Value)) {
    let (all, from) = oracle();
    let cases = all["cases"][kind].as_array().expect("the kind is there");
    for case in cases {
        check(case);
    }
    println!("oracle {kind}: {} cases ({from})", cases.len());
    assert!(cases.len() >= least, "{kind}: {} cases", cases.len());
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().expect("a list").iter().map(number).collect()
}

fn counts(v: &Value) -> Vec<usize> {
    numbers(v).iter().map(|n| *n as usize).collect()
}

fn order(v: &Value) -> usize {
    number(&v["order"]) as usize
}

/// Equal to 1e-9 of `scale` or of the value wanted, whichever is larger.
#[track_caller]
fn close_on(got: f64, want: f64, scale: f64, case: &Value) {
    let allowed = 1e-9 * want.abs().max(scale);
    assert!((got - want).abs() <= allowed, "{got} is not {want}: {case}");
}

#[track_caller]
fn close(got: f64, want: f64, case: &Value) {
    close_on(got, want, 0.0, case);
}

/// Signals are compared on their own largest value: a sample that crosses 0 has no relative error.
#[track_caller]
fn all_close(got: &[f64], want: &Value, case: &Value) {
    let want = numbers(want);
    assert_eq!(got.len(), want.len(), "{case}");
    let scale = want.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    for (g, w) in got.iter().zip(want) {
        close_on(*g, w, scale, case);
    }
}

#[test]
fn butterworth_designs() {
    each("butter", 64, |c| {
        let (fc, fs) = (number(&c["cutoff_hz"]), number(&c["rate_hz"]));
        let sos = lowpass_sos(order(c), fc, fs).unwrap();
        let zi = sosfilt_zi(&sos).unwrap();
        let rows = c["sos"].as_array().unwrap();
        assert_eq!(sos.len(), rows.len());
        for ((s, row), (z, zi_row)) in sos
            .iter()
            .zip(rows)
            .zip(zi.iter().zip(c["sos_zi"].as_array().unwrap()))
        {
            // Coefficients one by one: their sizes differ by many orders.
            for (got, want) in s.row().iter().zip(numbers(row)) {
                close_on(*got, want, 1e-6, c);
            }
            all_close(z, zi_row, c);
        }
        let ba = lowpass_ba(order(c), fc, fs).unwrap();
        all_close(&ba.a, &c["a"], c);
        all_close(&ba.b, &c["b"], c);
        // The start of a high order at a low cut-off is a quotient of vanishing sums in either program.
        let sum: f64 = ba.a.iter().sum();
        if sum > 1e-4 {
            all_close(&lfilter_zi(&ba).unwrap(), &c["ba_zi"], c);
        }
    });
}

#[test]
fn forward_backward_filters_with_their_edges() {
    each("filters", 40, |c| {
        let (fc, fs) = (number(&c["cutoff_hz"]), number(&c["rate_hz"]));
        let x = numbers(&c["x"]);
        let run = |x: &[f64]| match c["form"].as_str() {
            Some("sos") => sosfiltfilt(&lowpass_sos(order(c), fc, fs).unwrap(), x),
            _ => filtfilt(&lowpass_ba(order(c), fc, fs).unwrap(), x),
        };
        all_close(&run(&x).unwrap(), &c["y"], c);
        let limit = number(&c["too_short"]) as usize;
        assert_eq!(
            run(&x[..limit]),
            Err(DspError::TooShort {
                have: limit,
                need: limit + 1
            })
        );
    });
}

#[test]
fn zero_phase_low_pass() {
    each("zero_phase", 7, |c| {
        let (fc, fs) = (number(&c["cutoff_hz"]), number(&c["rate_hz"]));
        close(
            dual_pass_cutoff(fc, fs).unwrap(),
            number(&c["design_hz"]),
            c,
        );
        all_close(
            &zero_phase_lowpass(&numbers(&c["x"]), fc, fs).unwrap(),
            &c["y"],
            c,
        );
        for (f, want) in numbers(&c["f_hz"]).iter().zip(numbers(&c["response"])) {
            close(zero_phase_response(*f, fc, fs).unwrap(), want, c);
        }
    });
}

#[test]
fn peaks_and_prominences() {
    each("peaks", 250, |c| {
        let setting = |key: &str| c["rule"].get(key).map(number);
        let rule = PeakRule {
            least_height: setting("height"),
            least_prominence: setting("prominence"),
            least_distance: setting("distance").map(|d| d as usize),
        };
        let found = find_peaks(&numbers(&c["x"]), &rule).unwrap();
        let places = |of: fn(&scaplane::dsp::peaks::Peak) -> usize| -> Vec<usize> {
            found.iter().map(of).collect()
        };
        assert_eq!(places(|p| p.index), counts(&c["index"]), "{c}");
        assert_eq!(places(|p| p.first), counts(&c["first"]), "{c}");
        assert_eq!(places(|p| p.last), counts(&c["last"]), "{c}");
        assert_eq!(places(|p| p.left_base), counts(&c["left_base"]), "{c}");
        assert_eq!(places(|p| p.right_base), counts(&c["right_base"]), "{c}");
        let prominence: Vec<f64> = found.iter().map(|p| p.prominence).collect();
        all_close(&prominence, &c["prominence"], c);
    });
}

#[test]
fn theil_sen_lines() {
    each("theil_sen", 72, |c| {
        let line = theil_sen(
            &numbers(&c["x"]),
            &numbers(&c["y"]),
            number(&c["confidence"]),
        )
        .unwrap();
        close(line.slope, number(&c["slope"]), c);
        close_on(line.intercept, number(&c["intercept"]), 1.0, c);
        close(line.low, number(&c["low"]), c);
        close(line.high, number(&c["high"]), c);
    });
}

#[test]
fn mann_kendall_tests() {
    each("mann_kendall", 57, |c| {
        let found = mann_kendall(&numbers(&c["y"])).unwrap();
        assert_eq!(found.s as f64, number(&c["s"]), "{c}");
        close(found.p, number(&c["p"]), c);
        let normal = c["kind"] == "normal";
        assert_eq!(found.method == Method::Normal, normal);
        if normal {
            close(found.variance, number(&c["variance"]), c);
        }
    });
}

/// The table of smallest significant `S`: each entry is the first that does not exceed its level, and its tail
/// is the one stated to the five decimals printed.
#[test]
fn mann_kendall_table() {
    let text = std::fs::read_to_string(folder().join("mann-kendall-exact.json")).unwrap();
    let table: Value = serde_json::from_str(&text).unwrap();
    let mut entries = 0;
    for (n, row) in table.as_object().unwrap() {
        let n: usize = n.parse().unwrap();
        let most = (n * (n - 1) / 2) as i64;
        for (column, level) in [
            ("one10", 0.10),
            ("one05", 0.05),
            ("two05", 0.025),
            ("one01", 0.01),
        ] {
            // S moves in steps of two from the largest.
            let first = (-most..=most)
                .step_by(2)
                .find(|s| exact_upper_tail(n, *s).unwrap() <= level);
            match row[column].as_array() {
                Some(entry) => {
                    let s = number(&entry[0]) as i64;
                    assert_eq!(first, Some(s), "n {n} {column}");
                    let tail = exact_upper_tail(n, s).unwrap();
                    assert!(
                        (tail - number(&entry[1])).abs() < 6e-6,
                        "n {n} {column} {tail}"
                    );
                }
                None => assert_eq!(first, None, "n {n} {column}"),
            }
            entries += 1;
        }
    }
    println!("Mann-Kendall table: {entries} entries");
    assert_eq!(entries, 40);
}

#[test]
fn pchip_curves() {
    for (kind, least) in [("pchip", 18), ("hooks", 40)] {
        each(kind, least, pchip_case);
    }
}

fn pchip_case(c: &Value) {
    let (x, y, at) = (numbers(&c["x"]), numbers(&c["y"]), numbers(&c["at"]));
    let seen: Vec<Option<f64>> = y.iter().copied().map(Some).collect();
    let got = resample(&x, &seen, &at, f64::INFINITY, Shape::Monotone).unwrap();
    assert!(!got.origin.contains(&Origin::Missing));
    let got: Vec<f64> = got.value.into_iter().flatten().collect();
    all_close(&got, &c["value"], c);
}

#[test]
fn linear_interpolation() {
    each("linear", 3, |c| {
        let seen: Vec<Option<f64>> = numbers(&c["y"]).into_iter().map(Some).collect();
        let (x, at) = (numbers(&c["x"]), numbers(&c["at"]));
        let got = resample(&x, &seen, &at, f64::INFINITY, Shape::Linear).unwrap();
        let got: Vec<f64> = got.value.into_iter().flatten().collect();
        all_close(&got, &c["value"], c);
    });
}

#[test]
fn spectral_arc_length() {
    each("sparc", 60, |c| {
        let got = sparc(&numbers(&c["speed"]), number(&c["rate_hz"])).unwrap();
        close(got, number(&c["sparc"]), c);
    });
}

#[test]
fn straight_lines() {
    each("lines", 20, |c| {
        let [x, y, sx, sy] = ["x", "y", "sd_x", "sd_y"].map(|key| numbers(&c[key]));
        // The minimiser of the oracle finds the slope to about 1e-8.
        let near = |got: f64, want: &Value| {
            let want = number(want);
            assert!(
                (got - want).abs() <= 1e-7 * want.abs().max(1.0),
                "{got} {want} {c}"
            );
        };
        near(york(&x, &y, &sx, &sy).unwrap().slope, &c["york"]);
        for pair in c["deming"].as_array().unwrap() {
            near(deming(&x, &y, number(&pair[0])).unwrap().slope, &pair[1]);
        }
        let line = weighted_line(&x, &y, &sy).unwrap();
        close_on(line.slope, number(&c["weighted"][0]), 1.0, c);
        close_on(line.intercept, number(&c["weighted"][1]), 1.0, c);
        close(line.slope_se, number(&c["weighted_se"][0]), c);
        close(line.intercept_se, number(&c["weighted_se"][1]), c);
    });
}

#[test]
fn small_sums() {
    each("small", 5, |c| {
        let (x, t) = (numbers(&c["x"]), numbers(&c["t"]));
        close(median(&x).unwrap(), number(&c["median"]), c);
        close(mad(&x).unwrap(), number(&c["mad"]), c);
        close(robust_sd(&x).unwrap(), number(&c["sd"]), c);
        close_on(trapezoid(&t, &x).unwrap(), number(&c["area"]), 1.0, c);
        all_close(&holm(&numbers(&c["p"])).unwrap(), &c["holm"], c);
    });
}

#[test]
fn hampel() {
    each("hampel", 9, |c| {
        let rule = HampelRule {
            half_window: number(&c["half_window"]) as usize,
            threshold: number(&c["threshold"]),
            floor: 0.0,
        };
        let x: Vec<Option<f64>> = numbers(&c["x"]).into_iter().map(Some).collect();
        let want: Vec<bool> = c["flags"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f.as_bool().unwrap())
            .collect();
        assert_eq!(hampel_flags(&x, &rule).unwrap(), want, "{c}");
    });
}

/// SciPy `Rotation`: intrinsic Y-X'-Y'' and Y-X'-Z'' angles. SciPy's middle angle of Y-X'-Y'' lies in 0..180
/// about the other sense of X; the same rotation with the program's positive elevation has both outer angles
/// half a turn on.
#[test]
fn rotation() {
    use scaplane::geom::{wrap_180, y_x_y_deg, y_x_z_deg};
    each("rotations", 60, |case| {
        let rows: Vec<Vec<f64>> = case["matrix"]
            .as_array()
            .expect("rows")
            .iter()
            .map(numbers)
            .collect();
        let matrix = nalgebra::Matrix3::from_fn(|row, column| rows[row][column]);
        let [plane, elevation, axial] = y_x_y_deg(&matrix);
        let wanted = numbers(&case["yxy"]);
        // SciPy: R = Ry(a) Rx(b) Ry(c) with b in 0..180; here b = -elevation.
        let allowed = 1e-9 * 180.0 / elevation.to_radians().sin().abs().max(1e-3);
        let near = |got: f64, want: f64| {
            assert!(
                wrap_180(got - want).abs() <= allowed,
                "{got} is not {want}: {case}"
            );
        };
        if wanted[1] >= 0.0 {
            near(elevation, wanted[1]);
            near(plane, wanted[0] + 180.0);
            near(axial, wanted[2] + 180.0);
        } else {
            near(elevation, -wanted[1]);
            near(plane, wanted[0]);
            near(axial, wanted[2]);
        }
        let [protraction, upward, tilt] = y_x_z_deg(&matrix);
        let wanted = numbers(&case["yxz"]);
        let allowed = 1e-9 * 180.0 / upward.to_radians().cos().abs().max(1e-3);
        for (got, want) in [
            (protraction, wanted[0]),
            (upward, -wanted[1]),
            (tilt, wanted[2]),
        ] {
            assert!(
                wrap_180(got - want).abs() <= allowed,
                "{got} is not {want}: {case}"
            );
        }
    });
}
