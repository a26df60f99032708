"""Postures from world coordinates, for any number of poses at once: every vector is in the track."""

from dataclasses import dataclass, fields, replace

import numpy as np

from .angles import angles, atan2_deg, dot, express, trunk_axes
from .numbers import wrap_180
from .picture_pose import ROLES
from .spread import Nudge

VERTICAL = np.array([0.0, 1.0, 0.0])


@dataclass
class SpacePoses:
    """Points of frames with their errors. Arrays have one row a pose."""

    #: Settings that all poses share: side, errors of the points, forward direction, start of the collar bone, and
    #: the share and spread of the turn by the resting shoulders.
    shared: dict
    #: x, y, z by role, metres.
    points: np.ndarray
    #: Turn of the rightward direction from the line of the hips, degrees.
    turn_deg: np.ndarray

    def __len__(self):
        return len(self.points)

    def __getitem__(self, which):
        return replace(self, points=self.points[which], turn_deg=self.turn_deg[which])

    def repeated(self, times):
        """The poses several times, one whole set after the other."""
        tiled = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "shared"}
        return replace(self, **{k: np.tile(v, (times,) + (1,) * (v.ndim - 1)) for k, v in tiled.items()})

    def at(self, role):
        """Points of a role."""
        return self.points[:, ROLES.index(role)]

    @property
    def side(self):
        """The side that is measured."""
        return self.shared["side"]

    def lower(self):
        """Lower end of the trunk line."""
        return (self.at("hip-left") + self.at("hip-right")) / 2.0

    def trunk_axes(self):
        """Trunk axes from the trunk line and the hips, turned by what the resting shoulders say."""
        up = (self.at("shoulder-left") + self.at("shoulder-right")) / 2.0 - self.lower()
        x, _, z = trunk_axes(up, self.at("hip-right") - self.at("hip-left"))
        turn = np.radians(self.turn_deg)[:, None]
        return trunk_axes(up, z * np.cos(turn) + x * np.sin(turn))

    def shoulder_turn_deg(self):
        """Turn of the line of the shoulders from the rightward direction."""
        across = self.at("shoulder-right") - self.at("shoulder-left")
        x, _, z = self.trunk_axes()
        return atan2_deg(dot(across, x), dot(across, z))

    def girdle_in_trunk(self):
        """Place of the shoulder from the lower end of the trunk, in trunk axes."""
        return express(self.trunk_axes(), self.at(f"shoulder-{self.side}") - self.lower(), self.side)

    def angles(self):
        """Angles of every pose."""
        trunk = self.trunk_axes()
        shoulder, elbow = self.at(f"shoulder-{self.side}"), self.at("elbow")
        forward, up, out = self.shared.get("collar_start", np.full(3, np.nan))
        out = out if self.side == "right" else -out
        start = self.lower() + trunk[0] * forward + trunk[1] * up + trunk[2] * out
        posture = {
            "trunk": trunk, "upper_arm": elbow - shoulder, "forearm": self.at("wrist") - elbow,
            "collar": shoulder - start, "facing": self.shared.get("facing"),
        }  # fmt: skip
        return angles(posture, self.side)

    def nudges(self):
        """The uncertain numbers. A constant error of a hip loses the share that the resting shoulders take out."""
        shared, out = self.shared, []
        for role, name in enumerate(ROLES):
            for axis in range(3):
                random, systematic = shared["random"][role, axis], shared["systematic"][role, axis]
                at = role, axis
                if name.startswith("hip") and shared["share"] > 0.0:
                    out.append(Nudge(random, 0.0, _move(at)))
                    out.append(Nudge(0.0, systematic, _move_hip(at)))
                else:
                    out.append(Nudge(random, systematic, _move(at)))
        out.append(Nudge(0.0, shared["turn_sd"], _turn))
        return out


def _move(at):
    def apply(poses, rows, step):
        poses.points[rows, at[0], at[1]] += step

    return apply


def _hip_turn_deg(poses, rows):
    across = poses.points[rows, ROLES.index("hip-right")] - poses.points[rows, ROLES.index("hip-left")]
    return atan2_deg(across[:, 0], across[:, 2])


def _move_hip(at):
    def apply(poses, rows, step):
        before = _hip_turn_deg(poses, rows)
        poses.points[rows, at[0], at[1]] += step
        turned = wrap_180(_hip_turn_deg(poses, rows) - before)
        poses.turn_deg[rows] -= poses.shared["share"] * np.nan_to_num(turned)

    return apply


def _turn(poses, rows, step):
    poses.turn_deg[rows] += step
