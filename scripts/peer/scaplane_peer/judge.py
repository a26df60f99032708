"""Verdicts by guard band (JCGM 106:2012), and drift of the margins over the repetitions of a set."""

from math import erfc, sqrt

import numpy as np
from scipy.special import erfcinv

from .numbers import median
from .view import Z_95

LEAST_REPS, LEVEL, EXACT_UP_TO, CONFIDENCE = 5, 0.05, 50, 0.95


def verdict(found, limit):
    """within, near, outside or cannot-tell: the whole interval decides."""
    if isinstance(found, str):
        return "cannot-tell"
    low, high = limit.low, limit.high
    if (low is not None and found.high < low) or (high is not None and found.low > high):
        return "outside"
    if (low is None or found.low >= low) and (high is None or found.high <= high):
        return "within"
    band = None
    if low is not None and high is not None:
        band = high - low
    elif limit.degrees and (low if high is None else high) > 0.0:
        band = low if high is None else high
    return "cannot-tell" if band is not None and found.high - found.low > band else "near"


def overall(verdicts):
    """Verdict of a repetition from pairs of a verdict and whether it is key."""
    plain = [one for one, _ in verdicts]
    if "outside" in plain:
        return "outside"
    if any(key and one == "cannot-tell" for one, key in verdicts):
        return "cannot-tell"
    return next((one for one in ("near", "within") if one in plain), "cannot-tell")


def finding(found, limit, verdict_of):
    """What is said of a measure that is not within."""
    measured = not isinstance(found, str)
    code = found if not measured else "ill-conditioned"
    if measured and verdict_of in ("outside", "near"):
        if limit.low is not None and (limit.high is None or found.value - limit.low <= limit.high - found.value):
            code = limit.below
        else:
            code = limit.above
    return {
        "measure": limit.measure, "code": code or "ill-conditioned", "verdict": verdict_of,
        "margin": limit.margin(found.value) if measured else None, "worst_frame": found.moment if measured else None,
    }  # fmt: skip


def drift(outcomes, complete, numbers, verdicts, limits):
    """Drift of every limit over one set: lists by repetition of outcomes, completeness, numbers and verdicts."""
    rows = []
    for k, limit in enumerate(limits):
        used = [r for r, one in enumerate(outcomes) if complete[r] and not isinstance(one[limit.measure], str)]
        outside = (number for number, of_rep in zip(numbers, verdicts) if of_rep[k] == "outside")
        found = [outcomes[r][limit.measure] for r in used]
        margins = [_margin(limit, numbers[r], outcomes[r][limit.measure]) for r in used]
        y = np.array([margin["margin"] for margin in margins])
        row = {
            "measure": limit.measure, "reps": len(used), "p": mann_kendall(y) if len(y) >= LEAST_REPS else None,
            "first_outside_rep": next(outside, None), "margins": margins,
            "least_change": Z_95 * sqrt(2.0) * median([one.repeat_sd for one in found]) if found else None,
        }  # fmt: skip
        rows.append((row, np.array([numbers[r] for r in used], dtype=float), y))
    adjusted = iter(holm([row["p"] for row, _, _ in rows if row["p"] is not None]))
    return [row | _trend(row, x, y, None if row["p"] is None else next(adjusted)) for row, x, y in rows]


def _margin(limit, number, found):
    middle = limit.margin(found.value)
    ends = (limit.margin(found.low), limit.margin(found.high), middle)
    return {"rep": number, "margin": middle, "low": min(ends), "high": max(ends)}


def _trend(row, x, y, p_adjusted):
    """A trend is claimed only beyond chance and beyond the error of measurement."""
    keys = ("p_adjusted", "slope_per_rep", "low", "high", "change", "intercept", "crosses_at_rep")
    if p_adjusted is None:
        return dict.fromkeys(keys) | {"toward": "not-claimed"}
    slope, low, high = theil_sen(x, y)
    span = x[-1] - x[0]
    change, intercept = slope * span, np.median(y) - slope * np.median(x)
    toward, crosses = "nowhere", None
    if p_adjusted < LEVEL and abs(change) > row["least_change"]:
        toward = "outside" if slope < 0.0 else "inside"
    if toward == "outside" and x[0] <= -intercept / slope <= x[-1] + span:
        crosses = -intercept / slope
    return dict(zip(keys, (p_adjusted, slope, low, high, change, intercept + slope * x[0], crosses))) | {
        "toward": toward
    }


def _tie_sum(values):
    k = np.unique(values, return_counts=True)[1].astype(float)
    return float((k * (k - 1.0) * (2.0 * k + 5.0)).sum())


def theil_sen(x, y):
    """Median of the pairwise slopes and the ends of its interval."""
    i, j = np.triu_indices(len(x), 1)
    slopes = np.sort((y[j] - y[i]) / (x[j] - x[i]))
    n, count = float(len(x)), len(slopes)
    variance = (n * (n - 1.0) * (2.0 * n + 5.0) - _tie_sum(x) - _tie_sum(y)) / 18.0
    reach = sqrt(2.0) * erfcinv(1.0 - CONFIDENCE) * sqrt(max(variance, 0.0))
    at = lambda rank: float(slopes[min(max(int(rank), 0), count - 1)])
    return float(np.median(slopes)), at(np.rint((count - reach) / 2.0) - 1.0), at(np.rint((count + reach) / 2.0))


def mann_kendall(values):
    """Two-sided p of the Mann-Kendall test, exact up to fifty values."""
    i, j = np.triu_indices(len(values), 1)
    s = int(np.sign(values[j] - values[i]).sum())
    if s == 0:
        return 1.0
    if len(values) > EXACT_UP_TO:
        n = float(len(values))
        variance = (n * (n - 1.0) * (2.0 * n + 5.0) - _tie_sum(values)) / 18.0
        return erfc((abs(s) - 1) / sqrt(variance) / sqrt(2.0)) if variance > 0.0 else 1.0
    counts = _falling_pairs(np.unique(values, return_counts=True)[1].tolist())
    tail = counts[(len(counts) - 1 - 2 * np.arange(len(counts))) >= abs(s)].sum()
    return float(min(2.0 * tail / counts.sum(), 1.0))


def _falling_pairs(groups):
    """How many orders of values in groups of these sizes have 0, 1, 2, .. falling pairs."""
    counts, placed = np.ones(1), 0
    for size in groups:
        counts = np.convolve(counts, _gaussian_binomial(placed, size))
        placed += size
    return counts


def _gaussian_binomial(m, t):
    """Coefficients of "m + t choose t": G(i, j) = G(i, j - 1) + q^j G(i - 1, j)."""
    column = [np.ones(1)] * (m + 1)
    for j in range(1, t + 1):
        for i in range(1, m + 1):
            both = np.zeros(i * j + 1)
            both[: len(column[i])] += column[i]
            both[j:] += column[i - 1]
            column[i] = both
    return column[m]


def holm(p):
    """Holm's step-down correction."""
    p = np.asarray(p, dtype=float)
    order = np.argsort(p, kind="stable")
    steps = np.minimum(p[order] * (len(p) - np.arange(len(p))), 1.0)
    out = np.empty(len(p))
    out[order] = np.maximum.accumulate(steps) if len(p) else steps
    return out.tolist()
