"""What is measured of one repetition. Each measure gives an outcome or raises the reason why there is none."""

from dataclasses import dataclass
from functools import cached_property
from math import cbrt, ceil, hypot, sqrt

import numpy as np

from .models import Exercise, Linkage
from .numbers import last_largest
from .reps import CUT_AT_END, CUT_AT_START, Rep
from .rhythm import rhythm, setting
from .smoothness import sparc
from .view import Z_95
from .window import Absent, Outcome, Value, around, averaged, extreme, first_frame, mean, of_value, outcome, part_way

#: Elevations between which the plane is taken, stretches that are looked at, and its most spread, degrees.
PLANE_FROM_DEG, PLANE_TO_DEG, STRETCHES, MOST_PLANE_SD_DEG = 40.0, 140.0, 4, 23.0
#: The arc, degrees.
ARC_FROM_DEG, ARC_TO_DEG = 60.0, 120.0
#: Elbow: flexion on the path and most spread; rotation: most spread, degrees.
BENT_DEG, MOST_ELBOW_SD_DEG, MOST_ROTATION_SD_DEG = 40.0, 30.0, 25.0
#: Frames on each side of a set's start, and over which the trunk is averaged.
REFERENCE_HALF, SMOOTH_HALF = 5, 15
#: Change of the drawn trunk by the girdle alone, degrees.
ON_SHOULDERS_SD_DEG = 1.2
#: Girdle: share of the rise that is its start, least rise in degrees, share of a constant error a change keeps.
ONSET_SHARE, LEAST_RISE_DEG, CHANGE_KEEPS = 0.15, 3.0, 0.3
#: Tempo: spread of a boundary in frames, share of the hidden time, spread of the smoothness.
BOUNDARY_SD_FRAMES, NOTICED, SPARC_SD = 1.0, 0.5, 0.15
#: Order of events: least speed in degrees a second, how far around in seconds, spread in frames.
LEAST_SPEED, AROUND_S, EVENT_SD_FRAMES = 10.0, 2.0, 3.0
#: A travel of the girdle: peak over mean speed, shares of the peak that are rest and a rival, standard deviations it
#: must be long.
PEAK_SPEED, AT_REST, RIVAL, BEYOND_NOISE = 1.875, 0.1, 0.6, 3.0
#: How long a cut-off repetition must be seen on both sides of its turning point, seconds.
PASSED_S = 0.25


@dataclass
class Context:
    """One repetition with everything that a measure looks at."""

    kinematics: object
    rep: Rep
    set_start: int
    exercise: Exercise
    linkage: Linkage
    shared: dict

    def signal(self, name):
        """A series, or its reason is raised."""
        found = self.kinematics.signals[name]
        if isinstance(found, str):
            raise Absent(found)
        return found

    def uncut(self):
        """Refuses a repetition that the recording cut off."""
        if self.rep.incomplete in (CUT_AT_START, CUT_AT_END):
            raise Absent("incomplete-repetition")

    def turned(self):
        """Refuses a repetition that the recording cut off before its turning point was passed."""
        rep = self.rep
        seen = {CUT_AT_START: rep.peak - rep.start, CUT_AT_END: rep.end - rep.peak}.get(rep.incomplete)
        if seen is not None and seen * self.step_s <= PASSED_S:
            raise Absent("incomplete-repetition")

    def seconds(self, start, end):
        """Seconds between two frames."""
        if not self.kinematics.timeline.knows_seconds:
            raise Absent("rate-unknown")
        return float(self.kinematics.timeline.times_s[end] - self.kinematics.timeline.times_s[start])

    @property
    def step_s(self):
        """Seconds from frame to frame."""
        return self.kinematics.step_s

    @property
    def alike_frames(self):
        """Frames over which noise stays alike."""
        return max(2.0 * self.kinematics.correlation_s / max(self.step_s, 1e-6), 1.0)

    def observed(self, start, end):
        """Share of seen frames."""
        return float(self.kinematics.observed[start : end + 1].mean())

    @cached_property
    def observed_whole(self):
        """Share of seen frames of the repetition."""
        return self.observed(self.rep.start, self.rep.end)

    def frames_of(self, measure):
        """Frames of the phase to which the exercise applies its limit."""
        limit, rep = self.exercise.limit(measure), self.rep
        return {
            "all": (rep.start, rep.end), "outward": (rep.start, rep.hold_start), "hold": (rep.hold_start, rep.hold_end),
            "back": (rep.hold_end, rep.end),
        }[limit.applies if limit else "all"]  # fmt: skip

    def moving(self, name, half):
        """Running median of a signal, made once a clip."""
        key = name, half
        if key not in self.shared:
            self.shared[key] = averaged(self.signal(name), half)
        return self.shared[key]


