"""An open estimator's view of a rendered body: the way from pictures, which the simulator leaves out.

The mannequin is no person, its cloth has no folds and its shoulder no girdle; but the landmarks' errors are the
estimator's own, where the simulator assumes them.
"""
import json
import os
import pathlib
import subprocess
import tempfile

import program
import simulated

HERE = pathlib.Path(__file__).resolve().parent
#: From the export as it is, and from its picture coordinates alone.
TRACKS = ("estimated depth", "picture")


def usable():
    """The Python that has the estimator and what films are made with, or None."""
    python = os.environ.get("SCAPLANE_ESTIMATOR_PYTHON")
    if not python:
        return None
    probe = [python, "-c", "import av, cv2; from mediapipe.python.solutions.pose import Pose"]
    return python if subprocess.run(probe, capture_output=True, check=False).returncode == 0 else None


def flat(track):
    """The same track without coordinates in space."""
    told = json.loads(track.read_text())
    for frame in told["frames"]:
        del frame["worldLandmarks"]
    beside = track.with_suffix(".picture.json")
    beside.write_text(json.dumps(told))
    return beside


def every(seed, tell):
    """Rows as of simulated clips, and counts; None where there is no estimator."""
    python = usable()
    if python is None:
        return None
    rows, counts = [], []
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        subprocess.run([python, HERE / "film_bodies.py", folder, str(seed)], check=True)
        for clip in json.loads((folder / "clips.json").read_text()):
            track = folder / f"{clip['name']}.json"
            subprocess.run([python, HERE.parent / "export-landmarks.py", folder / f"{clip['name']}.mp4", "--out", track],
                           check=True, stderr=subprocess.DEVNULL)
            for kind, export in zip(TRACKS, (track, flat(track))):
                reps = program.review(export, "--exercise", clip["exercise"], "--side", "right")["reps"]
                head = {"source": "estimator", "exercise": clip["exercise"], "view": clip["view"], "track": kind,
                        "noise": "estimator", "seed": seed, "clip": f"{clip['name']} {kind}"}
                rows += simulated.compared(head, clip["reps"], reps)
                counts.append({**head, "found": len(reps), "true": len(clip["reps"])})
            tell(f"a rendered body filmed: {clip['name']}")
    return rows, counts
