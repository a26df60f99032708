"""Postures from one picture: directions recovered from foreshortening, for any number of poses at once.

Scaled orthography with a perspective correction. Lengths are in pixels at the depth of the trunk.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from .angles import angles, direction, dot, length, trunk_axes, vector
from .spread import Nudge

#: Sine of the elevation below which the plane alone gives the depth, and above which the length alone does.
POLE_SIN, MIDDLE_SIN = 0.64, 0.77
#: Cosine between sight line and plane normal below which the plane is seen edge-on.
EDGE_ON = 0.3
#: Difference of two forward directions below which they are equally far forward.
EQUALLY_FORWARD = 0.2
#: Points that make a posture; elbow and wrist are those of the side.
ROLES = ("hip-left", "hip-right", "shoulder-left", "shoulder-right", "elbow", "wrist")


@dataclass
class PicturePoses:
    """Points of frames and what is assumed to lift them. Arrays have one row a pose."""

    #: Settings that all poses share: side, forearm rule, share of the collar bone's start, errors of the points.
    shared: dict
    #: x, y by role.
    points: np.ndarray
    centre: np.ndarray
    focal: np.ndarray
    upper_arm: np.ndarray
    forearm: np.ndarray
    half_shoulder: np.ndarray
    yaw_deg: np.ndarray
    lean_deg: np.ndarray
    elbow_sign: np.ndarray
    #: Plane found in the middle of the arc; NaN if there is none.
    plane_hint: np.ndarray
    collar_rest: np.ndarray
    #: Lengths of the trunk by which errors of lengths scale.
    trunk_px: np.ndarray
    plane_hint_sd: np.ndarray

    def __len__(self):
        return len(self.points)

    def __getitem__(self, which):
        return replace(self, **{f.name: getattr(self, f.name)[which] for f in fields(self) if f.name != "shared"})

    def repeated(self, times):
        """The poses several times, one whole set after the other."""
        tiled = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "shared"}
        return replace(self, **{k: np.tile(v, (times,) + (1,) * (v.ndim - 1)) for k, v in tiled.items()})

    def at(self, role):
        """Points of a role."""
        return self.points[:, ROLES.index(role)]

    @property
    def right(self):
        """1 on the right side, -1 on the left."""
        return 1.0 if self.shared["side"] == "right" else -1.0

    def trunk_line(self):
        """Lower end, direction and length of the trunk in the picture."""
        lower = (self.at("hip-left") + self.at("hip-right")) / 2.0
        along = (self.at("shoulder-left") + self.at("shoulder-right")) / 2.0 - lower
        return lower, direction(along, 1e-9), length(along)

    def girdle_offset(self):
        """Place of the shoulder from the lower end of the trunk, across and along it, pixels."""
        lower, up, _ = self.trunk_line()
        offset = self.at(f"shoulder-{self.shared['side']}") - lower
        return vector(offset[:, 0] * up[:, 1] - offset[:, 1] * up[:, 0], dot(offset, up))

    def trunk_axes(self):
        """Trunk axes from the picture's trunk line and the turn."""
        _, up, _ = self.trunk_line()
        yaw, lean = np.radians(self.yaw_deg), np.radians(self.lean_deg)
        x, y = up[:, 0], up[:, 1]
        up3 = vector(x * np.cos(lean), y * np.cos(lean), np.sin(lean))
        return trunk_axes(up3, vector(-y * np.cos(yaw), x * np.cos(yaw), np.sin(yaw)))

    def _flat(self, point, depth):
        """Place at the scale of the trunk of a point that lies `depth` nearer."""
        return (point - self.centre) * (1.0 - depth / self.focal)[:, None]

    def _roots(self, start, end, segment):
        """The two vectors of a length from a known start to where the end is seen, the nearer one first."""
        flat = self._flat(end, start[:, 2]) - start[:, :2]
        shift = (end - self.centre) / self.focal[:, None]
        a, b = 1.0 + dot(shift, shift), dot(flat, shift)
        root = np.sqrt(np.maximum(b * b - a * (dot(flat, flat) - segment * segment), 0.0))
        for depth in ((b + root) / a, (b - root) / a):
            yield np.concatenate([flat - shift * depth[:, None], depth[:, None]], axis=1)

    def _in_plane(self, trunk, start, end):
        """The vector along the sight line of the end that lies in the plane of the hint; NaN if seen edge-on."""
        x, _, z = trunk
        plane = np.radians(self.plane_hint)
        normal = x * np.cos(plane)[:, None] - z * (self.right * np.sin(plane))[:, None]
        flat = self._flat(end, start[:, 2]) - start[:, :2]
        shift = (end - self.centre) / self.focal[:, None]
        sight = vector(-shift[:, 0], -shift[:, 1], 1.0)
        flat = vector(flat[:, 0], flat[:, 1], 0.0)
        across = dot(sight, normal)
        across = np.where(np.abs(across) < EDGE_ON, np.nan, across)
        return flat - sight * (dot(flat, normal) / across)[:, None]

    def _upper_arm(self, trunk, shoulder):
        """From its length in the middle of the arc and from its plane near the poles."""
        near, far = self._roots(shoulder, self.at("elbow"), self.upper_arm)
        by_length = np.where((self.elbow_sign >= 0.0)[:, None], near, far)
        along = direction(by_length)
        planar = direction(self._in_plane(trunk, shoulder, self.at("elbow")))
        sin = np.sin(np.arccos(np.minimum(np.abs(dot(along, trunk[1])), 1.0)))
        share = np.clip((sin - POLE_SIN) / (MIDDLE_SIN - POLE_SIN), 0.0, 1.0)[:, None]
        mixed = (along * share + planar * (1.0 - share)) * self.upper_arm[:, None]
        return np.where(np.isnan(mixed), by_length, mixed)

    def _forearm(self, trunk, shoulder, arm):
        """The root along the upper arm in straight-arm exercises, else the one farther forward."""
        near, far = self._roots(shoulder + arm, self.at("wrist"), self.forearm)
        unit = arm / length(arm)[:, None]
        take_near = dot(direction(near), unit) >= dot(direction(far), unit)
        if not self.shared["straight_arm"]:
            ahead = dot(direction(near) - direction(far), trunk[0])
            take_near = np.where(np.abs(ahead) > EQUALLY_FORWARD, ahead > 0.0, take_near)
        return np.where(take_near[:, None], near, far)

    def angles(self):
        """Angles of every pose."""
        trunk = self.trunk_axes()
        _, y, z = trunk
        depth = self.right * z[:, 2] * self.half_shoulder
        flat = self._flat(self.at(f"shoulder-{self.shared['side']}"), depth)
        shoulder = vector(flat[:, 0], flat[:, 1], depth)
        arm = self._upper_arm(trunk, shoulder)
        moved = self.girdle_offset() - self.collar_rest
        collar = z * (self.right * self.half_shoulder * (1.0 - self.shared["sternal_end"]))[:, None]
        collar = collar + vector(
            y[:, 1] * moved[:, 0] + y[:, 0] * moved[:, 1], -y[:, 0] * moved[:, 0] + y[:, 1] * moved[:, 1], 0.0
        )
        posture = {"trunk": trunk, "upper_arm": arm, "forearm": self._forearm(trunk, shoulder, arm), "collar": collar}
        return angles(posture, self.shared["side"])

    def nudges(self):
        """The uncertain numbers."""
        shared = self.shared
        out = []
        for role in range(len(ROLES)):
            for axis in range(2):
                sd = shared["random"][role, axis], shared["systematic"][role]
                out.append(
                    Nudge(*sd, lambda p, rows, step, at=(role, axis): _add(p.points[:, at[0], at[1]], rows, step))
                )
        a = shared["assumptions"]
        long = lambda sd, apply: out.append(Nudge(0.0, sd, apply))
        long(shared["upper_arm_sd"] * self.trunk_px, lambda p, rows, step: _add(p.upper_arm, rows, step))
        long(shared["forearm_sd"] * self.trunk_px, lambda p, rows, step: _add(p.forearm, rows, step))
        half = a.shoulder_width.sd * self.trunk_px / 2.0
        long(half, lambda p, rows, step: _add(p.half_shoulder, rows, step))
        long(shared["yaw_sd"], lambda p, rows, step: _add(p.yaw_deg, rows, step))
        long(a.unseen_lean_sd_deg, lambda p, rows, step: _add(p.lean_deg, rows, step))
        long(shared["centre_sd"], lambda p, rows, step: _add(p.centre[:, 0], rows, step))
        long(shared["centre_sd"], lambda p, rows, step: _add(p.centre[:, 1], rows, step))
        long(shared["focal_sd"], _nudge_focal)
        long(self.plane_hint_sd, lambda p, rows, step: _add(p.plane_hint, rows, step))
        if shared["sign_guessed"]:
            long(1.0, _flip_elbow)
        return out


def _add(values, rows, step):
    values[rows] += step


def _nudge_focal(poses, rows, step):
    poses.focal[rows] = np.maximum(poses.focal[rows] + step, 1.0)


def _flip_elbow(poses, rows, _):
    poses.elbow_sign[rows] *= -1.0
