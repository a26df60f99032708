"""Signals from world coordinates whose depth is guessed from one picture."""

from math import asin, atan, atan2, cos, degrees, hypot, radians, sin, sqrt

import numpy as np

from .errors import NotCovered
from .kinematics import Kinematics, complete, observed, reason, signals_of
from .models import Spread
from .numbers import median, quantile
from .picture import ENOUGH
from .picture_pose import ROLES
from .space_pose import SpacePoses
from .view import View

#: How far a resting shoulder line is from parallel to the hips, degrees, and frames that rest beside the lowest tenth.
RESTING_TWIST_DEG, RESTING_WITHIN_DEG = 4.0, 5.0


def measure(conditioned, exercise, a, side):
    """Every signal from the space layer."""
    track = conditioned.track
    coverage = track.coverage()
    if any(coverage[f"{joint}-{s}"] < ENOUGH for joint in ("hip", "shoulder") for s in ("left", "right")):
        raise NotCovered("a trunk without both hips and both shoulders")
    columns = [track.column(role if role.endswith(("-left", "-right")) else f"{role}-{side}") for role in ROLES]
    point_sd = np.array([a.hip_m] * 2 + [a.shoulder_m] * 2 + [a.limb_m] * 2)
    systematic = np.stack([point_sd, point_sd, np.hypot(point_sd, a.depth_m)], axis=1)
    shared = {"side": side, "random": conditioned.space_sd[columns], "systematic": systematic}
    points = track.space.position[:, columns]
    poses = SpacePoses(shared, points, np.zeros(len(points)))
    turn = median(poses.shoulder_turn_deg()[resting(poses.angles()["elevation"])])
    shared |= fix(turn, a)
    poses = SpacePoses(shared, points, np.full(len(points), shared.pop("turn")))
    facing = np.array([median(poses.trunk_axes()[0][:, axis]) for axis in range(3)]) * (1.0, 0.0, 1.0)
    shared["facing"] = facing / np.linalg.norm(facing)
    place = poses.girdle_in_trunk()
    elevation = np.where(np.isnan(place[:, 0]), np.nan, poses.angles()["elevation"])
    rest = place[resting(elevation)]
    shared["collar_start"] = np.array([median(axis) for axis in rest.T]) * (1.0, 1.0, a.sternal_end)
    found = signals_of(poses, track.timeline.rate_hz, exercise.plane_aim_deg)
    for name in ("elevation", "elbow-flexion"):
        if found.get(name) is not None:
            found[name].systematic_sd = np.hypot(found[name].systematic_sd, a.estimator_angle_deg)
    signals = complete(found, lambda name: reason(track, side, name, coverage))
    # The middle of the shoulders goes along with them, so it cannot show their travel.
    signals["girdle-protraction"] = "no-trunk-top"
    yaw = degrees(atan2(shared["facing"][0], shared["facing"][2]))
    yaw_sd = degrees(atan(a.depth_m / (a.hip_width.value * a.trunk_m)))
    view = View(Spread(yaw, yaw_sd), True)
    flat = out_of_picture_deg(shared["facing"], exercise.plane_aim_deg, side) <= a.depth_trusted_to_deg
    # A guessed depth tells the plane from a corner, or where the plane lies near the picture.
    if not isinstance(signals["plane"], str) and view.name != "oblique" and not flat:
        signals["plane"] = "wrong-view"
    return Kinematics(
        side=side, space="world", timeline=track.timeline, view=view, signals=signals,
        observed=observed(track, side), correlation_s=conditioned.correlation_s,
    )  # fmt: skip


def out_of_picture_deg(forward, aim_deg, side):
    """How far the plane in which the exercise raises the arm stands out of the picture."""
    outward = np.array([-forward[2], 0.0, forward[0]]) * (1.0 if side == "right" else -1.0)
    aim = radians(aim_deg)
    return degrees(asin(min(abs((outward * cos(aim) + forward * sin(aim))[2]), 1.0)))


def resting(elevation):
    """Frames with the lowest arm: the tenth, and what is near it."""
    return elevation <= quantile(elevation, 0.1) + RESTING_WITHIN_DEG


def fix(turn, a):
    """Turn of the rightward direction by the resting shoulders, weighted by how well each line is known."""
    if np.isnan(turn):
        return {"turn": 0.0, "turn_sd": 0.0, "share": 0.0}
    line_sd = lambda point_m, width: degrees(sqrt(2.0) * hypot(point_m, a.depth_m) / (width.value * a.trunk_m))
    hips = line_sd(a.hip_m, a.hip_width)
    shoulders = hypot(line_sd(a.shoulder_m, a.shoulder_width), RESTING_TWIST_DEG)
    share = hips * hips / (hips * hips + shoulders * shoulders)
    return {"turn": share * turn, "turn_sd": share * shoulders, "share": share}
