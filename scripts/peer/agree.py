#!/usr/bin/env python3
"""Runs `scaplane review` and the peer on the same clips and compares every number of both.

The program rounds what it writes: numbers of review.json to four decimals, small ones to three figures, curves of
the page to a tenth of a degree. A number agrees if the peer's, rounded, may be the printed one: it is counted how
far the peer's number lies outside the interval that rounds to the printed one. With --exact the numbers of the
result are compared with all their digits; only the page's curves are rounded then.
"""

import argparse
import json
import math
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

from scaplane_peer.__main__ import load
from scaplane_peer.errors import NotCovered
from scaplane_peer.review import NOT_COMPUTED, review

#: Largest distance beyond the rounding, absolute below 1 and relative above.
TOLERANCE = 1e-9
DRIFT = ("slope_per_rep", "low", "high", "p", "p_adjusted", "change", "least_change", "intercept", "crosses_at_rep")


class Tally:
    """Comparisons by quantity."""

    def __init__(self):
        self.count = defaultdict(int)
        self.digits = defaultdict(int)
        self.to_print = defaultdict(float)
        self.beyond = defaultdict(float)
        self.wrong = []
        #: Numbers printed to four decimals, from which a small difference would show itself in a digit.
        self.decimals = 0
        #: Whether the program's numbers have all their digits.
        self.exact = False

    def number(self, name, ours, printed, half, where):
        """A number and what the program printed; half a unit of the last printed place."""
        if ours is None or printed is None:
            return self.same(name, ours, printed, where)
        self.count[name] += 1
        apart = abs(ours - printed)
        beyond = max(apart - half, 0.0) / max(abs(ours), 1.0)
        self.to_print[name] = max(self.to_print[name], apart)
        self.beyond[name] = max(self.beyond[name], beyond)
        self.digits[name] += apart <= half
        if not beyond <= TOLERANCE:
            self.wrong.append(f"{where}: {name} is {ours} here and {printed} there")

    def json(self, name, ours, printed, where):
        """A number of review.json."""
        if self.exact:
            return self.number(name, ours, printed, 0.0, where)
        if isinstance(printed, float) and abs(printed) >= 0.01 and printed != round(printed, 2):
            self.decimals += 1
        self.number(name, ours, printed, half_unit(printed), where)

    def same(self, name, ours, printed, where):
        """A word, a frame or a count."""
        self.count[name] += 1
        self.digits[name] += ours == printed
        if ours != printed:
            self.beyond[name] = math.inf
            self.wrong.append(f"{where}: {name} is {ours} here and {printed} there")


def half_unit(printed):
    """Half a unit of the last place of a number of review.json."""
    if printed is None or printed == 0.0:
        return 0.0
    if abs(printed) < 0.01:
        return 0.5 * 10.0 ** (math.floor(math.log10(abs(printed))) - 2)
    return 0.5e-4


def compare(tally, ours, theirs, page, clip):
    """Every quantity of one clip."""
    a, b = ours["clip"], theirs["clip"]
    for key in ("sha256", "layout", "space", "frames", "timing", "person"):
        tally.same(f"clip {key}", a[key], b[key], clip)
    tally.same("side", ours["side"], theirs["side"], clip)
    for key in ("duration_s", "rate_hz", "cutoff_hz"):
        tally.json(f"clip {key}", a[key], b[key], clip)
    tally.same("clip view", a["view"]["name"], b["view"]["name"], clip)
    for key in ("yaw_deg", "low_deg", "high_deg"):
        tally.json(f"clip view {key}", a["view"][key], b["view"][key], clip)
    for joint, share in b["coverage"].items():
        tally.json("clip coverage", a["coverage"].get(joint), share, clip)
    tally.same("repetitions", len(ours["reps"]), len(theirs["reps"]), clip)
    for one, other in zip(ours["reps"], theirs["reps"]):
        _repetition(tally, one, other, f"{clip}, repetition {other['number']}")
    tally.same("sets", [s["reps"] for s in ours["sets"]], [s["reps"] for s in theirs["sets"]], clip)
    for one, other in zip(ours["sets"], theirs["sets"]):
        for row, printed in zip(one["drift"], other["drift"]):
            for key in ("measure", "reps", "toward", "first_outside_rep"):
                tally.same(f"drift {key}", row[key], printed[key], clip)
            where = f"{clip}, {row['measure']}"
            for key in DRIFT:
                tally.json(f"drift {key}", row[key], printed[key], where)
            tally.same("drift margins", len(row["margins"]), len(printed["margins"]), where)
            for margin, other_margin in zip(row["margins"], printed["margins"]):
                for key in ("rep", "margin", "low", "high"):
                    tally.json(f"drift margin {key}", margin[key], other_margin[key], where)
    _curves(tally, ours["signals"], page, clip)


