"""Keypoint files: COCO results and annotations, and the 33-landmark model, as arrays of detections."""

from dataclasses import dataclass

import numpy as np
import orjson

from . import models
from .errors import NotCovered

#: Score below which a point counts as not seen, by format.
LEAST_COCO_SCORE = 0.3
LEAST_VISIBILITY = 0.2

PICTURE_KEYS = ("landmarks", "pose_landmarks", "poseLandmarks")
WORLD_KEYS = ("world_landmarks", "worldLandmarks", "pose_world_landmarks", "poseWorldLandmarks", "landmarks_world")


@dataclass
class Recording:
    """Every person of every frame, still in the file's axes; NaN is missing."""

    layout: models.Layout
    #: Frame numbers, one a frame, rising.
    numbers: np.ndarray
    #: Times of the frames in seconds, or None.
    stamps_s: np.ndarray | None
    #: Index of the frame of every detection.
    frame: np.ndarray
    #: x, y by detection and joint, and the score.
    picture: np.ndarray
    picture_score: np.ndarray
    #: x, y, z by detection and joint, or None, and the score.
    space: np.ndarray | None
    space_score: np.ndarray | None
    #: Width and height of the picture, or None.
    size: tuple | None
    rate_hz: float | None
    least_score: float
    #: Whether x and y are shares of the picture; None is told by their size.
    normalised: bool | None
    #: Whether points outside the picture are guesses.
    extrapolates: bool


def read(data):
    """Reads the bytes of a file."""
    content = orjson.loads(data)
    head = content if isinstance(content, dict) else None
    entries = content if head is None else head.get("frames") or head.get("annotations")
    first = entries[0] if entries and isinstance(entries[0], dict) else {}
    if _any_key(first, PICTURE_KEYS + WORLD_KEYS):
        return _landmarks(entries, head or {})
    if "image_id" in first:
        return _coco(entries, head)
    raise NotCovered("the peer reads COCO keypoints and the 33-landmark model as JSON")


def _any_key(table, keys):
    return next((key for key in keys if key in table), None)


def _joints(points, layout):
    """Joints from keypoints in single precision, as files have them; a middle has the lower score."""
    a, b = points[:, layout.first], points[:, layout.second]
    joints = (a + b) / np.float32(2)
    whole = np.array(layout.first) == np.array(layout.second)
    joints[:, whole] = a[:, whole]
    joints[..., -1] = np.minimum(a[..., -1], b[..., -1])
    return joints


def _coco(entries, head):
    layout = models.layout("coco-17")
    entries = [one for one in entries if one.get("keypoints")]
    if any(len(one["keypoints"]) != 3 * layout.keypoints for one in entries):
        raise NotCovered("another layout than coco-17")
    points = np.array([one["keypoints"] for one in entries], dtype=np.float32).reshape(-1, layout.keypoints, 3)
    score = points[..., 2]
    only_flags = bool(np.isin(score, (0.0, 1.0, 2.0)).all())
    points[~(score > 0.0)] = np.nan
    numbers = np.array([int(one["image_id"]) for one in entries], dtype=np.int64)
    size, of_images = None, numbers
    if head is not None:
        images = head.get("images", [])
        of_images = np.array([int(one["id"]) for one in images], dtype=np.int64)
        sizes = {(one.get("width"), one.get("height")) for one in images}
        size = tuple(map(float, sizes.pop())) if len(sizes) == 1 and None not in next(iter(sizes)) else None
    frames = np.union1d(numbers, of_images)
    joints = _joints(points, layout).astype(float)
    if any(one.get("track_id") is not None for one in entries):
        raise NotCovered("people with ids")
    there = np.isfinite(points).all(axis=-1).any(axis=-1)
    order = np.argsort(numbers, kind="stable")
    order = order[there[order]]
    return Recording(
        layout=layout, numbers=frames, stamps_s=None, frame=np.searchsorted(frames, numbers[order]),
        picture=joints[order, :, :2], picture_score=joints[order, :, 2], space=None, space_score=None,
        size=size, rate_hz=None, least_score=0.0 if only_flags else LEAST_COCO_SCORE,
        normalised=None if head is None else False, extrapolates=False,
    )  # fmt: skip


def _people(frame, keys):
    """Lists of landmarks, one a person."""
    found = frame.get(_any_key(frame, keys)) or []
    return found if not found or isinstance(found[0], list) else [found]


def _points(people, layout):
    """x, y, z, visibility in single precision of the landmarks that make joints; the others stay NaN."""
    if any(len(one) != layout.keypoints for one in people):
        raise NotCovered(f"lists of other than {layout.keypoints} landmarks")
    used = sorted(set(layout.first + layout.second))
    rows = [(p["x"], p["y"], p.get("z"), p.get("visibility")) for one in people for p in (one[k] for k in used)]
    points = np.full((len(people), layout.keypoints, 4), np.nan, dtype=np.float32)
    points[:, used] = np.array(rows, dtype=np.float32).reshape(len(people), len(used), 4)
    return points


def _landmarks(frames, head):
    layout = models.layout("landmarks-33")
    numbers = np.array([int(one.get("frame", index)) for index, one in enumerate(frames)], dtype=np.int64)
    if (np.diff(numbers) <= 0).any():
        raise NotCovered("frames out of order or twice")
    picture, world, frame_of = [], [], []
    for index, one in enumerate(frames):
        in_picture, in_space = _people(one, PICTURE_KEYS), _people(one, WORLD_KEYS)
        if len(in_picture) != len(in_space):
            raise NotCovered("people without world coordinates")
        picture += in_picture
        world += in_space
        frame_of += [index] * len(in_picture)
    flat, deep = _points(picture, layout), _points(world, layout)
    own = lambda a, b: np.where(np.isnan(a), np.where(np.isnan(b), np.float32(1.0), b), a)
    flat_score, deep_score = own(flat[..., 3], deep[..., 3]), own(deep[..., 3], flat[..., 3])
    flat = _joints(np.concatenate([flat[..., :2], flat_score[..., None]], axis=-1), layout).astype(float)
    deep = _joints(np.concatenate([deep[..., :3], deep_score[..., None]], axis=-1), layout).astype(float)
    width, height = head.get("width"), head.get("height")
    return Recording(
        layout=layout, numbers=numbers, stamps_s=_stamps(frames), frame=np.array(frame_of, dtype=int),
        picture=flat[..., :2], picture_score=flat[..., 2], space=deep[..., :3], space_score=deep[..., 3],
        size=(float(width), float(height)) if width and height else None,
        rate_hz=head.get("fps"), least_score=LEAST_VISIBILITY, normalised=None, extrapolates=True,
    )  # fmt: skip


def _stamps(frames):
    """Seconds of every frame, or None; the peer takes stamps in milliseconds that rise from frame to frame."""
    key = next((key for key in frames[0] if key.startswith("time")), None)
    if key is None:
        return None
    if not key.endswith("ms"):
        raise NotCovered(f"time stamps under the key {key}")
    stamps = np.array([one.get(key) for one in frames], dtype=float) * 1e-3
    if not (np.diff(stamps) > 0.0).all():
        raise NotCovered("time stamps that are missing or do not rise")
    return stamps
