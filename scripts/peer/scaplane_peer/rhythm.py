"""Scapulohumeral rhythm by proxy: how much of the elevation comes from the blade.

The layouts that are read hold no point of the blade, so the rise of the shoulder point is divided by its rise
per degree of upward rotation, and the spread of that figure between people goes into the interval.
"""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from .window import Absent, Outcome, outcome

#: Fewest frames of a slope, share of a window that the arm must pass, and the widest interval that means something.
LEAST_FRAMES, PASSED, WIDEST_SHARE = 4, 0.9, 0.5
#: Least error in a fit, degrees, and its most steps.
LEAST_SD, MOST_ITERATIONS = 1e-3, 200


@dataclass
class Slope:
    """Share of the blade with the parts of its error, over a width of elevation."""

    share: float
    random: float
    turning: float
    coupling: float
    width: float


def rhythm(name, cx):
    """Share or ratio of one way and interval."""
    rep = cx.rep
    start, end = (rep.start, rep.hold_start) if "-raise-" in name else (rep.hold_end, rep.end)
    low, high = name.rsplit("-", 2)[1:]
    slope = _to_the_top(cx, start, end) if high == "top" else _window(cx, start, end, float(low), float(high))
    sd = hypot(hypot(slope.random, slope.turning), slope.coupling)
    share = outcome(slope.share, sd, cx.observed(start, end), slope.random, (start + end) // 2, basis="proxy")
    if share.high - share.low > WIDEST_SHARE:
        raise Absent("beyond-trust")
    if "-share-" in name:
        return share
    if share.low <= 0.05:
        raise Absent("beyond-trust")
    ratio = lambda s: (1.0 - s) / s
    repeat_sd = slope.random / share.value**2
    return Outcome(
        ratio(share.value), ratio(share.high), ratio(share.low), share.observed, "proxy", repeat_sd, share.moment
    )


def setting(name, cx):
    """Upward rotation below 30 degrees; the layouts that are read never show it."""
    cx.signal("elevation")
    cx.signal("upward-rotation")


def _window(cx, start, end, low, high):
    """Slope of upward rotation on elevation within a window of elevation, found once for all measures of it."""
    key = start, end, low, high
    if key not in cx.shared:
        cx.shared[key] = _fitted(cx, *key)
    return cx.shared[key]


def _fitted(cx, start, end, low, high):
    height = cx.signal("elevation")
    if cx.kinematics.signals["upward-rotation"] == "wrong-view":
        raise Absent("wrong-view")
    girdle = cx.kinematics.signals["girdle-elevation"]
    if isinstance(girdle, str):
        raise Absent("no-scapular-landmark")
    rise = cx.linkage.rise_per_rotation
    scale = 1.0 / rise.value
    near = slice(max(start - 1, 0), end + 2)
    passed = height.value[near][~np.isnan(height.value[near] + girdle.value[near])]
    least, most = (max(passed.min(), low), min(passed.max(), high)) if passed.size else (np.inf, -np.inf)
    part = slice(start, end + 1)
    x, y = height.value[part], girdle.value[part] * scale
    used = ~np.isnan(y) & (x >= low) & (x <= high)
    if used.sum() < LEAST_FRAMES or most - least < PASSED * (high - low):
        raise Absent("interval-not-reached")
    sd_x = np.maximum(height.random_sd[part][used], LEAST_SD)
    sd_y = np.maximum(girdle.random_sd[part][used] * scale, LEAST_SD)
    share, share_se = york(x[used], y[used], sd_x, sd_y)
    systematic = (girdle.systematic_sd[part][used] * scale).max()
    return Slope(
        share=share, random=share_se * sqrt(cx.alike_frames), turning=0.1 * systematic / (high - low) * 2.0,
        coupling=share * (rise.sd / rise.value), width=most - least,
    )  # fmt: skip


def _to_the_top(cx, start, end):
    """From 30 degrees to the top: the slopes of the windows weighted by the elevation they cover."""
    height = cx.signal("elevation").value[start : end + 1]
    top = min(np.nanmax(height, initial=-np.inf), cx.linkage.trusted_to_deg)
    parts, low = [], 30.0
    while low + 10.0 <= top:
        high = top if low + 45.0 > top else low + 30.0
        parts.append(_window(cx, start, end, low, high))
        low = high
    width = sum(part.width for part in parts)
    if width < 20.0:
        raise Absent("interval-not-reached")
    weighted = lambda pick: sum(part.width * pick(part) for part in parts) / width
    return Slope(
        share=weighted(lambda p: p.share), random=sqrt(sum((p.width * p.random) ** 2 for p in parts)) / width,
        turning=weighted(lambda p: p.turning * p.width) / width, coupling=weighted(lambda p: p.coupling), width=width,
    )  # fmt: skip


def york(x, y, sd_x, sd_y):
    """Slope and its standard error of a line with errors in both variables (York 2004)."""
    vx, vy = sd_x * sd_x, sd_y * sd_y
    dx = x - x.mean()
    if not dx @ dx > 0.0:
        raise Absent("too-few-frames")
    slope = dx @ (y - y.mean()) / (dx @ dx)
    for _ in range(MOST_ITERATIONS):
        before = slope
        w, u, v, beta, _ = _weighed(x, y, vx, vy, slope)
        slope = (w * beta) @ v / ((w * beta) @ u)
        if abs(slope - before) <= 1e-15 + 1e-14 * abs(slope):
            w, u, v, beta, total = _weighed(x, y, vx, vy, slope)
            shift = w @ beta / total
            return float(slope), float(1.0 / sqrt(w @ (beta - shift) ** 2))
    raise Absent("too-few-frames")


def _weighed(x, y, vx, vy, slope):
    w = 1.0 / (vy + slope * slope * vx)
    total = w.sum()
    u, v = x - w @ x / total, y - w @ y / total
    return w, u, v, w * (u * vy + slope * v * vx), total
