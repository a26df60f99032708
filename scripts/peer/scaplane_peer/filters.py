"""Zero-phase low-pass, residual analysis and noise of evenly timed samples."""

from functools import lru_cache
from math import atan, pi, sqrt, tan

import numpy as np
from scipy.signal import butter, sosfiltfilt

#: Samples that the filter's reflection needs.
LEAST_TO_FILTER = 10
#: Outward move of the cut-off of a filter of order 2 that is run twice.
DUAL_PASS = (sqrt(2.0) - 1.0) ** 0.25
#: Median absolute deviation to standard deviation.
MAD_TO_SD = 1.482602218505602
#: Largest coefficient of a first-order noise that is reported.
AR1_LIMIT = 0.95
LEAST_FOR_NOISE = 10

#: Residual analysis: samples, cut-offs, last cut-off as a share of Nyquist, least r-squared, limits in hertz.
LEAST_SAMPLES, LEAST_GRID, LAST_SHARE, LEAST_R2, LOW_HZ, HIGH_HZ = 30, 6, 0.8, 0.95, 2.0, 10.0
SPECTRUM_BINS = 512


@lru_cache(maxsize=256)
def _sections(cutoff_hz, rate_hz):
    design_hz = rate_hz / pi * atan(tan(pi * cutoff_hz / rate_hz) / DUAL_PASS)
    return butter(2, design_hz, fs=rate_hz, output="sos")


def low_pass(values, cutoff_hz, rate_hz):
    """Effective order 4 without shift in time, -3 dB at the cut-off, along the first axis."""
    return sosfiltfilt(_sections(cutoff_hz, rate_hz), values, axis=0)


def difference_noise(values):
    """Robust white and first-order standard deviation, and its coefficient, of each column; None if too short."""
    if len(values) < LEAST_FOR_NOISE:
        return None
    second = values[:-2] - 2.0 * values[1:-1] + values[2:]
    power = np.mean(second * second, axis=0)
    lag1 = np.sum(second[:-1] * second[1:], axis=0) / (len(second) - 1.0)
    safe = np.where(power > 0.0, power, 1.0)
    ar1 = np.where(power > 0.0, _ar1_of_correlation(lag1 / safe), 0.0)
    spread = np.median(np.abs(second - np.median(second, axis=0)), axis=0) * MAD_TO_SD
    return spread / sqrt(6.0), np.sqrt(power / (6.0 - 8.0 * ar1 + 2.0 * ar1 * ar1)), ar1


def _ar1_of_correlation(r):
    half = (3.0 + 2.0 * r) / 2.0
    root = half * half - (4.0 + 6.0 * r)
    inside = np.clip(half - np.sqrt(np.maximum(root, 0.0)), -AR1_LIMIT, AR1_LIMIT)
    return np.where((root < 0.0) | (r >= -0.5), AR1_LIMIT, inside)


@lru_cache(maxsize=256)
def _white_residual(cutoff_hz, rate_hz):
    """Residual of unit white noise at a cut-off, by the midpoint rule over the spectrum."""
    w = pi * (np.arange(SPECTRUM_BINS) + 0.5) / SPECTRUM_BINS
    ratio = np.tan(w / 2.0) / tan(pi * cutoff_hz / rate_hz)
    stop = 1.0 - 1.0 / (1.0 + (ratio * DUAL_PASS) ** 4)
    return sqrt(np.mean(stop * stop))


def _line(x, y):
    """Slope, intercept and r-squared of the line of least squares."""
    dx, dy = x - x.mean(), y - y.mean()
    sxx, sxy, syy = dx @ dx, dx @ dy, dy @ dy
    slope = sxy / sxx if sxx > 0.0 else 0.0
    level = sqrt(syy) <= 1e-9 * abs(y.mean()) * sqrt(len(y))
    r2 = 1.0 if level or sxx == 0.0 else sxy * sxy / (sxx * syy)
    return slope, y.mean() - slope * x.mean(), r2


def residual_cutoffs(values, rate_hz, step_hz):
    """Cut-off by residual analysis and white noise of each column, or nothing if there are too few samples."""
    grid = step_hz * np.arange(1, int(LAST_SHARE * rate_hz / 2.0 / step_hz) + 1)
    if len(values) < LEAST_SAMPLES or len(grid) < LEAST_GRID:
        return []
    residuals = np.stack([values - low_pass(values, cutoff, rate_hz) for cutoff in grid.tolist()])
    curves = np.sqrt(np.mean(residuals * residuals, axis=1))
    curves[curves <= 1e-12 * np.abs(values).max(axis=0)] = 0.0
    return [_choose(grid, curve, rate_hz) for curve in curves.T]


def _choose(grid, curve, rate_hz):
    high = min(HIGH_HZ, rate_hz / 4.0)
    low = min(LOW_HZ, high)
    start = len(grid) // 2
    for place in range(int(np.searchsorted(grid, low)), len(grid) - LEAST_GRID + 1):
        if _line(grid[place:], curve[place:])[2] >= LEAST_R2:
            start = place
            break
    intercept = _line(grid[start:], curve[start:])[1]
    unit = np.array([_white_residual(cutoff, rate_hz) for cutoff in grid[start:].tolist()])
    white_sd = max(intercept / _line(grid[start:], unit)[1], 0.0)
    falls = np.flatnonzero((curve[:-1] > intercept) & (curve[1:] <= intercept))
    if falls.size:
        k = falls[0]
        wanted = grid[k] + (grid[k + 1] - grid[k]) * (curve[k] - intercept) / (curve[k] - curve[k + 1])
        return float(np.clip(wanted, low, high)), white_sd
    return (low if curve[0] <= intercept else high), white_sd
