"""The time line: when each frame was, and at which rate."""

from dataclasses import dataclass

import numpy as np

#: The rate for filters when none is known, hertz.
NOMINAL_RATE_HZ = 30.0
#: Rates of video, hertz, and how near to one a measured rate must be to be it, as a share.
USUAL_RATES_HZ = np.array([12.0, 12.5, 15.0, 23.976, 24.0, 25.0, 29.97, 30.0, 50.0, 59.94, 60.0, 100.0, 120.0, 240.0])
USUAL_WITHIN = 4e-4


@dataclass
class Timeline:
    """Times in seconds from the first frame."""

    times_s: np.ndarray
    #: stamped, stated or assumed.
    timing: str

    @property
    def knows_seconds(self):
        """Whether seconds may be reported."""
        return self.timing != "assumed"

    @property
    def rate_hz(self):
        """Frames a second, by the mean of the steps that are no more than half away from the median one."""
        steps = np.sort(np.diff(self.times_s))
        middle = steps[len(steps) // 2]
        rate = 1.0 / steps[np.abs(steps - middle) <= 0.5 * middle].mean()
        near = np.flatnonzero(np.abs(rate / USUAL_RATES_HZ - 1.0) < USUAL_WITHIN)
        return float(USUAL_RATES_HZ[near[0]]) if near.size else float(rate)


def timeline(recording, stated_hz):
    """The file's stamps first, then its rate, then the stated one, then the nominal one."""
    if recording.stamps_s is not None:
        return Timeline(recording.stamps_s - recording.stamps_s[0], "stamped")
    rate = recording.rate_hz or stated_hz
    timing = "stated" if rate else "assumed"
    steps = recording.numbers - recording.numbers[0]
    return Timeline(steps.astype(float) / (rate or NOMINAL_RATE_HZ), timing)