def _joined(most, least):
    """Largest less smallest; errors at the two ends are different ones."""
    return Value(
        most.value - least.value, hypot(most.random, least.random), hypot(most.systematic, least.systematic), most.frame
    )


def elevation(name, cx):
    """Peak and range of elevation."""
    series, (start, end) = cx.signal("elevation"), (cx.rep.start, cx.rep.end)
    cx.uncut() if name == "elevation-range" else cx.turned()
    top = extreme(series, start, end, 1.0)
    if name == "elevation-range":
        top = _joined(top, extreme(series, start, end, -1.0))
    return of_value(top, cx.observed_whole)


def plane(name, cx):
    """Plane of elevation and its deviation from the exercise's plane."""
    series, height = cx.signal("plane"), cx.signal("elevation").value
    in_range = (height >= PLANE_FROM_DEG) & (height <= PLANE_TO_DEG)
    weights = np.where(in_range, np.sin(np.radians(height)), 0.0)
    whole = mean(series, cx.rep.start, cx.rep.end, weights, cx.alike_frames)
    if whole is None:
        raise Absent("plane-undefined")
    if whole.sd > MOST_PLANE_SD_DEG:
        raise Absent("ill-conditioned")
    if name == "plane-of-elevation":
        return of_value(whole, cx.observed_whole)
    if cx.exercise.aim_deg is None:
        raise Absent("not-in-exercise")
    start, end = cx.frames_of(name)
    frames = np.flatnonzero(weights[start : end + 1] > 0.0) + start
    size = max(ceil(len(frames) / STRETCHES), 1)
    chunks = [frames[k : k + size] for k in range(0, len(frames), size)]
    parts = [mean(series, int(c[0]), int(c[-1]), weights, cx.alike_frames) for c in chunks]
    parts = [part for part in parts if part is not None]
    if not parts:
        raise Absent("plane-undefined")
    limit = cx.exercise.limit("plane-deviation")
    centre = (limit.low + limit.high) / 2.0 if limit and None not in (limit.low, limit.high) else 0.0
    aim = cx.exercise.aim_deg
    worst = parts[last_largest(np.array([abs(part.value - aim - centre) for part in parts]))]
    worst.value -= aim
    return of_value(worst, cx.observed_whole)


def elbow(name, cx):
    """How far the elbow bent, and on which path it travelled."""
    flexion, (start, end) = cx.signal("elbow-flexion"), cx.frames_of(name)
    if name == "elbow-path":
        path = cx.signal("elbow-path")
        found = mean(path, start, end, (flexion.value > BENT_DEG).astype(float), cx.alike_frames)
        if found is None:
            raise Absent("arm-along-sight-line")
    elif name == "elbow-range":
        cx.uncut()
        found = _joined(extreme(flexion, start, end, 1.0), extreme(flexion, start, end, -1.0))
    else:
        found = extreme(flexion, start, end, -1.0 if name == "elbow-straightest" else 1.0)
    if found.sd > MOST_ELBOW_SD_DEG:
        raise Absent("ill-conditioned")
    return of_value(found, cx.observed_whole)


