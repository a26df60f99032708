"""Errors are propagated by one mechanism: every uncertain number of a pose is nudged up and down.

The root mean square of both changes of an angle counts. Different numbers add in squares.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .angles import CIRCULAR
from .numbers import wrap_180


@dataclass
class Nudge:
    """One uncertain number: its two standard deviations (a number, or one a pose), and how to add a step to it."""

    random: float | np.ndarray
    systematic: float | np.ndarray
    #: Adds steps to the poses, in place. The steps have one entry a pose.
    apply: Callable


def spread(poses):
    """Random and systematic standard deviation of every angle of the poses: two dictionaries of arrays."""
    middle = poses.angles()
    nudges = poses.nudges()
    count = len(poses)
    parts = np.empty((len(nudges), 2, count))
    for k, nudge in enumerate(nudges):
        parts[k, 0], parts[k, 1] = nudge.random, nudge.systematic
    steps = np.hypot(parts[:, 0], parts[:, 1])
    # One batch holds every nudge of every pose, up and down.
    nudged = poses.repeated(2 * len(nudges))
    for k, nudge in enumerate(nudges):
        for way, sign in ((2 * k, 1.0), (2 * k + 1, -1.0)):
            nudge.apply(nudged, slice(way * count, (way + 1) * count), sign * steps[k])
    shares = parts / np.where(steps > 0.0, steps, 1.0)[:, None]
    random, systematic = {}, {}
    for name, values in nudged.angles().items():
        change = values.reshape(len(nudges), 2, count) - middle[name]
        change = np.nan_to_num(wrap_180(change) if name in CIRCULAR else change)
        mean_square = (change * change).mean(axis=1)
        known = ~np.isnan(middle[name])
        random[name] = np.sqrt((mean_square * shares[:, 0] ** 2).sum(axis=0)) * known
        systematic[name] = np.sqrt((mean_square * shares[:, 1] ** 2).sum(axis=0)) * known
    return random, systematic
