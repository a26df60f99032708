"""Signals from one picture."""

from math import ceil, hypot, radians, sin, sqrt

import numpy as np

from .angles import dot, length
from .errors import NotCovered
from .kinematics import BLADE, Kinematics, Series, complete, observed, reason, signals_of
from .models import Spread
from .numbers import median, quantile, quantile_of_last, windows
from .picture_pose import ROLES, PicturePoses
from .spread import spread
from .view import from_picture

#: Share of a direction that must lie in the picture, and least share of the forward one for the plane.
IN_PICTURE, LEAST_SIDE_ON = 0.8, 0.5
#: Trunk ruler: half a window in seconds, and the quantile at which the shoulders rest.
RULER_HALF_WINDOW_S, RESTING = 3.0, 0.25
#: How far people depart from the exercise's plane, degrees.
PLANE_DOUBT_DEG = 30.0
#: Segments: tilt within which one lies in the image plane, and frames that are needed.
ALONG_TRUNK_DEG, ENOUGH_FRAMES = 25.0, 30
#: Middle of the arc in degrees, how far a plane is looked for in seconds, and how much it wanders in degrees.
MIDDLE_DEG, HINT_HALF_WINDOW_S, WANDER_DEG = (50.0, 130.0), 2.5, 5.0
#: Share of frames in which a joint must be seen to build the trunk on it.
ENOUGH = 0.5


def measure(conditioned, exercise, a, side):
    """Every signal from the picture layer."""
    track = conditioned.track
    coverage = track.coverage()
    if any(coverage[f"{joint}-{s}"] < ENOUGH for joint in ("hip", "shoulder") for s in ("left", "right")):
        raise NotCovered("a trunk without both hips and both shoulders")
    rate = track.timeline.rate_hz
    columns = [track.column(role if role.endswith(("-left", "-right")) else f"{role}-{side}") for role in ROLES]
    points = track.picture.position[:, columns]
    poses = _blank(points, side)
    _, up, trunk_length = poses.trunk_line()
    trunk_px = trunk_ruler(trunk_length, ceil(rate * RULER_HALF_WINDOW_S))
    view, typical_px = from_picture(track, trunk_px, a), median(trunk_px)
    if view is None or np.isnan(typical_px):
        raise NotCovered("a trunk that is never seen")
    centre, centre_sd, focal = lens(track, typical_px, a)
    outward = view.sin if side == "right" else -view.sin
    magnified = 1.0 / (1.0 - outward * a.shoulder_width.value * typical_px / 2.0 / focal.value)
    point_error = sqrt(0.5) * a.limb_m / a.trunk_m
    share = lambda start, end, assumed: segment_share(
        (poses.at(end) - poses.at(start)) / magnified, up, trunk_px, assumed, point_error
    )
    upper_arm, forearm = share(f"shoulder-{side}", "elbow", a.upper_arm), share("elbow", "wrist", a.forearm)
    sign, guessed = elbow_sign(view, exercise.plane_aim_deg, side)
    px_per_m = typical_px / a.trunk_m
    straight = exercise.limit("elbow-bent-most")
    poses.shared.update(
        straight_arm=straight is not None and straight.high is not None, sternal_end=a.sternal_end, assumptions=a,
        random=conditioned.picture_sd[columns],
        systematic=px_per_m * np.array([a.hip_m] * 2 + [a.shoulder_m] * 2 + [a.limb_m] * 2),
        upper_arm_sd=upper_arm.sd, forearm_sd=forearm.sd, yaw_sd=view.yaw_deg.sd, centre_sd=centre_sd,
        focal_sd=focal.sd, sign_guessed=guessed,
    )  # fmt: skip
    poses.collar_rest[:] = resting_girdle(poses, side)
    trunk = np.where(np.isnan(trunk_px), typical_px, trunk_px)
    poses.trunk_px[:] = trunk
    poses.centre[:], poses.focal[:] = centre, focal.value
    poses.upper_arm[:], poses.forearm[:] = upper_arm.value * trunk, forearm.value * trunk
    poses.half_shoulder[:] = a.shoulder_width.value * trunk / 2.0
    poses.yaw_deg[:], poses.elbow_sign[:] = view.yaw_deg.value, sign
    poses.collar_rest *= trunk[:, None]
    if exercise.aim_deg is not None:
        settle_poles(poses, rate)
    found = signals_of(poses, rate, exercise.plane_aim_deg)

    def why(name):
        return reason(track, side, name, coverage)

    turn = trunk_turn(conditioned, trunk_px, view, a, side)
    signals = complete(found, why)
    for name in signals:
        if name == "trunk-turn":
            signals[name] = turn
        elif name == "girdle-protraction":
            signals[name] = "no-trunk-top"
        elif hidden(name, view) and name not in BLADE:
            signals[name] = "wrong-view"
    return Kinematics(
        side=side, space="image", timeline=track.timeline, view=view, signals=signals,
        observed=observed(track, side), correlation_s=conditioned.correlation_s,
    )  # fmt: skip


def _blank(points, side):
    frames = len(points)
    zero = lambda: np.zeros(frames)
    return PicturePoses(
        shared={"side": side}, points=points, centre=np.zeros((frames, 2)), focal=np.ones(frames), upper_arm=zero(),
        forearm=zero(), half_shoulder=zero(), yaw_deg=zero(), lean_deg=zero(), elbow_sign=np.ones(frames),
        plane_hint=np.full(frames, np.nan), collar_rest=np.zeros((frames, 2)), trunk_px=zero(), plane_hint_sd=zero(),
    )  # fmt: skip