def arc(name, cx):
    """Time and exposure in the arc."""
    start, end = cx.rep.start, cx.rep.end
    cx.seconds(start, end)
    cx.uncut()
    height, step = cx.signal("elevation"), cx.step_s
    part = height.value[start : end + 1]
    inside = (part >= ARC_FROM_DEG) & (part <= ARC_TO_DEG)
    if name == "arc-time":
        time = step * int(inside.sum())
        random, systematic = height.sd_at(cx.rep.peak)
        speed = 120.0 / max(time, step)
        crossings = sqrt(4.0 * random * random + 8.0 * systematic * systematic) / speed
        return outcome(time, hypot(crossings, step), cx.observed_whole, step, cx.rep.peak, floor=0.0)
    series, limit = cx.signal("plane"), cx.exercise.limit("plane-deviation")
    if limit is None or None in (limit.low, limit.high):
        raise Absent("not-in-exercise")
    from_aim = series.value[start : end + 1] - cx.exercise.plane_aim_deg
    past = lambda by: np.maximum(limit.low - from_aim - by, from_aim + by - limit.high)
    beyond = lambda by: np.nan_to_num(np.maximum(past(by), 0.0))
    if not inside.any():
        raise Absent("interval-not-reached")
    moment = start + last_largest(np.where(inside, beyond(0.0), -1.0))
    random, systematic = series.sd_at(moment)
    sd = hypot(random, systematic)
    if sd > MOST_PLANE_SD_DEG:
        raise Absent("ill-conditioned")
    ends = [step * float(beyond(by)[inside].sum()) for by in (0.0, Z_95 * sd, -Z_95 * sd)]
    return Outcome(ends[0], min(ends), max(ends), cx.observed_whole, "direct", random * step, moment)


def _change(series, reference, frame):
    random, systematic = series.sd_at(frame)
    return Value(around(series.value, frame, 1) - reference, random * sqrt(2.0), systematic * CHANGE_KEEPS, frame)


def girdle(name, cx):
    """What the shoulder point did about the sternal end of the collar bone."""
    rep = cx.rep
    if name == "protraction-travel":
        cx.uncut()
        series = cx.signal("girdle-protraction")
        most, least = (extreme(series, rep.start, rep.end, sign) for sign in (1.0, -1.0))
        travel = _joined(most, least)
        travel.systematic = CHANGE_KEEPS * most.systematic
        return of_value(travel, cx.observed_whole)
    series, height = cx.signal("girdle-elevation"), cx.signal("elevation")
    reference = around(series.value, cx.set_start, REFERENCE_HALF)
    if name == "girdle-rise":
        return of_value(_change(series, reference, rep.peak), cx.observed_whole)
    if name == "girdle-early-rise":
        passes = first_frame(height.value >= 60.0, rep.start, rep.peak)
        if passes is None:
            raise Absent("interval-not-reached")
        return of_value(_change(series, reference, passes), cx.observed_whole)
    onset = part_way(series, rep.start, rep.hold_start, ONSET_SHARE, LEAST_RISE_DEG)
    random, systematic = height.sd_at(onset)
    gone = lambda values: abs(around(values, rep.hold_start, 1) - around(values, rep.start, 1))
    timing = series.sd_at(onset)[0] / gone(series.value) * gone(height.value)
    deg = around(height.value, onset, 1)
    return of_value(Value(deg, hypot(random, timing), systematic, onset), cx.observed_whole)


def rotation(name, cx):
    """Rotation of the upper arm about its own axis."""
    series, (start, end) = cx.signal("humeral-rotation"), (cx.rep.start, cx.rep.end)
    if name == "outward-rotation-peak":
        cx.turned()
        found = extreme(series, start, end, -1.0, "elbow-too-straight")
        found.value = -found.value
    else:
        height = cx.signal("elevation").value[start : end + 1]
        inside = np.flatnonzero((height >= ARC_FROM_DEG) & (height <= ARC_TO_DEG))
        if not inside.size:
            raise Absent("interval-not-reached")
        found = extreme(series, start + int(inside[0]), start + int(inside[-1]), 1.0, "elbow-too-straight")
    if found.sd > MOST_ROTATION_SD_DEG:
        raise Absent("ill-conditioned")
    return of_value(found, cx.observed_whole)


