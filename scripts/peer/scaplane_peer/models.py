"""The figures of `models/`: landmarks, linkage, exercises and layouts. Nothing of them is repeated here."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

MODELS = Path(__file__).resolve().parents[3] / "models"

#: Joints that a measure, the view or the choice of the person needs; others of a layout are not kept.
UNMEASURED = ("eye", "index", "pinky", "thumb", "knee", "ankle")


@dataclass(frozen=True)
class Spread:
    """A figure and its standard deviation."""

    value: float
    sd: float


@lru_cache
def load(name, folder=MODELS):
    """One file of `models/` as a dictionary."""
    with open(Path(folder) / f"{name}.toml", "rb") as file:
        return tomllib.load(file)


@dataclass(frozen=True)
class Assumptions:
    """What must be assumed about bodies, phones and estimators."""

    shoulder_m: float
    limb_m: float
    hip_m: float
    depth_m: float
    depth_trusted_to_deg: float
    estimator_angle_deg: float
    trunk_m: float
    shoulder_width: Spread
    hip_width: Spread
    upper_arm: Spread
    forearm: Spread
    sternal_end: float
    focal: Spread
    distance_m: Spread
    unseen_lean_sd_deg: float
    stated_view_sd_deg: float


@lru_cache
def assumptions(folder=MODELS):
    """The assumptions of `models/landmarks.toml`."""
    figures = load("landmarks", folder)
    value = lambda key: figures[key]["value"]
    spread = lambda key: Spread(value(key), figures[key].get("sd", 0.0))
    return Assumptions(
        shoulder_m=value("shoulder_sd_mm") / 1000.0,
        limb_m=value("elbow_sd_mm") / 1000.0,
        hip_m=value("hip_sd_mm") / 1000.0,
        depth_m=value("world_depth_sd_mm") / 1000.0,
        depth_trusted_to_deg=value("guessed_depth_trusted_to_deg"),
        estimator_angle_deg=value("estimator_angle_sd_deg"),
        trunk_m=value("trunk_length_m"),
        shoulder_width=spread("shoulder_width_per_trunk"),
        hip_width=spread("hip_width_per_trunk"),
        upper_arm=spread("upper_arm_per_trunk"),
        forearm=spread("forearm_per_trunk"),
        sternal_end=value("sternal_end_per_half_shoulder"),
        focal=spread("focal_per_long_side"),
        distance_m=spread("phone_distance_m"),
        unseen_lean_sd_deg=value("camera_pitch_sd_deg"),
        stated_view_sd_deg=value("declared_view_yaw_sd_deg"),
    )


@dataclass(frozen=True)
class Linkage:
    """Rise of the shoulder point per degree of the blade, and how far points over the blade are trusted."""

    rise_per_rotation: Spread
    trusted_to_deg: float


@lru_cache
def linkage(aim_deg, folder=MODELS):
    """The linkage in the exercise's plane, straight between the published planes."""
    figures = load("linkage", folder)
    rise = figures["clavicle_rise_per_upward_rotation"]
    scaption_deg = figures["scaption_plane_deg"]["value"]
    plane = min(max(aim_deg, 0.0), 90.0)
    if plane <= scaption_deg:
        low, high, share = rise["abduction"], rise["scaption"], plane / scaption_deg
    else:
        low, high = rise["scaption"], rise["flexion"]
        share = (plane - scaption_deg) / (90.0 - scaption_deg)
    mix = lambda key: low[key] + min(max(share, 0.0), 1.0) * (high[key] - low[key])
    trusted = load("landmarks", folder)["scapula_skin_trusted_to_deg"]["value"]
    return Linkage(Spread(mix("value"), mix("sd")), trusted)


@dataclass(frozen=True)
class Limit:
    """A band that a measure should stay in; None where it is open."""

    measure: str
    low: float | None
    high: float | None
    degrees: bool
    unit: str
    key: bool
    applies: str
    below: str | None
    above: str | None

    def margin(self, value):
        """Distance from the nearest end, positive inside."""
        above_low = float("inf") if self.low is None else value - self.low
        below_high = float("inf") if self.high is None else self.high - value
        return min(above_low, below_high)


UNITS = {"low_deg": "deg", "high_deg": "deg", "low_s": "s", "high_s": "s", "low_deg_s": "deg s", "high_deg_s": "deg s"}


@dataclass(frozen=True)
class Exercise:
    """How repetitions are found, what is judged and what is only reported."""

    id: str
    repetition: dict
    aim_deg: float | None
    limits: tuple
    measures: tuple

    def limit(self, measure):
        """The first limit on a measure."""
        return next((limit for limit in self.limits if limit.measure == measure), None)

    @property
    def plane_aim_deg(self):
        """Plane in which the arm goes up; presses and rows work in front of the body."""
        return 60.0 if self.aim_deg is None else self.aim_deg


def _limit(table):
    low = next((table[key] for key in table if key == "low" or key.startswith("low_")), None)
    high = next((table[key] for key in table if key == "high" or key.startswith("high_")), None)
    unit = next((UNITS[key] for key in table if key in UNITS), "1")
    code = lambda side: table[side]["code"] if side in table else None
    return Limit(
        measure=table["measure"], low=low, high=high, degrees=unit == "deg", unit=unit,
        key=table.get("key", False), applies=table.get("applies", "all"), below=code("below"), above=code("above"),
    )  # fmt: skip


@lru_cache
def exercise(name, folder=MODELS):
    """One exercise of `models/exercises/`."""
    table = load(f"exercises/{name}", folder)
    limits = tuple(_limit(one) for one in table["limits"])
    named = [one.measure for one in limits] + [one["measure"] for one in table.get("report", [])]
    return Exercise(
        id=table["id"], repetition=table["repetition"], aim_deg=table.get("plane", {}).get("aim_deg"),
        limits=limits, measures=tuple(dict.fromkeys(named)),
    )  # fmt: skip


@dataclass(frozen=True)
class Layout:
    """Which keypoints make which joint: both indices are equal unless the joint is a middle."""

    id: str
    joints: tuple
    first: tuple
    second: tuple
    keypoints: int


@lru_cache
def layout(name, folder=MODELS):
    """One layout of `models/skeletons/`, with the joints that are measured."""
    table = load(f"skeletons/{name}", folder)
    place = {keypoint: index for index, keypoint in enumerate(table["keypoints"])}
    kept = {j: names for j, names in sorted(table["joints"].items()) if not j.startswith(UNMEASURED)}
    ends = [(names, names) if isinstance(names, str) else tuple(names) for names in kept.values()]
    return Layout(
        id=table["id"], joints=tuple(kept), first=tuple(place[a] for a, _ in ends),
        second=tuple(place[b] for _, b in ends), keypoints=len(place),
    )  # fmt: skip
