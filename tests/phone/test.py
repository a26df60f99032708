#!/usr/bin/env python3
"""A phone video to the review page: scripts/phone-clip on videos whose stamps and movements are known.

    test.py PROGRAM         run by a Python that has scripts/estimator.txt, scikit-image and av

Nobody was filmed. The videos are: a public-domain picture of an astronaut (NASA, carried by scikit-image), moved,
turned and enlarged in a known way (a still picture, not an exercising person), upright and stored lying with a
rotation tag; a rendered mannequin that raises its arm to known angles; an empty room.
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

import cv2
import numpy
import skimage

import film
import mannequin

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
import stamps

#: Distance between where a landmark of the face or the shoulders is found and where the known movement of the picture
#: puts it, pixels: median, and at most. The picture is 512 wide and turns by 6 degrees while it grows by a fifth.
FOLLOWS_PX, FOLLOWS_AT_MOST_PX = 4.0, 20.0
#: Highest elevation of the mannequin's arm, found and true, degrees: twice the spread between sizes of one estimator.
PEAK_WITHIN_DEG = 15.0
#: Turning point in time, found and true, seconds: the arm is held for 0.4 s and moves little for as long around it.
PEAK_WITHIN_S = 0.75
#: Nose, mouth and shoulders: what the astronaut's picture shows well.
SHOWN = (0, 9, 10, 11, 12)


def phone_clip(video, out, *options, program=None, **environment):
    """Runs the script; gives its exit status, standard output and standard error."""
    known = {"SCAPLANE": program or PROGRAM, "SCAPLANE_ESTIMATOR_PYTHON": sys.executable}
    run = subprocess.run([ROOT / "scripts" / "phone-clip", video, "--out", out, *options], text=True,
                         capture_output=True, check=False, env={**os.environ, **known, **environment})
    return run.returncode, run.stdout, run.stderr


def moved(count):
    """The astronaut's picture in a portrait frame, and the matrix of each frame: slow turn, growth and shift."""
    astronaut = cv2.cvtColor(skimage.data.astronaut(), cv2.COLOR_RGB2BGR)
    pictures, matrices = [], []
    for share in numpy.linspace(0, 1, count):
        matrix = cv2.getRotationMatrix2D((256, 256), -3 + 6 * share, 0.9 + 0.2 * share)
        matrix[:, 2] += (14 + 30 * share, 250 - 60 * share)
        matrices.append(matrix)
        pictures.append(cv2.warpAffine(astronaut, matrix, (540, 960), borderValue=(90, 90, 90)))
    return pictures, matrices


def check_stamps(track, ticks):
    """Stamps are the known ones."""
    found = numpy.array([frame["timestamp_ms"] for frame in track["frames"]])
    known = numpy.array(ticks) * 1000 / film.TICKS_HZ
    assert len(found) == len(known), (len(found), len(known))
    assert numpy.abs(found - known).max() < 0.001, numpy.abs(found - known).max()
    assert numpy.ptp(numpy.diff(found)) > 20, "the stamps were made uneven"


def picture_moved(folder):
    """The landmarks follow the picture; a rotation tag changes nothing; review ends with its page and no whole repetition."""
    pictures, matrices = moved(90)
    ticks = film.uneven(len(pictures), 24, seed=11)
    for name, turned in (("upright", False), ("tagged", True)):
        film.film(folder / f"{name}.mp4", pictures, ticks, turned)
        if turned:
            capture = cv2.VideoCapture(str(folder / "tagged.mp4"))
            capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 0)
            assert capture.read()[1].shape[:2] == (540, 960), "the video is stored lying"
        status, said, told = phone_clip(folder / f"{name}.mp4", folder / name, "--exercise", "scapular-raise", "--side", "right")
        assert status == 0, told
        track = json.loads((folder / name / "track.json").read_text())
        assert (track["width"], track["height"]) == (540, 960), (track["width"], track["height"])
        check_stamps(track, ticks)
        places = []
        for frame, matrix in zip(track["frames"], matrices):
            seen = numpy.array([(frame["landmarks"][k]["x"] * 540, frame["landmarks"][k]["y"] * 960, 1) for k in SHOWN])
            back = cv2.invertAffineTransform(matrix)
            places.append(seen @ back.T)
        apart = numpy.linalg.norm(places - numpy.median(places, axis=0), axis=2)
        print(f"   {name}: landmarks of {len(places)} frames follow the known movement within "
              f"{numpy.median(apart):.1f} pixels (median), {apart.max():.1f} at most")
        assert numpy.median(apart) < FOLLOWS_PX and apart.max() < FOLLOWS_AT_MOST_PX
        # Elbow and hips lie at the edge and outside of the picture: the estimator's guess of them may settle within the
        # first second, which is at most a piece of a repetition.
        result = json.loads((folder / name / "review.json").read_text())
        assert not any(rep["complete"] for rep in result["reps"]), said
        assert result["clip"]["timing"] == "stamped", result["clip"]
        assert (folder / name / "review.html").stat().st_size > 10_000


def picture_still(folder):
    """A picture that a package carries goes the whole way: the page is there and says that there is no repetition."""
    picture = pathlib.Path(skimage.__file__).parent / "data" / "astronaut.png"
    status, said, told = phone_clip(picture, folder / "still", "--still", "45", "--exercise", "scapular-raise", "--side", "right")
    assert status == 0 and "No repetition was found." in said, said + told
    assert "No repetition was found" in (folder / "still" / "review.html").read_text()


