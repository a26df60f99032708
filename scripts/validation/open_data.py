"""Open recordings of people, beside what their authors give. The data stays outside the project.

Markers on the blade (Seth, Dong, Matias, Delp 2019, Front Neurorobot 13:90; one person, one repetition a trial): the
highest elevation is computed again here from the markers, and the share of the blade from the upward rotation of the
authors' own model, which is inverse kinematics and no direct measurement. A depth camera's joints (IntelliRehabDS,
Miron et al. 2021, Data 6(5):46; one patient): labelled repetitions. Estimator exports of people who talk and wave.
"""
import csv
import pathlib
import tempfile

import numpy
import pandas

import program


def trc(path):
    """Markers of a TRC file by name, (frames, 3), missing ones as NaN."""
    lines = path.read_text().splitlines()
    names = [name for name in lines[3].split("\t")[2:] if name.strip()]
    cells = [line.split("\t") for line in lines[5:] if line.strip()]
    data = numpy.array([[float(cell) if cell.strip() else numpy.nan for cell in row[: 2 + 3 * len(names)]] for row in cells])
    places = {name.strip(): data[:, 2 + 3 * k: 5 + 3 * k] for k, name in enumerate(names)}
    for place in places.values():
        place[(place == 0).all(axis=1)] = numpy.nan
    return places


def motion(path):
    """A motion file as a table."""
    return pandas.read_csv(path, sep=r"\s+", skiprows=path.read_text().splitlines().index("endheader") + 1)


def elevation_deg(places):
    """Upper arm against the downward trunk line."""
    arm = places["centelbow"] - places["gu"]
    trunk = places["centpxt8"] - places["centijc7"]
    cosine = (arm * trunk).sum(axis=1) / numpy.linalg.norm(arm, axis=1) / numpy.linalg.norm(trunk, axis=1)
    return numpy.degrees(numpy.arccos(cosine))


def share(elevation, rotation, raising):
    """Slope of the model's rotation over the elevation between 30 and 120 degrees, on the way up or down."""
    top = int(numpy.nanargmax(elevation))
    part = slice(0, top) if raising else slice(top, None)
    within = (elevation[part] >= 30) & (elevation[part] <= 120)
    return float(numpy.polyfit(elevation[part][within], rotation[part][within], 1)[0])


def markers(folder):
    """Rows of measure, value with interval, and the other figure; and repetitions of the trials."""
    rows, counts = [], []
    for name, exercise in (("ABD", "frontal-raise"), ("FLX", "forward-raise"), ("SHRUG", "frontal-raise")):
        for path in sorted(folder.glob(f"{name}*.trc")):
            reps = program.review(path, "--exercise", exercise, "--side", "right")["reps"]
            counts.append({"recording": path.name, "true": 0 if name == "SHRUG" else 1, "found": len(reps)})
            if name == "SHRUG" or not reps:
                continue
            elevation = elevation_deg(trc(path))
            rotation = motion(path.with_suffix(".mot"))["scapula_upward_rot"].to_numpy()
            others = {"peak-elevation": numpy.nanmax(elevation)}
            if len(rotation) == len(elevation):
                others |= {f"rhythm-share-{way}-30-top": share(elevation, rotation, way == "raise") for way in ("raise", "lower")}
            for measure, other in others.items():
                reading = reps[0]["readings"][measure]
                rows.append({"recording": path.name, "measure": measure, "other": other,
                             **{key: reading.get(key) for key in ("basis", "value", "low", "high")}})
    return rows, counts


def tidy(path, out):
    """A wide session as a long table; the frames are numbered anew at the sensor's 30 Hz, since only labelled ones are kept."""
    with path.open(newline="") as source, out.open("w", newline="") as target:
        reader, writer = csv.DictReader(source), csv.writer(target)
        points = [name[:-2] for name in reader.fieldnames if name.endswith("_x")]
        columns = reader.fieldnames
        writer.writerow(["frame", "time_s", "point", "x", "y", "z", "score"])
        for frame, row in enumerate(reader):
            for point in points:
                start = columns.index(f"{point}_x")
                writer.writerow([frame, f"{frame / 30:.4f}", point, *(row[name] for name in columns[start:start + 4])])


def depth_camera(folder):
    """Repetitions of each session as labelled and as found on the side that has more of them: the naming of sides upstream is mirrored."""
    labels = pandas.read_csv(folder / "reps.csv")["session"].value_counts().sort_index()
    counts = []
    for session, true in labels.items():
        with tempfile.TemporaryDirectory() as name:
            clip = pathlib.Path(name, "session.csv")
            tidy(folder / "sessions" / f"{session}.csv", clip)
            exercise = "frontal-raise" if "abduction" in session else "forward-raise"
            found = [len(program.review(clip, "--exercise", exercise, "--side", side)["reps"]) for side in ("left", "right")]
        counts.append({"recording": session, "true": int(true), "found": max(found), "sides": found})
    return counts


def waving(folder):
    """Estimator exports of people who do not exercise: no repetition on either side."""
    cases = (("openpose_body25", []), ("test_video.blazepose33.csv", ["--size", "540x720"]), ("blazepose33_signer.csv", ["--fps", "25"]))
    return [{"recording": f"{name}, {side}", "true": 0,
             "found": len(program.review(folder / name, "--exercise", "scapular-raise", "--side", side, *options)["reps"])}
            for name, options in cases for side in ("left", "right")]


def every(folder):
    """All comparisons, or None where the data is absent."""
    if not folder.is_dir():
        return None
    rows, counts = markers(folder / "scapula-markers")
    return {"rows": rows, "counts": {"markers on the blade": counts, "a depth camera": depth_camera(folder / "rehab-kinect"),
                                     "people who talk and wave": waving(folder / "estimator-exports")}}
