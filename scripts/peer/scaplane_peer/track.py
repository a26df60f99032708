"""One person's joints over time: picture in pixels with y up, space in metres, right, up and toward the camera."""

from dataclasses import dataclass

import numpy as np

from .clock import Timeline, timeline
from .errors import NotCovered
from .numbers import median
from .person import choose

LEAST_FRAMES = 10
#: How far outside the picture a point may lie and still count as seen, as a share of the picture.
MARGIN = 0.05
#: Coordinates up to this size are shares of the picture, not pixels.
NORMALISED_UP_TO = 3.0
#: How far a stated unit may be from that of the bones.
UNIT_RATIO = 5.0
#: Lengths of bones by which a unit is told, metres: joints at both ends, shortest, longest.
BONES = (
    (("shoulder-left",), ("shoulder-right",), 0.15, 0.6),
    (("shoulder-left",), ("elbow-left",), 0.12, 0.5),
    (("shoulder-right",), ("elbow-right",), 0.12, 0.5),
    (("mid-hip",), ("shoulder-left", "shoulder-right"), 0.1, 0.8),
)


@dataclass
class Layer:
    """Positions by frame, joint and axis; NaN is missing. Bridged points are marked as filled."""

    position: np.ndarray
    filled: np.ndarray

    @property
    def there(self):
        """Frames and joints that are not missing."""
        return ~np.isnan(self.position[..., 0])

    @property
    def seen(self):
        """Frames and joints that were seen and not filled."""
        return self.there & ~self.filled


@dataclass
class Track:
    """One person."""

    joints: tuple
    timeline: Timeline
    picture: Layer | None
    space: Layer | None
    size: tuple | None
    layout: str
    person: str

    @property
    def layers(self):
        """Both layers, those that are there."""
        return [layer for layer in (self.picture, self.space) if layer is not None]

    @property
    def main(self):
        """The layer that angles come from."""
        return self.picture if self.space is None else self.space

    def column(self, joint):
        """Place of a joint."""
        return self.joints.index(joint)

    def coverage(self):
        """Share of the frames with anybody in them in which each joint was seen."""
        seen = self.main.seen
        present = max(int(seen.any(axis=1).sum()), 1)
        return dict(zip(self.joints, (seen.sum(axis=0) / present).tolist()))


def assemble(recording, fps=None, size=None):
    """Makes a track of a recording."""
    label, picks = choose(recording)
    if len(picks) < LEAST_FRAMES or (picks >= 0).sum() < LEAST_FRAMES:
        raise NotCovered("a clip of fewer than ten frames")
    size = recording.size or size
    pick = lambda values: np.where((picks >= 0).reshape((-1,) + (1,) * (values.ndim - 1)), values[picks], np.nan)
    picture, score = pick(recording.picture), pick(recording.picture_score)
    counts = (score > 0.0) & (score >= recording.least_score) & np.isfinite(picture).all(axis=-1)
    shares = recording.normalised
    if shares is None:
        shares = median(np.abs(picture[counts])) <= NORMALISED_UP_TO
    if shares and size is None:
        raise NotCovered("shares of a picture of unknown size")
    outside = _outside(picture, recording, shares, size)
    scale = np.array(size if shares else (1.0, 1.0))
    middle = np.array(size) / 2.0 if size else np.zeros(2)
    flat = (picture * scale - middle) * (1.0, -1.0)
    space = None
    if recording.space is not None:
        deep, score = pick(recording.space), pick(recording.space_score)
        in_space = (score > 0.0) & (score >= recording.least_score) & np.isfinite(deep).all(axis=-1) & ~outside
        deep = np.where(in_space[..., None], deep * (1.0, -1.0, -1.0), np.nan)
        space = _layer(deep * _metres_per_unit(deep, recording.layout.joints))
    return Track(
        joints=recording.layout.joints, timeline=timeline(recording, fps),
        picture=_layer(np.where((counts & ~outside)[..., None], flat, np.nan)), space=space, size=size,
        layout=recording.layout.id, person=label,
    )  # fmt: skip


def _layer(position):
    return Layer(position, np.zeros(position.shape[:2], dtype=bool))


def _outside(picture, recording, shares, size):
    """Points of an estimator that extrapolates which lie outside the picture; a middle rests on both hips."""
    outside = np.zeros(picture.shape[:2], dtype=bool)
    bounds = (1.0, 1.0) if shares else size
    if not recording.extrapolates or bounds is None:
        return outside
    bounds = np.array(bounds)
    outside = ~((picture >= -MARGIN * bounds) & (picture <= (1.0 + MARGIN) * bounds)).all(axis=-1)
    joints = recording.layout.joints
    hips = [joints.index("hip-left"), joints.index("hip-right")]
    outside[:, joints.index("mid-hip")] |= outside[:, hips].any(axis=1)
    return outside


def _metres_per_unit(position, joints):
    """1, unless the bones say that the coordinates are centimetres or millimetres."""
    middle = lambda ends: sum(position[:, joints.index(end)] for end in ends) / len(ends)
    lengths = [median(np.linalg.norm(middle(a) - middle(b), axis=1)) for a, b, _, _ in BONES]
    known = [(length, low, high) for length, (_, _, low, high) in zip(lengths, BONES) if length > 0.0]
    fits = lambda unit: sum(low <= length * unit <= high for length, low, high in known)
    told = max((0.001, 0.01, 1.0), key=fits)
    if 2 * fits(told) <= len(known) or 1.0 / UNIT_RATIO <= told <= UNIT_RATIO:
        return 1.0
    return told
