"""Writes numeric cases with the answers of NumPy and SciPy, for tests/all/oracle.rs.

Usage: python make.py OUTPUT.json

Everything is drawn from one fixed seed. The file carries the versions of Python, NumPy and SciPy that made
it. Where SciPy has no function of its own (fits with errors in both coordinates, Mann-Kendall with ties,
Holm, Hampel) the answer is found here by another road than the one the program takes: by visiting every order,
by numerical minimisation, by a plain loop.
"""

import itertools
import json
import math
import platform
import sys

import numpy as np
import scipy
from scipy import integrate, interpolate, optimize, signal, stats
from scipy.spatial.transform import Rotation

RNG = np.random.default_rng(20240229)


def numbers(values):
    """Plain floats of 13 digits (compared to 1e-9); every one finite."""
    out = [float(f"{v:.13g}") for v in np.asarray(values, dtype=float).ravel()]
    assert all(math.isfinite(v) for v in out)
    return out


def short(values):
    """Inputs of four decimals: the answers then belong to exactly the numbers in the file."""
    return np.round(np.asarray(values, dtype=float), 4)


def movement(n, rate):
    t = np.arange(n) / rate
    return short(50 - 45 * np.cos(2 * np.pi * t / 4) + 3 * np.sin(2 * np.pi * t) + RNG.normal(0, 2, n))


def butter():
    """Designs of every order, from nearly closed to nearly open; odd orders at low and high cut-off."""
    for order in range(1, 9):
        for cutoff, rate in [(0.3, 30), (1, 25), (4, 30), (6, 60), (7.5, 30), (10, 240), (12, 30), (14.7, 30)]:
            sos = signal.butter(order, cutoff, fs=rate, output="sos")
            b, a = signal.butter(order, cutoff, fs=rate)
            yield {
                "order": order, "cutoff_hz": cutoff, "rate_hz": rate,
                "sos": [numbers(row) for row in sos], "b": numbers(b), "a": numbers(a),
                "sos_zi": [numbers(row) for row in signal.sosfilt_zi(sos)],
                "ba_zi": numbers(signal.lfilter_zi(b, a)),
            }


def filters():
    """Whole outputs, both ends included; the shortest signals allowed are among them."""
    for order in (1, 2, 3, 4, 5):
        sections = (order + 1) // 2
        sos_pad = 3 * (2 * sections + 1 - (order % 2))
        for n, cutoff, rate in [(sos_pad + 1, 4, 30), (sos_pad + 2, 6, 30), (60, 6, 30), (75, 1, 60), (50, 13, 30)]:
            x = movement(n, rate)
            sos = signal.butter(order, cutoff, fs=rate, output="sos")
            yield {
                "form": "sos", "order": order, "cutoff_hz": cutoff, "rate_hz": rate, "x": numbers(x),
                "y": numbers(signal.sosfiltfilt(sos, x)), "too_short": sos_pad,
            }
            if order <= 4 and n > 3 * (order + 1):
                b, a = signal.butter(order, cutoff, fs=rate)
                yield {
                    "form": "ba", "order": order, "cutoff_hz": cutoff, "rate_hz": rate, "x": numbers(x),
                    "y": numbers(signal.filtfilt(b, a, x)), "too_short": 3 * (order + 1),
                }


def zero_phase():
    """The program's own low-pass, put together from SciPy's parts."""
    ratio = (math.sqrt(2) - 1) ** 0.25
    for n, cutoff, rate in [(10, 6, 30), (11, 2, 30), (90, 4, 30), (90, 6, 60), (64, 14, 30), (50, 0.5, 25), (80, 10, 120)]:
        design = rate / math.pi * math.atan(math.tan(math.pi * cutoff / rate) / ratio)
        x = movement(n, rate)
        y = signal.sosfiltfilt(signal.butter(2, design, fs=rate, output="sos"), x)
        w, h = signal.freqz(*signal.butter(2, design, fs=rate), worN=[cutoff / 2, cutoff], fs=rate)
        yield {
            "cutoff_hz": cutoff, "rate_hz": rate, "design_hz": design, "x": numbers(x), "y": numbers(y),
            "f_hz": numbers(w), "response": numbers(np.abs(h) ** 2),
        }


