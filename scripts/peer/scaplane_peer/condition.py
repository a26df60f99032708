"""From a raw track to one that may be measured: repaired, cleaned, evenly timed, low-passed."""

from dataclasses import dataclass
from math import atan, log, pi, sqrt

import numpy as np
from scipy.interpolate import PchipInterpolator

from .clock import Timeline
from .filters import LEAST_TO_FILTER, MAD_TO_SD, difference_noise, low_pass, residual_cutoffs
from .numbers import longest_run, median, quantile, quantile_of_last, runs, windows
from .track import Layer, Track

#: Longest gap that is bridged, seconds, and times that are one time.
LONGEST_GAP_S, SAME_TIME_S = 0.2, 1e-9
#: Price of calling a frame exchanged, as a share of the median distance between the paired points.
PRICE = 0.15
EXCHANGED_TOGETHER = (("shoulder", "elbow", "wrist"), ("hip",))
#: Outliers: half a window in seconds, robust standard deviations, least spread as a share of the figure's height.
HALF_WINDOW_S, THRESHOLD, FLOOR_SHARE, LEAST_IN_WINDOW = 0.17, 5.0, 0.006, 3
#: Cut-offs that are tried, hertz, and noise as a share of the range below which a track is clean.
STEP_HZ, CLEAN_SHARE = 0.5, 1e-4
#: Largest factor by which correlated noise may exceed white noise.
MOST_CORRELATED = 3.0


@dataclass
class Conditioned:
    """A track with what is left of its noise."""

    track: Track
    #: Standard deviation by joint and axis, of the picture and of space.
    picture_sd: np.ndarray | None
    space_sd: np.ndarray | None
    correlation_s: float
    cutoff_hz: float
    #: Counts of what was changed.
    counts: dict


def condition(track):
    """Repairs exchanges, drops outliers, resamples by time, bridges short gaps and low-passes."""
    rate = track.timeline.rate_hz
    counts = {"exchanged": [], "dropped": []}
    for layer in track.layers:
        counts["exchanged"].append(repair_exchanges(layer, track.joints))
        counts["dropped"].append(drop_outliers(layer, rate))
    track, counts["filled"], counts["open"] = resample(track, rate)
    rate = track.timeline.rate_hz
    raw = [layer_noise(layer) for layer in track.layers]
    cutoff = choose_cutoff(track, rate)
    for layer in track.layers:
        smooth(layer, cutoff, rate)
    kept, correlation_s = kept_by_filter(np.concatenate([ar1 for _, ar1 in raw]), cutoff, rate)
    sds = [sd * kept for sd, _ in raw]
    return Conditioned(
        track=track, picture_sd=sds[0] if track.picture else None, space_sd=sds[-1] if track.space else None,
        correlation_s=correlation_s, cutoff_hz=cutoff, counts=counts,
    )  # fmt: skip


def repair_exchanges(layer, joints):
    """Puts back exchanged sides; the number of frames in which it did."""
    touched = np.zeros(len(layer.position), dtype=bool)
    for names in EXCHANGED_TOGETHER:
        left = [joints.index(f"{name}-left") for name in names]
        right = [joints.index(f"{name}-right") for name in names]
        wrong = _exchanged(layer.position[:, left], layer.position[:, right])
        both = layer.position[np.ix_(wrong, left + right)]
        layer.position[np.ix_(wrong, right + left)] = both
        touched |= wrong
    return int(touched.sum())


def _exchanged(left, right):
    """Frames in which the two sides are exchanged: the path of least travel over two labellings."""
    frames = len(left)
    length = lambda vectors: np.sqrt(np.sum(vectors * vectors, axis=-1))
    there = ~np.isnan(left[..., 0] + right[..., 0])
    apart = median(length(left - right))
    if np.isnan(apart):
        return np.zeros(frames, dtype=bool)
    price = PRICE * apart * left.shape[1]
    # The last frame before each in which both points of a pair were there.
    index = np.where(there, np.arange(frames)[:, None], -1)
    last = np.vstack([np.full((1, there.shape[1]), -1), np.maximum.accumulate(index, axis=0)[:-1]])
    was_left = np.take_along_axis(left, np.maximum(last, 0)[..., None], axis=0)
    was_right = np.take_along_axis(right, np.maximum(last, 0)[..., None], axis=0)
    known = there & (last >= 0)
    total = lambda a, b: np.where(known, length(left - a) + length(right - b), 0.0).sum(axis=1).tolist()
    straight, crossed = total(was_left, was_right), total(was_right, was_left)
    as_is, swapped = 0.0, price
    came_from = []
    for stay, change in zip(straight, crossed):
        to_as_is, to_swapped = (as_is + stay, swapped + change), (swapped + stay, as_is + change)
        from_as_is, from_swapped = int(to_as_is[0] > to_as_is[1]), int(to_swapped[0] <= to_swapped[1])
        as_is, swapped = min(to_as_is), min(to_swapped) + price
        came_from.append((from_as_is, from_swapped))
    state = int(swapped < as_is)
    path = np.zeros(frames, dtype=bool)
    for frame in range(frames - 1, -1, -1):
        path[frame] = state == 1
        state = came_from[frame][state]
    return ~path if 2 * path.sum() > frames else path


def drop_outliers(layer, rate):
    """Drops points that lie far from the median of their window; how many."""
    height = layer.position[..., 1]
    low, high = np.fmin.reduce(height, axis=1), np.fmax.reduce(height, axis=1)
    floor = median(high - low)
    floor = FLOOR_SHARE * (0.0 if np.isnan(floor) else floor)
    half = max(int(HALF_WINDOW_S * rate + 0.5), 2)
    around = windows(layer.position, half)
    middle = quantile_of_last(around, 0.5)
    deviation = quantile_of_last(np.abs(around - middle[..., None]), 0.5)
    enough = np.sum(~np.isnan(around), axis=-1) >= LEAST_IN_WINDOW
    far = np.abs(layer.position - middle) > THRESHOLD * np.maximum(MAD_TO_SD * deviation, floor)
    odd = (far & enough).any(axis=-1)
    layer.position[odd] = np.nan
    return int(odd.sum())


