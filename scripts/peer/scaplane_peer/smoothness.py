"""Smoothness of a movement from the shape of its speed spectrum (SPARC, Balasubramanian 2012, 2015)."""

import numpy as np

#: Powers of two by which the spectrum is refined, highest frequency in hertz, least share of the largest amplitude.
PADDING, HIGHEST_HZ, LEAST_AMPLITUDE = 4, 10.0, 0.05


def sparc(speed, rate_hz):
    """Spectral arc length; None with fewer than four samples or without motion."""
    if len(speed) < 4 or not speed.max() > 0.0:
        return None
    size = 1 << ((len(speed) - 1).bit_length() + PADDING)
    spectrum = np.abs(np.fft.rfft(speed / speed.max(), size))
    amplitude = spectrum[: int(HIGHEST_HZ / (rate_hz / size)) + 1]
    amplitude = amplitude / amplitude.max()
    last = int(np.flatnonzero(amplitude >= LEAST_AMPLITUDE)[-1])
    if last == 0:
        return None
    return -float(np.hypot(1.0 / last, np.diff(amplitude[: last + 1])).sum())
