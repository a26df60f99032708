"""Repetitions and sets, from the exercise's own signal."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.signal import find_peaks

from .filters import LEAST_TO_FILTER, difference_noise, low_pass
from .numbers import last_largest, median, quantile

#: Cut-off for looking for turning points, hertz.
LOOK_HZ = 3.0
#: Longest hole over which a repetition is still followed, seconds.
LONGEST_HOLE_S = 1.0
#: Least prominence as a share of the clip's range.
SHARE_OF_RANGE = 0.2
#: How near an end of the clip a piece must be to have been cut off by it, and the shortest repetition, seconds.
EDGE_S, SHORTEST_S = 0.5, 0.5
#: Excursion beside the median repetition below which there is none, and below which a piece cut off is none.
SMALL_BESIDE_USUAL, HALF_OF_USUAL = 0.33, 0.5
#: Share of the excursion at the foot, and rest at an edge in seconds and shares.
FOOT_SHARE, RESTING_S, RESTING_SHARE = 0.1, 0.4, 0.3
#: Share of the excursion that must be travelled on a side.
MOST_OF_IT = 0.7
#: Boundaries: share of the fastest moment that is still, nearness to rest and hold, largest share noise may hide.
STILL, NEAR, MOST_STILL = 0.05, 0.15, 0.2
#: Noise above which the smoothed signal gives the speed, degrees, and the speed that it makes.
NOISY_DEG, NOISE_SPEED = 0.15, 20.0
#: Standard deviations of noise that a repetition must exceed.
OUT_OF_NOISE = 3.0
#: Rest between sets: seconds, usual repetitions, and at least seconds.
REST_S, REST_IN_REPS, LEAST_REST_S = 8.0, 2.5, 5.0

CUT_AT_START = "the recording begins within it"
CUT_AT_END = "the recording ends within it"
SHORT = "the movement was too small for a repetition"


@dataclass(frozen=True)
class Rep:
    """Boundaries in frames, the set, and why it is incomplete, if it is."""

    start: int
    hold_start: int
    peak: int
    hold_end: int
    end: int
    incomplete: str | None = None
    set: int = 1


def repetitions(kinematics, exercise):
    """Repetitions of an exercise, without what noise alone makes, in sets."""
    rule = exercise.repetition
    series = kinematics.signals[rule["signal"]]
    if isinstance(series, str):
        return []
    rate = kinematics.rate_hz
    found = find(series.value, rate, rule)
    found = [rep for rep in found if _excursion(series.value, rep, 0.0) >= OUT_OF_NOISE * series.random_sd[rep.peak]]
    least, elevation = rule.get("least_elevation_deg"), kinematics.signals["elevation"]
    if least is not None and not isinstance(elevation, str):
        around = int(np.ceil(rate / 4.0))
        height = lambda rep: median(elevation.value[max(rep.peak - around, 0) : rep.peak + around + 1])
        found = [rep for rep in found if not height(rep) < least]
    return in_sets(found, kinematics.timeline.times_s)


def _excursion(signal, rep, unknown=np.nan):
    """Largest distance of the turning point from an end."""
    ends = np.abs(signal[rep.peak] - signal[[rep.start, rep.end]])
    if np.isnan(signal[rep.peak]):
        return unknown
    return float(np.nan_to_num(ends).max())


def find(signal, rate, rule):
    """Turning points that stand out, each from where the motion starts to where it ends."""
    sign = 1.0 if rule["turn"] == "high" else -1.0
    upward = sign * signal
    low, high = quantile(upward, 0.05), quantile(upward, 0.95)
    if np.isnan(low):
        return []
    least = max(rule["attempt_excursion_deg"], SHARE_OF_RANGE * (high - low))
    found = []
    for start, values in _stretches(upward, int(LONGEST_HOLE_S * rate + 0.5)):
        whole = start == 0, start + len(values) == len(signal)
        for rep in _in_stretch(values, rate, least, rule["min_excursion_deg"]):
            cut = (rep.incomplete == CUT_AT_START and not whole[0]) or (rep.incomplete == CUT_AT_END and not whole[1])
            if rule["turn"] == "low" and (cut or _still_at_edge(values, rep, rate)):
                continue
            found.append(Rep(*(start + f for f in (rep.start, rep.hold_start, rep.peak, rep.hold_end, rep.end)),
                             incomplete=rep.incomplete))  # fmt: skip
    return _real_ones(found, signal, rate)


def _stretches(signal, hole):
    """Stretches without a longer hole, shorter holes bridged by straight lines."""
    known = np.flatnonzero(~np.isnan(signal))
    for part in np.split(known, np.flatnonzero(np.diff(known) > hole + 1) + 1):
        if part.size:
            yield int(part[0]), np.interp(np.arange(part[0], part[-1] + 1), part, signal[part])


def _in_stretch(signal, rate, least, least_excursion):
    """Repetitions of one stretch in which the turning point is high."""
    smooth = low_pass(signal, LOOK_HZ, rate) if len(signal) >= LEAST_TO_FILTER and LOOK_HZ < rate / 2.0 else signal
    speed, unseen = _speeds(signal, smooth, rate)
    # One low sample at either end makes a turning point of a stretch that begins or ends up in the air.
    padded = np.pad(smooth, 1, constant_values=smooth.min() - 1.0)
    tops = np.clip(find_peaks(padded, prominence=least)[0] - 1, 0, len(smooth) - 1).tolist()
    last = len(smooth) - 1
    valleys = [0, *(_lowest(smooth, a, b) for a, b in pairwise(tops)), last]
    level = median(smooth[valleys[1:-1]])
    found = []
    for k, top in enumerate(tops):
        is_first, is_last = k == 0, k + 1 == len(tops)
        before = _foot(smooth, top, 0, level) if is_first else valleys[k]
        after = _foot(smooth, top, last, level) if is_last else valleys[k + 1]
        rise, fall = smooth[top] - smooth[before], smooth[top] - smooth[after]
        excursion = max(rise, fall)
        incomplete = None
        if rise < MOST_OF_IT * excursion and is_first:
            incomplete = CUT_AT_START
        elif fall < MOST_OF_IT * excursion and is_last:
            incomplete = CUT_AT_END
        elif excursion < least_excursion:
            incomplete = SHORT
        rep = Rep(*_boundaries(signal, speed, unseen, before, after), incomplete=incomplete)
        if incomplete in (CUT_AT_START, CUT_AT_END) and _excursion(signal, rep) < least:
            continue
        found.append(rep)
    return found


def _speeds(signal, smooth, rate):
    """Speed by central difference, from the smoothed form of a noisy signal, and the speed that noise makes."""
    noise = difference_noise(signal)
    white = 0.0 if noise is None else float(noise[0])
    noisy = white > NOISY_DEG
    values = smooth if noisy else signal
    frames = np.arange(len(values))
    before, after = np.maximum(frames - 1, 0), np.minimum(frames + 1, len(values) - 1)
    speed = np.abs((values[after] - values[before]) * rate / np.maximum(after - before, 1))
    return speed, NOISE_SPEED * white if noisy else 0.0


def _boundaries(signal, speed, unseen, before, after):
    """Start, hold start, peak, hold end and end of a repetition whose turning point is high."""
    peak = before + last_largest(signal[before : after + 1])
    start, arrived = _way(signal[before : peak + 1], speed[before : peak + 1], unseen)
    # The way back is the way out seen in reverse time.
    end, left = _way(signal[peak : after + 1][::-1], speed[peak : after + 1][::-1], unseen)
    return before + start, before + arrived, peak, after - left, after - end


def _way(signal, speed, unseen):
    """First and last frame of the movement from a low point up to a top."""
    fastest = last_largest(speed)
    still = min(max(STILL * speed[fastest], unseen), MOST_STILL * speed[fastest])
    near = NEAR * (signal[-1] - signal[0])
    start = np.flatnonzero((speed[: fastest + 1] < still) & (signal[: fastest + 1] < signal[0] + near))
    arrived = np.flatnonzero((speed[fastest:] < still) & (signal[fastest:] > signal[-1] - near))
    return int(start[-1]) if start.size else 0, fastest + int(arrived[0]) if arrived.size else len(signal) - 1


def _lowest(values, start, end):
    """Frame of the lowest value, of equals the first."""
    return start + int(np.argmin(values[start : end + 1]))


def _foot(values, top, end, level):
    """The lowest frame on the side of `end`, or where the signal stops falling after reaching the level."""
    lowest = _lowest(values, min(top, end), max(top, end))
    if np.isnan(level):
        return lowest
    height = values[top]
    margin = FOOT_SHARE * (height - level)
    low = None
    for frame in range(top - 1, end - 1, -1) if end < top else range(top + 1, end + 1):
        value = values[frame]
        if low is None:
            if value <= level + margin:
                low = frame
        elif value < values[low]:
            if value < level - margin:
                break
            low = frame
        elif value > values[low] + margin:
            break
    return lowest if low is None else low


def _still_at_edge(signal, rep, rate):
    """Whether a turning point lies at the edge of a stretch and the arm rests there."""
    if rep.incomplete not in (CUT_AT_START, CUT_AT_END):
        return False
    near = RESTING_SHARE * (signal[rep.peak] - min(signal[rep.start], signal[rep.end]))
    away = signal[rep.peak] - (signal if rep.incomplete == CUT_AT_START else signal[::-1]) >= near
    return (int(np.argmax(away)) if away.any() else len(signal)) > RESTING_S * rate


def _real_ones(found, signal, rate):
    """Without what is too short in time or small beside the usual repetition."""
    usual = median([_excursion(signal, rep) for rep in found if rep.incomplete is None])
    edge = int(EDGE_S * rate)
    kept = []
    for rep in found:
        share = HALF_OF_USUAL if rep.incomplete else SMALL_BESIDE_USUAL
        if rep.incomplete == CUT_AT_START and rep.start > edge:
            share = MOST_OF_IT
        if rep.incomplete == CUT_AT_END and rep.end + edge < len(signal):
            share = MOST_OF_IT
        small = _excursion(signal, rep) < share * usual
        cut = rep.incomplete in (CUT_AT_START, CUT_AT_END)
        if not small and (cut or rep.end - rep.start >= SHORTEST_S * rate):
            kept.append(rep)
    return kept


def in_sets(reps, times_s):
    """Numbers the sets, from 1: a long pause is a rest."""
    usual = np.nan_to_num(median([times_s[rep.end] - times_s[rep.start] for rep in reps]))
    rest = min(REST_S, max(REST_IN_REPS * usual, LEAST_REST_S))
    number, out = 1, []
    for rep in reps:
        if out and times_s[rep.start] - times_s[out[-1].end] >= rest:
            number += 1
        out.append(replace(rep, set=number))
    return out
