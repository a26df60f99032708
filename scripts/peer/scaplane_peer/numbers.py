"""Quantiles, runs and windows over values in which NaN is missing."""

import numpy as np


def quantile(values, q):
    """Quantile of the finite values, linear between order statistics; NaN if there is none."""
    values = np.asarray(values, dtype=float)
    ordered = np.sort(values[np.isfinite(values)])
    if not ordered.size:
        return np.nan
    place = q * (ordered.size - 1)
    below = int(place)
    low, high = float(ordered[below]), float(ordered[min(below + 1, ordered.size - 1)])
    return low + (high - low) * (place - below)


def median(values):
    """Median of the finite values; NaN if there is none."""
    return quantile(values, 0.5)


def wrap_180(deg):
    """Angles brought into (-180, 180] degrees."""
    turned = np.mod(deg + 180.0, 360.0) - 180.0
    return np.where(turned == -180.0, 180.0, turned)


def runs(there):
    """Start and end (exclusive) of every stretch of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    return edges.reshape(-1, 2)


def longest_run(values, there):
    """The longest stretch of rows without a hole; of equals the last."""
    stretches = runs(there)
    if not len(stretches):
        return values[:0]
    lengths = stretches[:, 1] - stretches[:, 0]
    start, end = stretches[last_largest(lengths)]
    return values[start:end]


def last_largest(values):
    """Place of the largest value; of equals the last."""
    return len(values) - 1 - int(np.argmax(values[::-1]))


def windows(values, half):
    """Every window of `half` rows on both sides along the first axis, NaN beyond the ends; windows last."""
    pad = [(half, half)] + [(0, 0)] * (values.ndim - 1)
    padded = np.pad(values, pad, constant_values=np.nan)
    return np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=0)


def quantile_of_last(values, q):
    """Quantile along the last axis, NaN left out; NaN where nothing is left."""
    ordered = np.sort(values, axis=-1)
    last = np.sum(~np.isnan(ordered), axis=-1) - 1
    place = q * np.maximum(last, 0)
    below = place.astype(int)
    above = np.minimum(below + 1, np.maximum(last, 0))
    low = np.take_along_axis(ordered, below[..., None], -1)[..., 0]
    high = np.take_along_axis(ordered, above[..., None], -1)[..., 0]
    return low + (high - low) * (place - below)


def moving_median(values, half):
    """Median over `half` rows on both sides, NaN left out."""
    return quantile_of_last(windows(values, half), 0.5)