def trunk_ruler(lengths, half):
    """A running low quantile, so that neither a noisy hip nor a raised shoulder changes the ruler."""
    return quantile_of_last(windows(lengths, half), RESTING)


def segment_share(segment, up, trunk_px, assumed, point_error):
    """Length of a segment as a share of the trunk: where it runs along the trunk, else the assumed share."""
    norm = length(segment)
    shares = norm / trunk_px
    tilt = np.degrees(np.arccos(np.clip(-dot(segment, up) / norm, -1.0, 1.0)))
    known = ~np.isnan(shares) & ~np.isnan(tilt)
    along = shares[known & (tilt < ALONG_TRUNK_DEG)]
    if len(along) < ENOUGH_FRAMES:
        along = shares[known & ~((tilt >= ALONG_TRUNK_DEG) & (tilt <= 180.0 - ALONG_TRUNK_DEG))]
    middle = median(along)
    if len(along) >= ENOUGH_FRAMES and abs(middle - assumed.value) < 4.0 * assumed.sd:
        return Spread(middle, point_error)
    longest = np.nan_to_num(quantile(shares[known], 0.95))
    return Spread(max(assumed.value, min(longest, assumed.value + 2.0 * assumed.sd)), assumed.sd)


def lens(track, trunk_px, a):
    """Centre of the picture, its standard deviation and the focal length, pixels."""
    if track.size is not None:
        long = max(track.size)
        return np.zeros(2), 0.02 * long, Spread(a.focal.value * long, a.focal.sd * long)
    px_per_m = trunk_px / a.trunk_m
    columns = [track.column(f"{joint}-{side}") for joint in ("hip", "shoulder") for side in ("left", "right")]
    places = np.array([[median(track.picture.position[:, c, axis]) for axis in range(2)] for c in columns])
    return places.mean(axis=0), 0.3 * px_per_m, Spread(a.distance_m.value * px_per_m, a.distance_m.sd * px_per_m)


def resting_girdle(poses, side):
    """Offset of the shoulder in trunk lengths over the tenth of the frames in which the elbow is lowest."""
    _, up, trunk_length = poses.trunk_line()
    hang = dot(poses.at("elbow") - poses.at(f"shoulder-{side}"), up) / trunk_length
    offset = poses.girdle_offset() / trunk_length[:, None]
    resting = hang <= quantile(hang, 0.1) + 0.02
    return median(offset[resting, 0]), median(offset[resting, 1])


def elbow_sign(view, aim_deg, side):
    """Sign of the elbow's depth from the exercise's plane and the view, and whether it is only a guess."""
    yaw = view.yaw_deg.value if side == "right" else -view.yaw_deg.value
    toward = lambda plane_deg: sin(radians(plane_deg + yaw))
    sign = 1.0 if toward(aim_deg) >= 0.0 else -1.0
    settled = all(toward(aim_deg + doubt) * sign > 0.0 for doubt in (-PLANE_DOUBT_DEG, PLANE_DOUBT_DEG))
    return sign, not (settled and view.sign_known)


def settle_poles(poses, rate):
    """Gives every pose the plane in which the arm moved through the middle of the arc around it."""
    angles = poses.angles()
    in_middle = (angles["elevation"] >= MIDDLE_DEG[0]) & (angles["elevation"] <= MIDDLE_DEG[1])
    planes = np.where(in_middle, angles["plane"], np.nan)
    middle = np.flatnonzero(~np.isnan(planes))
    if not middle.size:
        return
    sampled = middle[:: max(len(middle) // 12, 1)]
    sd = median(spread(poses[sampled])[1]["plane"])
    half = ceil(HINT_HALF_WINDOW_S * rate)
    step = max(half // 5, 1)
    for frame in range(0, len(poses), step):
        hint = median(planes[max(frame - half, 0) : frame + half + 1])
        poses.plane_hint[frame : frame + step] = hint
        poses.plane_hint_sd[frame : frame + step] = 0.0 if np.isnan(hint) else hypot(sd, WANDER_DEG)


def hidden(name, view):
    """Whether this view cannot show a signal."""
    if name in ("girdle-protraction", "lean-back"):
        return abs(view.sin) < IN_PICTURE
    if name in ("lean-side", "elbow-path"):
        return abs(view.cos) < IN_PICTURE
    return name == "plane" and abs(view.sin) < LEAST_SIDE_ON


def trunk_turn(conditioned, trunk_px, view, a, side):
    """Turn of the trunk over time from the width of the hips, where the view shows it."""
    if abs(view.sin) < IN_PICTURE:
        return "wrong-view"
    track = conditioned.track
    hips = [track.column("hip-left"), track.column("hip-right")]
    x = track.picture.position[:, hips, 0]
    across = np.clip(-(x[:, 1] - x[:, 0]) / (a.hip_width.value * trunk_px), -1.0, 1.0)
    turned = np.copysign(1.0, view.sin) * np.degrees(np.arccos(across))
    toward = -1.0 if side == "right" else 1.0
    noise = sqrt(sum(sd * sd for sd in conditioned.picture_sd[hips, 0])) / (a.hip_width.value * median(trunk_px))
    body = a.hip_width.sd / a.hip_width.value * abs(view.cos)
    constant = lambda value: np.full(len(turned), np.degrees(value / abs(view.sin)))
    return Series(toward * (turned - median(turned)), constant(noise), constant(body))