def peaks():
    """Runs, ties, ends, stairs; every filter alone and together."""
    signals = [
        [], [1], [1, 2], [1, 2, 1], [2, 2, 1], [1, 2, 2], [3, 2, 2, 1], [0, 2, 2, 0], [0, 2, 2, 2, 0],
        [1, 2, 2, 3, 0], [5, 1, 5, 1, 5], [0, 5, 0, 5, 0, 5, 0], [0, 3, 1, 3, 0], [0, 0, 3, 1, 1, 2, 0.5],
        [1, 1, 1, 1], [0, 1, 0, 2, 0, 3, 0, 2, 0, 1, 0],
    ]
    for n in (5, 12, 30, 60):
        signals += [numbers(RNG.integers(0, 5, n)) for _ in range(4)]
        signals += [numbers(short(RNG.normal(0, 1, n))) for _ in range(3)]
    signals += [numbers(np.round(movement(200, 30))), numbers(movement(150, 30))]
    rules = [
        {}, {"prominence": 1}, {"prominence": 2.5}, {"distance": 3}, {"distance": 8},
        {"height": 1.5}, {"height": 0, "distance": 4, "prominence": 0.5}, {"distance": 15, "prominence": 20},
    ]
    for x in signals:
        for rule in rules:
            heights = np.asarray(x, dtype=float)
            found, _ = signal.find_peaks(heights, height=rule.get("height"))
            # SciPy leaves open which of two equal peaks goes first; only where its own sort keeps
            # their order is there an answer to compare with.
            tops = heights[found]
            if "distance" in rule and not np.array_equal(np.argsort(tops), np.argsort(tops, kind="stable")):
                continue
            found, about = signal.find_peaks(heights, plateau_size=1, **{"prominence": 0, **rule})
            yield {
                "x": numbers(x), "rule": rule, "index": [int(k) for k in found],
                "first": [int(k) for k in about["left_edges"]], "last": [int(k) for k in about["right_edges"]],
                "prominence": numbers(about["prominences"]),
                "left_base": [int(k) for k in about["left_bases"]],
                "right_base": [int(k) for k in about["right_bases"]],
            }


