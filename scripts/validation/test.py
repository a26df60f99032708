#!/usr/bin/env python3
"""The validation runs with few seeds, makes the same figures twice, and its figures can be wrong: test.py PROGRAM."""
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy
import pandas
from scipy import stats

HERE = pathlib.Path(__file__).resolve().parent
os.environ["SCAPLANE"] = str(pathlib.Path(sys.argv[1]).resolve())
import figures
import open_data


def validate(out, *options):
    """Runs it for one exercise; gives the figures of usual noise by measure and track, and the page."""
    subprocess.run([sys.executable, HERE / "run.py", "--out", out, "--seeds", "1", "--exercises", "scapular-raise", "--left-out", "open-data",
                    "estimator", *options], check=True, capture_output=True)
    table = pandas.read_csv(out / "figures.csv")
    usual = table[table["noise"] == "usual"].set_index(["measure", "track"])
    return usual, (out / "validation.html").read_text()


def figures_can_be_wrong(folder):
    """A planted bias is found to the digit and uncovers the truth; intervals cut to a tenth hold less."""
    before, page = validate(folder / "first")
    again, same = validate(folder / "second")
    assert page == same and before.equals(again), "two runs differ"
    assert (folder / "first" / "readings.csv").read_bytes() == (folder / "second" / "readings.csv").read_bytes()
    for words in ("Against simulated movement", "Against published curves", "Not run: no estimator", "What is not validated yet", "<svg"):
        assert words in page, words
    assert "http" not in page.replace("http://www.w3.org", "").replace("http://purl.org", "").replace("http://creativecommons.org", ""), "a request"

    path, place = folder / "first" / "readings.csv", ("peak-elevation", "measured space")
    rows = pandas.read_csv(path)
    mine = (rows["measure"] == place[0]) & (rows["track"] == place[1])
    rows.loc[mine, ["value", "low", "high"]] += 25.0
    rows.to_csv(path, index=False)
    after, page = validate(folder / "first", "--from-tables")
    assert abs(after.loc[place, "bias"] - before.loc[place, "bias"] - 25.0) < 1e-3
    assert abs(after.loc[place, "sd"] - before.loc[place, "sd"]) < 1e-3
    assert before.loc[place, "covered"] > 0.9 and after.loc[place, "covered"] == 0
    others = before.index.difference([place])
    assert after.loc[others, "bias"].equals(before.loc[others, "bias"])

    rows = pandas.read_csv(folder / "second" / "readings.csv")
    for end in ("low", "high"):
        rows[end] = rows["value"] + (rows[end] - rows["value"]) / 10
    rows.to_csv(folder / "second" / "readings.csv", index=False)
    narrow, page = validate(folder / "second", "--from-tables")
    place = ("peak-elevation", "picture")
    assert narrow.loc[place, "covered"] < before.loc[place, "covered"]
    assert " !</td>" in page, "a coverage that is too low bears a mark"


def shares_as_scipy(_):
    """The interval of a share is SciPy's exact one; cases that go together in clips count as so many clips."""
    for inside, of in ((0, 10), (3, 10), (95, 100), (10, 10)):
        wanted = stats.binomtest(inside, of).proportion_ci(method="exact")
        assert numpy.allclose(figures.binomial(inside, of)[1:], (wanted.low, wanted.high)), (inside, of)
    # Ten clips of four repetitions that go together: as ten cases, but for the correction by n - 1.
    sizes, hits = numpy.full(10, 4), numpy.array([4] * 7 + [0] * 3)
    low, high = figures.binomial(28, 40, (sizes, hits))[1:]
    wanted = stats.binomtest(7, 10).proportion_ci(method="exact")
    assert abs(low - wanted.low) < 0.03 and abs(high - wanted.high) < 0.03, (low, high, wanted)


def slope_of_a_line(_):
    """The other figure for the share of the blade is the slope within 30 to 120 degrees of the way asked for."""
    elevation = numpy.concatenate([numpy.linspace(0, 150, 151), numpy.linspace(149, 0, 150)])
    rotation = numpy.concatenate([0.3 * numpy.linspace(0, 150, 151), 0.5 * numpy.linspace(149, 0, 150)])
    assert abs(open_data.share(elevation, rotation, True) - 0.3) < 1e-9
    assert abs(open_data.share(elevation, rotation, False) - 0.5) < 1e-9


with tempfile.TemporaryDirectory() as name:
    for test in (shares_as_scipy, slope_of_a_line, figures_can_be_wrong):
        test(pathlib.Path(name))
        print(f"{test.__name__.replace('_', ' ')}: {test.__doc__}")