def trunk(name, cx):
    """Largest change of lean or turn from the start of the set, of what the view shows."""
    names = ("trunk-turn",) if name == "trunk-turn" else ("lean-side", "lean-back")
    shown = [one for one in names if not isinstance(cx.kinematics.signals[one], str)]
    if not shown:
        raise Absent(cx.kinematics.signals[names[-1]])
    squares = 0.0
    for one in shown:
        reference = around(cx.signal(one).value, cx.set_start, REFERENCE_HALF)
        squares = squares + (cx.moving(one, SMOOTH_HALF)[cx.rep.start : cx.rep.end + 1] - reference) ** 2
    change = np.sqrt(squares)
    if np.isnan(change).all():
        raise Absent("trunk-unseen")
    place = last_largest(np.nan_to_num(change, nan=-1.0))
    frame = cx.rep.start + place
    random = max(cx.signal(one).sd_at(frame)[0] for one in shown)
    worst = Value(float(change[place]), random * sqrt(2.0), ON_SHOULDERS_SD_DEG, frame)
    return of_value(worst, cx.observed_whole, floor=0.0)


def order(name, cx):
    """Seconds between two events of a press, positive in the right order."""
    rep = cx.rep
    if rep.incomplete:
        raise Absent("incomplete-repetition")
    reach = int(AROUND_S / max(cx.step_s, 1e-6) + 0.5)
    bends_first = (cx.exercise.repetition["signal"], cx.exercise.repetition["turn"]) == ("elbow-flexion", "high")
    if name == "blade-before-bend":
        travel, turning = _fastest(cx, rep.start - reach // 2, rep.hold_start, -1.0), rep.start
    elif name == "straight-before-protraction":
        turning = rep.end if bends_first else rep.hold_start
        travel = _fastest(cx, turning - reach // 2, turning + reach, 1.0)
    elif bends_first:
        travel, turning = _fastest(cx, rep.start, rep.hold_end + reach // 3, 1.0), rep.hold_start
    else:
        travel, turning = _fastest(cx, rep.hold_end, rep.end + reach, 1.0), rep.end
    fastest, begins, travel_sd = travel
    first, second = (fastest, turning) if name == "blade-before-bend" else (turning, begins)
    seconds = cx.seconds(min(first, second), max(first, second))
    sd = hypot(EVENT_SD_FRAMES * sqrt(2.0) * cx.step_s, travel_sd)
    return outcome(seconds if second >= first else -seconds, sd, cx.observed_whole, sd, second)


def _fastest(cx, start, end, sign):
    """Fastest travel of the girdle forward or backward: frames of its fastest moment and beginning, and their spread."""
    series, step = cx.signal("girdle-protraction"), max(cx.step_s, 1e-6)
    value = series.value
    start, end = max(start, 0), min(end, len(value) - 2)
    speed = np.full(len(value), -np.inf)
    speed[1:-1] = np.nan_to_num(sign * (value[2:] - value[:-2]) / (2.0 * step), nan=-np.inf)
    frame = start + last_largest(speed[start : end + 1])
    if speed[frame] < LEAST_SPEED:
        raise Absent("event-not-seen")
    earliest = max(frame - int(AROUND_S / step + 0.5), 0)
    still = np.flatnonzero(speed[earliest:frame] <= AT_REST * speed[frame])
    resting = earliest + int(still[-1]) if still.size else earliest
    after = np.flatnonzero(speed[frame : end + 1] <= AT_REST * speed[frame])
    over = frame + int(after[0]) if after.size else end
    rivals = np.concatenate([speed[start:resting], speed[over : end + 1]])
    if rivals.size and rivals.max() > RIVAL * speed[frame]:
        raise Absent("event-not-seen")
    way = sign * (value[frame] - value[resting])
    noise = sqrt(2.0) * series.sd_at(frame)[0]
    if np.isnan(way):
        raise Absent("too-few-frames")
    if 2.0 * way < BEYOND_NOISE * noise:
        raise Absent("event-not-seen")
    half = PEAK_SPEED * way / speed[frame]
    return frame, max(frame - int(half / step + 0.5), 0), half * noise / way


def tempo(name, cx):
    """Times of the phases and their smoothness."""
    rep = cx.rep
    if rep.incomplete:
        raise Absent("incomplete-repetition")
    phases = {"raise": (rep.start, rep.hold_start), "hold": (rep.hold_start, rep.hold_end)}
    phase = name.split("-")[1] if name.startswith("smoothness") else name.split("-")[0]
    start, end = phases.get(phase, (rep.hold_end, rep.end))
    seconds, observed, middle = cx.seconds(start, end), cx.observed(start, end), (start + end) // 2
    if not name.startswith("smoothness"):
        sd = _boundary_sd_s(cx) * sqrt(2.0)
        return outcome(seconds, sd, observed, sd, middle, floor=0.0)
    values = cx.signal(cx.exercise.repetition["signal"]).value[start : end + 1]
    if np.isnan(values).any():
        raise Absent("too-few-frames")
    smooth = sparc(np.abs(np.diff(values) / cx.step_s), 1.0 / cx.step_s)
    if smooth is None:
        raise Absent("too-few-frames")
    return outcome(smooth, SPARC_SD, observed, SPARC_SD, middle)


def _boundary_sd_s(cx):
    """A movement starts like the cube of time, and noise hides its beginning."""
    rep, series = cx.rep, cx.signal(cx.exercise.repetition["signal"])
    excursion = max(abs(series.value[rep.peak] - series.value[rep.start]), 1.0)
    if np.isnan(series.value[rep.peak] - series.value[rep.start]):
        raise Absent("too-few-frames")
    whole = cx.seconds(rep.start, rep.end) / 2.0
    part = slice(rep.start, rep.end + 1)
    constant = series.systematic_sd[part][~np.isnan(series.value[part])]
    hidden = hypot(series.sd_at(rep.start)[0], float(constant.max() - constant.min())) / (10.0 * excursion)
    return hypot(BOUNDARY_SD_FRAMES * cx.step_s, NOTICED * whole * cbrt(hidden))


FAMILIES = {
    **dict.fromkeys(("peak-elevation", "elevation-range"), elevation),
    **dict.fromkeys(("plane-of-elevation", "plane-deviation"), plane),
    **dict.fromkeys(("elbow-range", "elbow-straightest", "elbow-bent-most", "elbow-path"), elbow),
    **dict.fromkeys(("arc-time", "arc-exposure"), arc),
    **dict.fromkeys(("girdle-onset", "girdle-early-rise", "girdle-rise", "protraction-travel"), girdle),
    **dict.fromkeys(("arc-internal-rotation", "outward-rotation-peak"), rotation),
    **dict.fromkeys(("trunk-lean", "trunk-turn"), trunk),
    **dict.fromkeys(("blade-before-bend", "straight-before-protraction", "blade-held-lowering"), order),
    **dict.fromkeys(("raise-time", "hold-time", "lower-time", "smoothness-raise", "smoothness-lower"), tempo),
    "setting-rotation": setting,
}


def measure(name, cx):
    """The outcome of a measure, or the code of the reason why there is none."""
    family = rhythm if name.startswith("rhythm-") else FAMILIES[name]
    try:
        return family(name, cx)
    except Absent as why:
        return str(why)


def measure_all(kinematics, reps, exercise, linkage):
    """Every measure of every repetition."""
    first = {}
    for rep in reps:
        if rep.incomplete != CUT_AT_START:
            first.setdefault(rep.set, rep.start)
    shared = {}
    contexts = [Context(kinematics, rep, first.get(rep.set, rep.start), exercise, linkage, shared) for rep in reps]
    return [{name: measure(name, cx) for name in exercise.measures} for cx in contexts]
