"""Angles from body directions in trunk axes (ISB, Wu et al. 2005), for any number of postures at once.

Vectors lie along the last axis. What a posture does not define is NaN.
"""

import numpy as np

SIGNALS = (
    "elevation", "plane", "humeral-rotation", "elbow-flexion", "elbow-path", "girdle-elevation",
    "girdle-protraction", "upward-rotation", "tilt", "internal-rotation", "lean-side", "lean-back", "trunk-turn",
)  # fmt: skip
CIRCULAR = ("plane", "humeral-rotation", "trunk-turn")

#: Flexion below which the forearm does not tell the rotation, elevation below which plane and rotation are one,
#: and length across the pressing direction below which the elbow path has no direction.
LEAST_FLEXION_DEG, HANGING_DEG, LEAST_ACROSS = 30.0, 30.0, 0.3


def dot(a, b):
    """Scalar product along the last axis."""
    return np.einsum("...i,...i->...", a, b)


def cross(a, b):
    """Vector product along the last axis."""
    ax, ay, az = np.moveaxis(a, -1, 0)
    bx, by, bz = np.moveaxis(b, -1, 0)
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)


def length(v):
    """Length along the last axis."""
    return np.sqrt(dot(v, v))


def direction(v, least=1e-12):
    """Unit vectors; NaN where there is almost no length."""
    norm = length(v)
    return v / np.where(norm > least, norm, np.nan)[..., None]


def vector(*parts):
    """A vector from its coordinates, broadcast against each other."""
    return np.stack(np.broadcast_arrays(*parts), axis=-1)


def trunk_axes(up, rightward):
    """X forward, Y up along the trunk and Z to the person's right."""
    y = direction(up)
    z = direction(rightward - y * dot(rightward, y)[..., None])
    return cross(y, z), y, z


def express(trunk, v, side):
    """A vector in trunk axes; the left side is mirrored, so that one number means one motion on both sides."""
    x, y, z = trunk
    across = dot(v, z)
    return vector(dot(v, x), dot(v, y), across if side == "right" else -across)


def included_deg(a, b):
    """Angle between two vectors."""
    return np.degrees(np.arctan2(length(cross(a, b)), dot(a, b)))


def atan2_deg(across, along):
    """Angle from `along` toward `across`."""
    return np.degrees(np.arctan2(across, along))


def angles(posture, side):
    """Every angle that postures define, as a dictionary of arrays."""
    trunk = posture["trunk"]
    arm = direction(express(trunk, posture["upper_arm"], side))
    fore = direction(express(trunk, posture["forearm"], side))
    collar = express(trunk, posture["collar"], side)
    vertical = express(trunk, np.array([0.0, 1.0, 0.0]), side)
    x, y, z = np.moveaxis(arm, -1, 0)
    elevation = included_deg(arm, np.array([0.0, -1.0, 0.0]))
    flexion = included_deg(arm, fore)
    out = {
        "elevation": elevation,
        "plane": atan2_deg(x, z),
        "elbow-path": np.where(np.hypot(z, y) > LEAST_ACROSS, atan2_deg(z, -y), np.nan),
        "elbow-flexion": flexion,
        "humeral-rotation": _rotation(arm, fore, elevation, flexion),
        "girdle-elevation": atan2_deg(collar[..., 1], np.hypot(collar[..., 2], collar[..., 0])),
        "girdle-protraction": atan2_deg(collar[..., 0], collar[..., 2]),
        "lean-side": atan2_deg(-vertical[..., 2], vertical[..., 1]),
        "lean-back": atan2_deg(vertical[..., 0], vertical[..., 1]),
    }
    if posture.get("facing") is not None:
        was_forward = express(trunk, posture["facing"], side)
        out["trunk-turn"] = atan2_deg(-was_forward[..., 2], was_forward[..., 0])
    return out


def _rotation(arm, fore, elevation, flexion):
    """Rotation of the humerus (option 2), internal positive; with a hanging arm its sum with the plane."""
    y = -arm
    z = direction(cross(y, -fore))
    x = cross(y, z)
    hanging = atan2_deg(z[..., 0] - x[..., 2], x[..., 0] + z[..., 2])
    raised = atan2_deg(-x[..., 1], z[..., 1])
    overhead = np.hypot(y[..., 0], y[..., 2]) < 1e-12
    raised = np.where(overhead, atan2_deg(z[..., 0], x[..., 0]), raised)
    bent = (flexion >= LEAST_FLEXION_DEG) & (flexion <= 180.0 - LEAST_FLEXION_DEG)
    return np.where(bent, np.where(elevation < HANGING_DEG, hanging, raised), np.nan)
