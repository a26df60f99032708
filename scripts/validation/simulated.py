"""Simulated clips with known truth, reviewed through an export as a user would: a row a repetition and measure.

Every clip is clean: no fault is planted. What varies: exercise, view, what the track holds, noise, and the seed, which
also draws body, range, tempo and the working side. The seeds are not among those that the program's tests use.
"""
import concurrent.futures
import json
import pathlib
import tempfile

import program

#: Where the phone stands. The side is that of the working arm.
VIEWS = ("front", "back", "side", "oblique")
#: What the track holds: the export that `simulate` writes, more of its recipe, from where, and options of review.
TRACKS = {
    "picture": ("coco17-annotations", {}, VIEWS, ["--size", "1080x1920", "--fps", "30"]),
    "picture and dots": ("tidy2d", {"skin_dots": True}, ("back",), ["--size", "1080x1920"]),
    "estimated depth": ("landmarks33-object", {}, VIEWS, []),
    # Coordinates in space do not depend on the view.
    "measured space": ("tidy3d", {}, ("front",), []),
}
#: Where a track has the acromion the girdle is followed there; the simulator's truth of a repetition is that of the
#: joint centre, which is another quantity. tests/all/girdle.rs compares the acromion.
OF_THE_JOINT_CENTRE = ("girdle-rise", "girdle-early-rise", "protraction-travel")
WITH_ACROMION = ("picture and dots", "measured space")
#: Of the usual noise, what is multiplied.
#: Dots are followed more closely than joints are estimated: 95 % of the centres within 0.8 pixels (tests/video/dots.rs).
FOLLOWED_DOTS = {"dot_px": 0.5}
JITTER = ("keypoint_px", "world_plane_m", "world_depth_m", "marker_m", "outliers_per_min", "gaps_per_min", "exchanges_per_min")
ASSUMED = ("landmark_m", "hip_landmark_m", "world_depth_offset_m")
REPS = 4
WINDOWS = ("30-60", "60-90", "90-120")
COLUMNS = ["source", "exercise", "view", "track", "noise", "seed", "clip", "rep", "verdict", "measure", "basis",
           "truth", "value", "low", "high", "why"]


def noises():
    """Noise levels by name. `usual` is the program's own; the others are made of it."""
    with tempfile.TemporaryDirectory() as folder:
        program.run("simulate", "--noisy", "--reps", 1, "--out", folder)
        usual = json.loads(pathlib.Path(folder, "truth.json").read_text())["noise"]
    return {
        "none": {key: 0.0 for key in usual},
        "usual": usual,
        "double jitter": {key: value * (2 if key in JITTER else 1) for key, value in usual.items()},
        "double assumed": {key: value * (2 if key in ASSUMED else 1) for key, value in usual.items()},
    }


def plan(first_seed, seeds, exercises=None):
    """Every clip to make, in order; of all exercises unless some are named."""
    levels = noises()
    return [
        {"exercise": exercise, "view": view, "track": track, "noise": noise, "seed": seed, "levels": levels[noise]}
        for seed in range(first_seed, first_seed + seeds)
        for exercise in exercises or program.exercises()
        for track, (_, _, views, _) in TRACKS.items()
        for view in views
        for noise in levels
    ]


def recipe(clip):
    """The simulator's recipe of a clip, and the working side."""
    seed = clip["seed"]
    side = ("right", "left")[seed % 2]
    made = {
        "exercise": clip["exercise"], "side": side, "seed": seed, "reps": REPS, "width_px": 1080, "height_px": 1920,
        "view": side if clip["view"] == "side" else clip["view"],
        "noise": clip["levels"],
        # With noise somebody walks by in every fourth clip, and in every fifth the person walks in.
        "extras": {"passer_by": clip["noise"] != "none" and seed % 4 == 0, "walk_in": clip["noise"] != "none" and seed % 5 == 0},
    }
    made["extras"].update(TRACKS[clip["track"]][1])
    if made["extras"].get("skin_dots"):
        made["blade"] = FOLLOWED_DOTS
    return made, side


def truths(rep):
    """True values of a repetition by measure, with what follows from them."""
    values = dict(rep["values"])
    for way in ("raise", "lower"):
        shares = [values.get(f"rhythm-share-{way}-{window}") for window in WINDOWS]
        # The share to the top is taken to 120 degrees at most; the simulator's goes to the very top.
        if None not in shares:
            values[f"rhythm-share-{way}-30-top"] = sum(shares) / len(shares)
    for name, share in list(values.items()):
        if name.startswith("rhythm-share-") and share > 0:
            values[name.replace("share", "ratio")] = (1 - share) / share
    return values


def rows(clip):
    """Reviews a clip. Gives a row for each repetition and measure, and how many repetitions were found and true."""
    head = {key: clip[key] for key in ("exercise", "view", "track", "noise", "seed")}
    head |= {"source": "simulation", "clip": " ".join(map(str, head.values()))}
    made, side = recipe(clip)
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "recipe.json").write_text(json.dumps(made))
        track = program.run("simulate", "--recipe", folder / "recipe.json", "--to", TRACKS[clip["track"]][0], "--out", folder).strip()
        truth = json.loads((folder / "truth.json").read_text())
        result = program.review(track, "--exercise", clip["exercise"], "--side", side, *TRACKS[clip["track"]][3])
    true = [rep for rep in truth["reps"] if rep["side"] == side]
    return compared(head, true, result["reps"]), {**head, "found": len(result["reps"]), "true": len(true)}


def compared(head, true, found):
    """Rows of one clip; none where the repetitions do not correspond."""
    if len(true) != len(found):
        return []
    made = []
    for wanted, rep in zip(true, found):
        values = truths(wanted)
        if head["track"] in WITH_ACROMION:
            values = {name: value for name, value in values.items() if name not in OF_THE_JOINT_CENTRE}
        for measure, reading in rep["readings"].items():
            why = (reading.get("why") or {}).get("code")
            made.append({**head, "rep": rep["number"], "verdict": rep["verdict"], "measure": measure, "truth": values.get(measure),
                         "why": why, **{key: reading.get(key) for key in ("basis", "value", "low", "high")}})
    return made


def every(clips, jobs, tell):
    """Rows and counts of all clips, in their order whatever order they are done in."""
    readings, counts = [], []
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        for number, (of_clip, count) in enumerate(pool.map(rows, clips), 1):
            readings += of_clip
            counts.append(count)
            if number % 200 == 0 or number == len(clips):
                tell(f"{number} of {len(clips)} simulated clips")
    return readings, counts