def _repetition(tally, ours, theirs, where):
    for key in ("set", "start_frame", "peak_frame", "end_frame", "complete", "verdict", "judged"):
        tally.same(f"repetition {key}", ours[key], theirs[key], where)
    tally.same("repetition incomplete_because", ours["incomplete_because"], theirs.get("incomplete_because"), where)
    for key in ("start_s", "peak_s", "end_s"):
        tally.json(f"repetition {key}", ours[key], theirs[key], where)
    tally.same("measures", sorted(ours["readings"]), sorted(theirs["readings"]), where)
    for name, printed in theirs["readings"].items():
        reading = ours["readings"].get(name, {})
        tally.same(f"{name} why", reading.get("why"), (printed.get("why") or {}).get("code"), where)
        tally.same(f"{name} basis", reading.get("basis"), printed.get("basis"), where)
        for key in ("value", "low", "high", "observed"):
            if printed.get(key) is not None or reading.get(key) is not None:
                tally.json(f"{name} {key}", reading.get(key), printed.get(key), where)
    tally.same("findings", len(ours["findings"]), len(theirs["findings"]), where)
    for one, printed in zip(ours["findings"], theirs["findings"]):
        for key in ("measure", "code", "verdict", "worst_frame"):
            tally.same(f"finding {key}", one[key], printed[key], where)
        tally.json("finding margin", one["margin"], printed["margin"], where)


def _curves(tally, signals, page, clip):
    """Curves of the page: tenths of a degree as differences from frame to frame."""
    series = re.search(r'<script type="application/json" id="series"[^>]*>(.*?)</script>', page, re.DOTALL)
    if not series:
        return tally.same("curves in the page", True, False, clip)
    embedded = json.loads(series.group(1))
    frames = np.cumsum(embedded["frames"])
    for name, steps in embedded["signals"].items():
        tenths = np.cumsum([step or 0 for step in steps])
        ours = signals[name].value[frames] if name in signals else np.full(len(frames), np.nan)
        for value, tenth, step in zip(ours.tolist(), tenths.tolist(), steps):
            value = None if math.isnan(value) else value
            tally.number(f"curve {name}", value, None if step is None else tenth / 10.0, 0.05, clip)


def main():
    """Compares and lists; 1 if anything is too far apart or nothing was compared."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary")
    parser.add_argument("clips", nargs="+")
    parser.add_argument("--exercise", required=True)
    parser.add_argument("--fps", type=float)
    parser.add_argument("--size", help="such as 1080x1920")
    parser.add_argument("--exact", metavar="PROGRAM", help="example `exact`: numbers with every digit")
    parser.add_argument("--short", action="store_true", help="one line for each kind of quantity")
    args = parser.parse_args()
    size = tuple(float(part) for part in args.size.split("x")) if args.size else None
    tally, refused = Tally(), []
    tally.exact = bool(args.exact)
    for clip in args.clips:
        name = Path(clip).name
        with tempfile.TemporaryDirectory() as folder:
            command = [args.binary, "review", "--exercise", args.exercise, clip, "--out", folder, "-q"]
            command += ["--fps", str(args.fps)] if args.fps else []
            command += ["--size", args.size] if args.size else []
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            theirs = json.loads((Path(folder) / "review.json").read_text())
            if args.exact:
                every = [args.exact, args.exercise, clip]
                every += [str(args.fps), args.size] if args.fps and args.size else []
                theirs = json.loads(subprocess.run(every, check=True, capture_output=True).stdout)
            page = (Path(folder) / "review.html").read_text()
        try:
            ours = review(load(clip), args.exercise, None, args.fps, size)
        except NotCovered as why:
            refused.append(f"{name}: {why}")
            continue
        compare(tally, ours, theirs, page, name)
    show(tally, args.short)
    total = sum(tally.count.values())
    print(f"{len(args.clips) - len(refused)} clips, {total} comparisons, {len(tally.wrong)} beyond {TOLERANCE}")
    if tally.decimals and not tally.wrong:
        # A difference d moves a number across a rounding boundary with the chance d / 1e-4.
        print(f"{tally.decimals} numbers have four decimals and none is rounded otherwise: "
              f"a usual difference above {3e-4 / tally.decimals:.0e} would have shown (95 %)")  # fmt: skip
    print("not computed by the peer: " + "; ".join(NOT_COMPUTED))
    for why in refused:
        print(f"not covered by the peer: {why}")
    for wrong in tally.wrong[:20]:
        print(wrong, file=sys.stderr)
    return 1 if tally.wrong or not total else 0


def show(tally, short):
    """The table of quantities, or of the families of them."""
    print(f"{'quantity':<42}{'compared':>9}{'in print':>9}{'from print':>12}{'beyond rounding':>17}")
    families = defaultdict(list)
    for name in sorted(tally.count):
        families[name.rsplit(" ", 1)[-1] if short else name].append(name)
    for family, names in families.items():
        count, digits = (sum(of[name] for name in names) for of in (tally.count, tally.digits))
        to_print, beyond = (max(of[name] for name in names) for of in (tally.to_print, tally.beyond))
        print(f"{family:<42}{count:>9}{digits:>9}{to_print:>12.2e}{beyond:>17.2e}")


if __name__ == "__main__":
    sys.exit(main())
