"""Signals of one side over time, each with its two kinds of spread, or the reason why there is none."""

from dataclasses import dataclass

import numpy as np

from .angles import CIRCULAR, SIGNALS
from .numbers import quantile, wrap_180
from .spread import spread

#: Samples of the spread a second.
SPREADS_PER_S = 3.0
BLADE = ("upward-rotation", "tilt", "internal-rotation")


@dataclass
class Series:
    """A signal by frame, degrees; NaN where it has no value."""

    value: np.ndarray
    random_sd: np.ndarray
    systematic_sd: np.ndarray

    def sd_at(self, frame):
        """Both standard deviations at a frame."""
        return float(self.random_sd[frame]), float(self.systematic_sd[frame])


@dataclass
class Kinematics:
    """Signals of one side. A signal is a series, or a text that says why it is missing."""

    side: str
    space: str
    timeline: object
    view: object
    signals: dict
    observed: np.ndarray
    correlation_s: float

    @property
    def step_s(self):
        """Seconds from frame to frame."""
        return 1.0 / self.rate_hz

    def __post_init__(self):
        self.rate_hz = self.timeline.rate_hz


def moving_side(track):
    """The side whose elbow travels more."""

    def travel(side):
        elbow = track.main.position[:, track.column(f"elbow-{side}")]
        spans = [quantile(axis, 0.95) - quantile(axis, 0.05) for axis in elbow.T]
        return float(np.nansum(spans))

    return "left" if travel("left") > travel("right") else "right"


def signals_of(poses, rate_hz, aim_deg):
    """Series of every angle that is ever there, with spreads sampled a few times a second."""
    values = poses.angles()
    step = max(int(rate_hz / SPREADS_PER_S + 0.5), 1)
    frames = np.arange(0, len(poses), step)
    spreads = spread(poses[frames])
    out = {}
    every = np.arange(len(poses))
    for name, value in values.items():
        if np.isnan(value).all():
            continue
        known = ~np.isnan(value[frames])
        if name in CIRCULAR:
            centre = aim_deg if name == "plane" else 0.0
            value = centre + wrap_180(value - centre)
        sds = [np.interp(every, frames[known], sd[name][known]) if known.any() else 0.0 * every for sd in spreads]
        out[name] = Series(value, *sds)
    return out


def reason(track, side, signal, coverage):
    """Why a whole signal is missing."""
    rarely = lambda joint: coverage[joint] < 0.05
    if signal in BLADE:
        return "no-scapular-landmark"
    if signal in ("lean-side", "lean-back", "trunk-turn"):
        return "trunk-unseen"
    if rarely(f"shoulder-{side}"):
        return "shoulder-unseen"
    if signal in ("girdle-elevation", "girdle-protraction"):
        return "trunk-unseen"
    if rarely(f"elbow-{side}"):
        return "elbow-unseen"
    if signal in ("elbow-flexion", "humeral-rotation") and rarely(f"wrist-{side}"):
        return "wrist-unseen"
    return {"humeral-rotation": "elbow-too-straight", "elbow-path": "arm-along-sight-line"}.get(
        signal, "too-few-frames"
    )


def observed(track, side):
    """Frames in which shoulder and elbow were seen rather than filled."""
    columns = [track.column(f"shoulder-{side}"), track.column(f"elbow-{side}")]
    return track.main.seen[:, columns].all(axis=1)


def complete(found, why):
    """Every signal: its series, or the reason that `why` gives."""
    return {name: found.get(name) if name in found else why(name) for name in SIGNALS}