def resample(track, rate):
    """The track on an even time line, short gaps bridged; how many points were filled and left open."""
    times = track.timeline.times_s
    steps = int((times[-1] - times[0] + SAME_TIME_S) * rate)
    grid = times[0] + np.arange(steps + 1) / rate
    counts = np.zeros(2, dtype=int)
    layers = []
    for layer in (track.picture, track.space):
        if layer is None:
            layers.append(None)
            continue
        position = np.full((len(grid),) + layer.position.shape[1:], np.nan)
        filled = np.zeros(position.shape[:2], dtype=bool)
        for joint in range(position.shape[1]):
            position[:, joint], filled[:, joint] = _at_times(times, layer.position[:, joint], grid)
        ever = layer.there.any(axis=0)
        counts += filled.sum(), np.isnan(position[:, ever, 0]).sum()
        layers.append(Layer(position, filled))
    track = Track(
        track.joints, Timeline(grid, track.timeline.timing), layers[0], layers[1], track.size, track.layout,
        track.person,
    )  # fmt: skip
    return track, int(counts[0]), int(counts[1])


# Steps within which a frame must have been recorded for a point to count as observed.
RECORDED_WITHIN = 0.75


def _at_times(times, values, grid):
    """A joint at other times, by a cubic that keeps the shape; which of them lie in a hole of the samples."""
    out = np.full((len(grid), values.shape[1]), np.nan)
    filled = np.zeros(len(grid), dtype=bool)
    index = np.flatnonzero(~np.isnan(values[:, 0]))
    if not index.size:
        return out, filled
    at, known = times[index], values[index]
    after = np.searchsorted(at, grid, side="right")
    left, right = np.maximum(after - 1, 0), np.minimum(after, len(at) - 1)
    for start, end in _stretches(at):
        inside = (grid >= at[start]) & (grid <= at[end - 1])
        if end - start >= 2 and inside.any():
            out[inside] = PchipInterpolator(at[start:end], known[start:end])(grid[inside])
    filled = ~np.isnan(out[:, 0]) & (index[right] > index[left] + 1)
    for near in (right, left):
        same = np.abs(at[near] - grid) <= SAME_TIME_S
        out[same] = known[near[same]]
        filled[same] = False
    after = np.searchsorted(times, grid).clip(1, max(len(times) - 1, 1)).clip(max=len(times) - 1)
    apart = np.minimum(np.abs(times[after] - grid), np.abs(times[np.maximum(after - 1, 0)] - grid))
    step = (grid[-1] - grid[0]) / max(len(grid) - 1, 1)
    filled |= ~np.isnan(out[:, 0]) & (apart > RECORDED_WITHIN * step)
    return out, filled


def _stretches(at):
    """Start and end (exclusive) of samples without a gap that is too long."""
    breaks = np.flatnonzero(np.diff(at) > LONGEST_GAP_S + SAME_TIME_S) + 1
    return zip([0, *breaks], [*breaks, len(at)])


def layer_noise(layer):
    """Standard deviation by joint and axis from second differences, and the coefficients that were found."""
    sd = np.zeros(layer.position.shape[1:])
    coefficients = [np.empty(0)]
    for joint in range(len(sd)):
        found = difference_noise(longest_run(layer.position[:, joint], layer.there[:, joint]))
        if found is not None:
            white, correlated, ar1 = found
            sd[joint] = np.clip(correlated, white, MOST_CORRELATED * white)
            coefficients.append(ar1)
    return sd, np.concatenate(coefficients)


def choose_cutoff(track, rate):
    """Upper quartile of the cut-offs of the elbows' coordinates."""
    chosen = []
    for joint in ("elbow-left", "elbow-right"):
        column = track.column(joint)
        run = longest_run(track.main.position[:, column, :2], track.main.there[:, column])
        found = residual_cutoffs(run, rate, STEP_HZ)
        for (cutoff, white_sd), reach in zip(found, np.ptp(run, axis=0) if found else ()):
            chosen.append(min(10.0, rate / 4.0) if white_sd < CLEAN_SHARE * reach else cutoff)
    return quantile(chosen, 0.75)


def smooth(layer, cutoff, rate):
    """Filters every stretch that is long enough, in place."""
    whole = layer.there.all(axis=0)
    if len(layer.position) >= LEAST_TO_FILTER and whole.any():
        layer.position[:, whole] = low_pass(layer.position[:, whole], cutoff, rate)
    for joint in np.flatnonzero(~whole):
        for start, end in runs(layer.there[:, joint]):
            if end - start >= LEAST_TO_FILTER:
                layer.position[start:end, joint] = low_pass(layer.position[start:end, joint], cutoff, rate)


def kept_by_filter(coefficients, cutoff, rate):
    """Share of the noise's standard deviation that the filter leaves, and the time over which it stays alike."""
    ar1 = median(coefficients)
    ar1 = max(0.0 if np.isnan(ar1) else ar1, 0.0)
    alike_s = -1.0 / (rate * log(ar1)) if ar1 > 1e-3 else 0.0
    correlated = 2.0 / pi * atan(2.0 * pi * cutoff * alike_s)
    return sqrt(min(max(correlated, 2.0 * cutoff / rate), 1.0)), max(alike_s, 1.0 / (2.0 * pi * cutoff))
