"""Averages, extremes and events of a series over a stretch of frames, with their errors."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from .numbers import last_largest, median, moving_median
from .view import Z_95

LEAST_FRAMES = 3


class Absent(Exception):
    """There is no value, because."""


@dataclass
class Value:
    """A value with both parts of its error, and the frame it stands for."""

    value: float
    random: float
    systematic: float
    frame: int

    @property
    def sd(self):
        """Both parts together."""
        return hypot(self.random, self.systematic)


@dataclass
class Outcome:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float
    observed: float
    basis: str
    #: Standard deviation of the part that changes from repetition to repetition.
    repeat_sd: float
    moment: int


def outcome(value, sd, observed, repeat_sd, moment, basis="direct", floor=None):
    """A value with a symmetric interval, its lower end held at a floor."""
    low = value - Z_95 * sd
    low = low if floor is None else max(low, floor)
    return Outcome(value, low, value + Z_95 * sd, observed, basis, repeat_sd, moment)


def of_value(value, observed, floor=None):
    """The same from a value."""
    return outcome(value.value, value.sd, observed, value.random, value.frame, floor=floor)


def mean(series, first, last, weights, alike_frames):
    """Weighted mean over the frames with a positive weight; None if there are too few."""
    part = slice(first, last + 1)
    used = (weights[part] > 0.0) & ~np.isnan(series.value[part])
    count = int(used.sum())
    if count < LEAST_FRAMES:
        return None
    frames = np.flatnonzero(used) + first
    weight = weights[frames]
    total = weight.sum()
    average = lambda values: float(weight @ values[frames] / total)
    independent = max(count / alike_frames, 1.0)
    return Value(
        average(series.value), average(series.random_sd) / sqrt(independent), average(series.systematic_sd),
        int(frames[0] + frames[-1]) // 2,
    )  # fmt: skip


def extreme(series, first, last, sign, why="too-few-frames"):
    """Extreme over a stretch; sign 1 for the largest, -1 for the smallest."""
    part = sign * series.value[first : last + 1]
    if np.isnan(part).all():
        raise Absent(why)
    frame = first + last_largest(np.where(np.isnan(part), -np.inf, part))
    return Value(float(series.value[frame]), *series.sd_at(frame), frame)


def around(values, frame, half):
    """Median around a frame, so that one noisy frame is no reference."""
    middle = median(values[max(frame - half, 0) : frame + half + 1])
    if np.isnan(middle):
        raise Absent("too-few-frames")
    return middle


def first_frame(there, start, end):
    """First frame of a stretch at which something holds; None if none."""
    found = np.flatnonzero(there[start : end + 1])
    return start + int(found[0]) if found.size else None


def part_way(series, start, end, share, least_travel):
    """First frame at which the series has gone a share of its way."""
    begin = around(series.value, start, 2)
    travel = around(series.value, end, 2) - begin
    if abs(travel) < least_travel:
        raise Absent("event-not-seen")
    frame = first_frame((series.value - begin) / travel >= share, start, end)
    if frame is None:
        raise Absent("event-not-seen")
    return frame


def averaged(series, half):
    """Median of a series about every frame."""
    return moving_median(series.value, half)