def mannequin_raises(folder):
    """A rendered mannequin: every repetition is counted at its time, and its height is near the true one."""
    tops = [120, 95, 140]
    ticks = film.uneven(int(24 * (1.6 + 4.2 * len(tops))), 24, seed=5)
    times = [tick / film.TICKS_HZ for tick in ticks]
    truth = numpy.array([mannequin.elevation_deg(time_s, tops) for time_s in times])
    film.film(folder / "mannequin.mp4", [mannequin.picture(deg, 0, 0) for deg in truth], ticks)
    status, said, told = phone_clip(folder / "mannequin.mp4", folder / "mannequin", "--exercise", "frontal-raise", "--side", "right")
    assert status == 0, told
    check_stamps(json.loads((folder / "mannequin" / "track.json").read_text()), ticks)
    reps = json.loads((folder / "mannequin" / "review.json").read_text())["reps"]
    assert len(reps) == len(tops), said
    for number, (rep, top) in enumerate(zip(reps, tops)):
        found = rep["readings"]["peak-elevation"]
        peak_s = 0.8 + 4.2 * number + 1.5 + 0.2
        print(f"   mannequin raised to {top}: {found['value']:.0f} ({found['low']:.0f} to {found['high']:.0f}) degrees "
              f"at {rep['peak_s']:.2f} s, true {peak_s:.2f} s")
        assert abs(found["value"] - top) < PEAK_WITHIN_DEG
        assert abs(rep["peak_s"] - peak_s) < PEAK_WITHIN_S


def refused(folder):
    """What cannot be done is said with a remedy, and leaves no track."""
    (folder / "words.mp4").write_text("not a video\n" * 100)
    cv2.imwrite(str(folder / "one.png"), moved(2)[0][0])
    room = [numpy.full((480, 640, 3), 120 + k % 5, numpy.uint8) for k in range(20)]
    film.film(folder / "room.mp4", room, film.uneven(20, 24, seed=3))
    film.film(folder / "cut.mp4", room, film.uneven(20, 24, seed=3))
    (folder / "cut.mp4").write_bytes((folder / "cut.mp4").read_bytes()[:200])
    cases = [("words.mp4", "cannot be decoded as a video"), ("one.png", "holds a single picture"), ("cut.mp4", "cannot be decoded"),
             ("room.mp4", "nobody was found in the 20 frames"), ("absent.mp4", "there is no file")]
    for name, words in cases:
        status, _, told = phone_clip(folder / name, folder / "refused", "--exercise", "scapular-raise", "--side", "right")
        assert status == 1 and words in told and "\n   try " in told and "Traceback" not in told, (name, status, told)
        assert not list(folder.glob("refused/*")) and not list(folder.glob("refused/.*")), name
    status, _, told = phone_clip(folder / "room.mp4", folder / "refused", "--exercise", "raise", "--side", "right")
    assert status == 2 and "no exercise is called" in told, told
    status, _, told = phone_clip(folder / "room.mp4", folder / "refused", "--side", "right",
                                 SCAPLANE_ESTIMATOR_PYTHON=str(pathlib.Path(sys.base_prefix) / "bin" / "python3"))
    assert status == 1 and "scripts/estimator.txt" in told and "Traceback" not in told, told


def not_installed(folder):
    """An estimator that cannot be installed is said so, and leaves no folder."""
    for environment, words in (({"PYTHON": "false"}, "needs a 64-bit Python"),
                               ({"PIP_INDEX_URL": "http://127.0.0.1:9", "PIP_RETRIES": "0"}, "could not be installed")):
        run = subprocess.run([ROOT / "scripts" / "estimator-venv", folder / "venv"], text=True, capture_output=True,
                             check=False, env={**os.environ, **environment})
        assert run.returncode == 1 and words in run.stderr and "\n   try " in run.stderr, run.stderr
        assert not (folder / "venv").exists()


def stamps_settled(folder):
    """Without ffprobe the decoder's stamps are taken if they grow, and refused if not; with it the file's are."""
    ticks = film.uneven(20, 24, seed=7)
    film.film(folder / "short.mp4", [numpy.full((64, 64, 3), k, numpy.uint8) for k in range(20)], ticks)
    known = [tick * 1000 / film.TICKS_HZ for tick in ticks]
    path, os.environ["PATH"] = os.environ["PATH"], ""
    try:
        assert stamps.settled([5.0 + stamp for stamp in known], "short.mp4")[0] == [5.0 + stamp - 5.0 for stamp in known]
        try:
            stamps.settled([0.0, 0.0, 33.0], "short.mp4")
            raise AssertionError("stamps that do not grow were taken")
        except ValueError:
            pass
    finally:
        os.environ["PATH"] = path
    if stamps.in_file(str(folder / "short.mp4")) is None:
        print("   ffprobe is not installed: the stamps in the file are not compared with the decoder's")
        return
    late = [stamp + 40.0 * (k > 4) for k, stamp in enumerate(known)]
    settled, words = stamps.settled(late, str(folder / "short.mp4"))
    assert numpy.abs(numpy.array(settled) - known).max() < 1e-6 and "40.0 ms off" in words, words


PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
with tempfile.TemporaryDirectory() as name:
    for test in (stamps_settled, refused, not_installed, picture_still, picture_moved, mannequin_raises):
        test(pathlib.Path(name))
        print(f"{test.__name__.replace('_', ' ')}: {test.__doc__}")
