//! Every measure has a floor or the words why not; a broken file is refused; computed floors follow from their source.

use super::*;

const FLOORS: &str = "floors.toml";

#[test]
fn a_broken_floor_is_refused_with_its_place() {
    for (from, to, key, word) in [
        (
            "floor_deg = 11.0",
            "floor_s = 11.0",
            "floor_deg",
            "no single floor",
        ),
        (
            "floor_deg = 11.0",
            "floor_deg = 0.0",
            "floor_deg",
            "no single floor",
        ),
        (
            "floor_deg = 11.0",
            "floor_deg = 11.0\nfloor = 1.0",
            "floor_deg",
            "no single floor",
        ),
        (
            "measure = \"outward-rotation-peak\"",
            "measure = \"outward-rotation-pick\"",
            "measure",
            "no measure",
        ),
        (
            "measure = \"elevation-range\"",
            "measure = \"peak-elevation\"",
            "measure",
            "twice",
        ),
        (
            "measures = [\"arc-exposure\"]",
            "measures = []",
            "whole file",
            "arc-exposure",
        ),
        (
            "source = \"kolber-2011\"",
            "source = \"kolber-2012\"",
            "peak-elevation",
            "no source",
        ),
        (
            "note = \"As for the highest elevation.\"",
            "note = \" \"",
            "note",
            "empty",
        ),
    ] {
        refused(FLOORS, from, to, key, word);
    }
}

#[test]
fn every_measure_has_a_floor_or_the_words_why_not() {
    let models = shipped();
    assert_eq!(models.floors.len(), vocabulary::MEASURES.len());
    let with = models.floors.values().filter(|floor| floor.value.is_some());
    assert!(with.count() >= 20);
    for floor in models.floors.values() {
        assert_eq!(floor.value.is_some(), !floor.sources.is_empty());
    }
}

/// MDC95 = 1.96 x root two x SEM, and MDC95 = MDC90 x 1.960 / 1.645.
#[test]
fn computed_floors_follow_from_their_sources() {
    let models = shipped();
    let (rest, at_90, at_120): (f64, f64, f64) = (2.0, 4.7, 5.6);
    let change = |a: f64, b: f64, over: f64| 1.96 * 2f64.sqrt() * a.hypot(b) / over;
    let of_90 = |mdc90: f64| mdc90 * 1.960 / 1.645;
    for (measure, computed, within) in [
        ("setting-rotation", change(rest, rest, 1.0), 0.05),
        (
            "rhythm-share-raise-30-top",
            change(rest, at_120, 90.0),
            0.005,
        ),
        ("rhythm-share-raise-30-60", change(rest, at_90, 30.0), 0.005),
        (
            "rhythm-share-raise-60-90",
            change(at_90, at_90, 30.0),
            0.005,
        ),
        (
            "rhythm-share-raise-90-120",
            change(at_90, at_120, 30.0),
            0.005,
        ),
        // Rounded up to whole degrees.
        ("peak-elevation", of_90(8.0), 0.5),
        ("outward-rotation-peak", of_90(9.0), 0.5),
        ("arc-internal-rotation", of_90(8.0), 0.5),
    ] {
        let floor = models.floors.get(measure).and_then(|floor| floor.value);
        let off = floor.expect(measure) - computed;
        assert!(off.abs() <= within, "{measure}: {floor:?} for {computed}");
    }
}
