"""Published mean curves of the blade go in through the simulator; their rhythm must come back.

The curves are those of `models/references.csv`: upward rotation at 30, 60, 90 and 120 degrees of elevation. What is
compared is the ratio of the increments, (elevation minus rotation) over rotation, of the published numbers alone.
"""
import json
import pathlib
import tempfile

import pandas

import program
import simulated

EXERCISE_OF_PLANE = {"abduction": "frontal-raise", "scaption": "scapular-raise", "flexion": "forward-raise"}
AT_DEG = [30.0, 60.0, 90.0, 120.0]
SEEDS = 5


def curves(references):
    """Complete curves: source, plane and the four rotations."""
    table = pandas.read_csv(references, dtype={"elevation_deg": str, "status": str, "plane": str})
    table = table[table["quantity"] == "st-upward-rotation"]
    table = table.assign(at=pandas.to_numeric(table["elevation_deg"], errors="coerce"))
    for (source, plane), rows in table.groupby(["source", "plane"], sort=False):
        values = rows.drop_duplicates("at").set_index("at")["value"]
        if plane in EXERCISE_OF_PLANE and all(at in values.index for at in AT_DEG):
            yield source, plane, [float(values[at]) for at in AT_DEG]


def ratios(rotations):
    """The published ratio of each window and of 30 to 120 degrees."""
    spans = {f"{int(low)}-{int(high)}": (b - a, high - low)
             for low, high, a, b in zip(AT_DEG, AT_DEG[1:], rotations, rotations[1:])}
    spans["30-top"] = (rotations[-1] - rotations[0], 90.0)
    return {window: (span - turned) / turned for window, (turned, span) in spans.items()}


def rows(source, plane, rotations, noise, levels, seed):
    """Readings of one simulated clip with this curve beside the published ratios."""
    exercise = EXERCISE_OF_PLANE[plane]
    points = [(0.0, rotations[0] - 4), *zip(AT_DEG, rotations), (180.0, rotations[-1] + 15)]
    made = {"exercise": exercise, "side": "right", "seed": seed, "reps": 3, "share_gain": 1.0, "noise": levels,
            "curve": {"kind": "table", "raise": points}}
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "recipe.json").write_text(json.dumps(made))
        track = program.run("simulate", "--recipe", folder / "recipe.json", "--to", "tidy3d", "--out", folder).strip()
        result = program.review(track, "--exercise", exercise, "--side", "right")
    wanted = ratios(rotations)
    for rep in result["reps"]:
        for way in ("raise", "lower"):
            for window, ratio in wanted.items():
                share = rep["readings"].get(f"rhythm-share-{way}-{window}", {})
                value, low, high = (share.get(key) for key in ("value", "low", "high"))
                told = None not in (value, low, high) and low > 0
                yield {"source": source, "plane": plane, "noise": noise, "clip": f"{source} {plane} {noise} {seed}", "rep": rep["number"],
                       "way": way, "window": "30-120" if window == "30-top" else window, "truth": ratio,
                       "value": (1 - value) / value if told else None, "low": (1 - high) / high if told else None,
                       "high": (1 - low) / low if told else None, "why": None if told else "beyond-trust"}


def every(references, first_seed):
    """All curves without noise (one seed) and with the usual noise (several)."""
    levels = simulated.noises()
    return [row for source, plane, rotations in curves(references) for noise, seeds in (("none", 1), ("usual", SEEDS))
            for seed in range(first_seed, first_seed + seeds) for row in rows(source, plane, rotations, noise, levels[noise], seed)]