def theil_sen():
    """Ties in x and in y, wild points, two points, several confidences."""
    for n in (2, 3, 4, 5, 8, 12, 20, 35):
        for kind in ("plain", "ties", "wild"):
            x = short(np.sort(RNG.uniform(0, 10, n))) if kind != "ties" else RNG.integers(0, 4, n).astype(float)
            y = short(3 - 0.7 * x + RNG.normal(0, 1, n))
            if kind == "ties":
                x[0], x[-1] = 0.0, 3.0
                y = np.round(y)
            if kind == "wild":
                y[n // 2] += 80
            for confidence in (0.95, 0.9, 0.6):
                r = stats.theilslopes(y, x, confidence, method="separate")
                yield {
                    "x": numbers(x), "y": numbers(y), "confidence": confidence, "slope": float(r.slope),
                    "intercept": float(r.intercept), "low": float(r.low_slope), "high": float(r.high_slope),
                }


def rises(values):
    return sum(int(np.sign(b - a)) for a, b in itertools.combinations(values, 2))


def mann_kendall():
    """Without ties against Kendall's tau; with ties by visiting every order; the normal form by its formula."""
    for n in (2, 3, 4, 5, 6, 8, 10, 12, 20, 35, 50):
        for _ in range(3):
            y = short(RNG.permutation(n) + 0.5 * np.arange(n) + RNG.uniform(0, 0.1, n))
            assert len(set(y)) == n
            p = stats.kendalltau(np.arange(n), y, method="exact").pvalue
            yield {"kind": "distinct", "y": numbers(y), "s": rises(y), "p": float(p)}
    for n in (2, 3, 4, 5, 6, 7, 8):
        for _ in range(3):
            y = RNG.integers(0, max(2, n // 2), n)
            s = rises(y)
            # Every order of a group of equal values is the same series; the distinct ones suffice, because
            # each stands for equally many.
            orders = set(itertools.permutations([int(v) for v in y]))
            p = sum(abs(rises(order)) >= abs(s) for order in orders) / len(orders)
            yield {"kind": "ties", "y": numbers(y), "s": s, "p": p}
    for n in (51, 60, 80):
        y = short(RNG.integers(0, 20, n) + 0.1 * np.arange(n).round(-1))
        s, ties = rises(y), np.unique(y, return_counts=True)[1]
        variance = (n * (n - 1) * (2 * n + 5) - sum(int(t) * (int(t) - 1) * (2 * int(t) + 5) for t in ties)) / 18
        z = (abs(s) - 1) / math.sqrt(variance) if s else 0.0
        yield {"kind": "normal", "y": numbers(y), "s": s, "p": float(2 * stats.norm.sf(z)), "variance": variance}


def pchip():
    for n in (2, 3, 4, 7, 15, 40):
        for kind in ("smooth", "steps", "wild"):
            x = short(np.cumsum(RNG.uniform(0.01, 0.08, n)))
            y = {"smooth": 40 * np.sin(3 * x), "steps": np.round(4 * np.sin(5 * x)), "wild": RNG.normal(0, 50, n)}[kind]
            y = short(y)
            at = np.sort(np.concatenate([x, short(RNG.uniform(x[0], x[-1], 25)).clip(x[0], x[-1])]))
            yield {"x": numbers(x), "y": numbers(y), "at": numbers(at), "value": numbers(interpolate.PchipInterpolator(x, y)(at))}


def hooks():
    """Three or four points that turn at once: every branch of the slope at an end."""
    for _ in range(40):
        n = int(RNG.integers(3, 5))
        x = short(np.cumsum(RNG.uniform(0.01, 0.3, n)))
        y = np.cumsum(RNG.choice([-9.0, -3.0, -1.0, 0.0, 1.0, 3.0, 9.0], n))
        at = short(np.linspace(x[0], x[-1], 9)).clip(x[0], x[-1])
        yield {"x": numbers(x), "y": numbers(y), "at": numbers(at), "value": numbers(interpolate.PchipInterpolator(x, y)(at))}


def linear():
    for n in (2, 5, 30):
        x = short(np.cumsum(RNG.uniform(0.01, 0.08, n)))
        y = short(RNG.normal(0, 50, n))
        at = np.sort(np.concatenate([x, short(RNG.uniform(x[0], x[-1], 25)).clip(x[0], x[-1])]))
        yield {"x": numbers(x), "y": numbers(y), "at": numbers(at), "value": numbers(np.interp(at, x, y))}


def sparc():
    """Spectral arc length by its definition."""
    def arc(speed, rate):
        size = int(2 ** (math.ceil(math.log2(len(speed))) + 4))
        f = np.arange(size) * rate / size
        m = np.abs(np.fft.fft(speed, size))
        m, f = m[f <= 10] / m.max(), f[f <= 10]
        end = np.nonzero(m >= 0.05)[0][-1] + 1
        m, f = m[:end], f[:end]
        return -np.sum(np.sqrt((np.diff(f) / (f[-1] - f[0])) ** 2 + np.diff(m) ** 2))

    for rate in (25, 30, 60, 240):
        for n in (4, 31, 64, 65, 150):
            t = np.linspace(0, 1, n)
            bell = short(30 * t**2 * (1 - t) ** 2)
            for speed in (bell, short(np.abs(bell + RNG.normal(0, 0.1, n))), short(np.abs(np.sin(2.6 * np.pi * t)))):
                yield {"rate_hz": rate, "speed": numbers(speed), "sparc": float(arc(speed, rate))}


def lines():
    """Slope by minimising the effective-variance sum; its error for exact x from the weighted normal equations."""
    for n in (3, 5, 12, 30):
        for slope in (-2.0, 0.0, 0.33, 1.0, 4.0):
            truth = np.linspace(20, 110, n)
            sx, sy = short(RNG.uniform(1, 4, n)), short(RNG.uniform(1, 4, n))
            x, y = short(truth + RNG.normal(0, sx)), short(5 + slope * truth + RNG.normal(0, sy))

            def cost(b, sx, sy):
                w = 1 / (sy**2 + b**2 * sx**2)
                r = y - b * x
                return np.sum(w * (r - np.sum(w * r) / np.sum(w)) ** 2)

            # By the angle of the line, so that steep and level are alike; polished by a root of the slope.
            def best(sx, sy):
                grid = np.linspace(-1.55, 1.55, 3001)
                a0 = grid[np.argmin([cost(math.tan(a), sx, sy) for a in grid])]
                def turn(a, h=1e-4):
                    f = lambda d: cost(math.tan(a + d), sx, sy)
                    return (8 * (f(h) - f(-h)) - (f(2 * h) - f(-2 * h))) / (12 * h)
                return math.tan(optimize.brentq(turn, a0 - 2e-3, a0 + 2e-3, xtol=1e-15))

            design = np.column_stack([x, np.ones(n)])
            normal = np.linalg.inv(design.T @ (design / sy[:, None] ** 2))
            weighted = normal @ (design.T @ (y / sy**2))
            yield {
                "x": numbers(x), "y": numbers(y), "sd_x": numbers(sx), "sd_y": numbers(sy),
                "york": best(sx, sy),
                "deming": [[r, best(np.ones(n), np.full(n, r))] for r in (0.25, 1.0, 3.0)],
                "weighted": numbers(weighted), "weighted_se": numbers(np.sqrt(np.diag(normal))),
            }


def small():
    """Middle, spread, area, adjusted p."""
    for n in (1, 2, 3, 8, 25):
        x, t = short(RNG.normal(0, 10, n)), short(np.cumsum(RNG.uniform(0.01, 0.2, n)))
        p = np.round(RNG.uniform(0, 0.2, n), 3)
        order, holm, least = np.argsort(p, kind="stable"), np.zeros(n), 0.0
        for rank, k in enumerate(order):
            least = max(least, min(1.0, p[k] * (n - rank)))
            holm[k] = least
        yield {
            "x": numbers(x), "t": numbers(t), "p": numbers(p), "median": float(np.median(x)),
            "mad": float(stats.median_abs_deviation(x)), "sd": float(stats.median_abs_deviation(x, scale="normal")),
            "area": float(integrate.trapezoid(x, t)), "holm": numbers(holm),
        }


def hampel():
    for n in (5, 20, 60):
        for half, threshold in ((1, 3.0), (3, 3.0), (5, 2.5)):
            x = movement(n, 30)
            x[RNG.integers(0, n, max(1, n // 12))] += 70
            flags = []
            for k in range(n):
                window = x[max(0, k - half):k + half + 1]
                middle = np.median(window)
                scale = stats.median_abs_deviation(window, scale="normal")
                flags.append(bool(len(window) >= 3 and abs(x[k] - middle) > threshold * scale))
            yield {"x": numbers(x), "half_window": half, "threshold": threshold, "flags": flags}


def rotations():
    """Y-X'-Y'' and Y-X'-Z'' angles of random rotations and of rotations near the poles of Y-X'-Y''."""
    for k in range(60):
        if k < 40:
            rotation = Rotation.random(random_state=1000 + k)
        else:
            tilt = (k - 39) * 2.0 if k < 50 else 180.0 - (k - 49) * 2.0
            rotation = Rotation.from_euler("YXY", [20.0 * k % 360.0 - 180.0, -tilt, 7.0 * k % 90.0], degrees=True)
        matrix = rotation.as_matrix()
        plane, minus_elevation, axial = Rotation.from_matrix(matrix).as_euler("YXY", degrees=True)
        protraction, minus_upward, tilt = Rotation.from_matrix(matrix).as_euler("YXZ", degrees=True)
        yield {
            "matrix": [[float(v) for v in row] for row in matrix],
            "yxy": [float(plane), float(minus_elevation), float(axial)],
            "yxz": [float(protraction), float(minus_upward), float(tilt)],
        }


KINDS = [rotations, butter, filters, zero_phase, peaks, theil_sen, mann_kendall, pchip, hooks, linear, sparc, lines, small, hampel]


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    out = {
        "made_by": "tests/oracle/make.py",
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
        "cases": {kind.__name__: list(kind()) for kind in KINDS},
    }
    with open(sys.argv[1], "w", encoding="utf-8") as file:
        json.dump(out, file, separators=(",", ":"))
        file.write("\n")
    for kind, cases in out["cases"].items():
        print(f"{kind}: {len(cases)}")


main()
