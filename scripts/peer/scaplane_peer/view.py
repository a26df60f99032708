"""From where the phone saw the person: the turn of the trunk."""

from dataclasses import dataclass
from math import acos, cos, degrees, hypot, radians, sin, sqrt

import numpy as np

from .models import Spread
from .numbers import median

Z_95 = 1.959963984540054


@dataclass
class View:
    """Turn of the trunk: 0 faces the phone, 90 faces the picture's right."""

    yaw_deg: Spread
    sign_known: bool

    @property
    def sin(self):
        """Share of the forward direction in the picture plane."""
        return sin(radians(self.yaw_deg.value))

    @property
    def cos(self):
        """Share of the rightward direction in the picture plane."""
        return cos(radians(self.yaw_deg.value))

    @property
    def name(self):
        """front, back, left, right or oblique."""
        yaw = self.yaw_deg.value
        if abs(yaw) <= 25.0:
            return "front"
        if abs(yaw) >= 155.0:
            return "back"
        if 65.0 <= abs(yaw) <= 115.0:
            return "right" if yaw > 0.0 else "left"
        return "oblique"


def from_picture(track, trunk_px, a):
    """Turn from the widths of shoulders and hips; the sign from the nose against the ears. None without them."""
    layer = track.picture
    x = lambda joint: layer.position[:, track.column(joint), 0]
    widths = []
    for joint, share, point_m in (("shoulder", a.shoulder_width, a.shoulder_m), ("hip", a.hip_width, a.hip_m)):
        across = median(-(x(f"{joint}-right") - x(f"{joint}-left")) / (trunk_px * share.value))
        if not np.isnan(across):
            points = point_m * sqrt(2.0) / (share.value * a.trunk_m)
            widths.append(Spread(across, hypot(abs(across) * share.sd / share.value, points)))
    if not widths:
        return None
    weight = sum(one.sd**-2 for one in widths)
    width, width_sd = sum(one.value * one.sd**-2 for one in widths) / weight, 1.0 / sqrt(weight)
    if abs(width) + Z_95 * width_sd >= 1.0:
        looks_turned = degrees(acos(min(abs(width), 1.0))) / 2.0
        sd = max(a.stated_view_sd_deg * 1.5, looks_turned)
        return View(Spread(0.0 if width > 0.0 else 180.0, sd), True)
    ears = np.stack([x("ear-left"), x("ear-right")])
    known = ~np.isnan(ears)
    behind = np.where(known, ears, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    behind = np.where(known.any(axis=0), behind, (x("shoulder-left") + x("shoulder-right")) / 2.0)
    ahead = median(x("nose") - behind)
    turn = degrees(acos(width))
    sd = degrees(width_sd / sqrt(1.0 - width * width))
    return View(Spread(-turn if ahead < 0.0 else turn, sd), not np.isnan(ahead))
