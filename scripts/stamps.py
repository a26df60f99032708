"""Time stamps of a video's frames, in ms from its first frame.

The decoder gives a stamp with each frame. Where ffprobe is installed, the stamps in the file are the truth and the
decoder's are compared with them. An uneven rate stays uneven.
"""
import json
import shutil
import subprocess
from fractions import Fraction

# Stamps of one frame from two programs are the same up to their rounding.
SAME_MS = 1.0


def in_file(path):
    """Stamps of the first video stream by ffprobe, in order; None where it is not installed or finds none."""
    if shutil.which("ffprobe") is None:
        return None
    ask = ["ffprobe", "-v", "error", "-select_streams", "v:0", "-of", "json",
           "-show_entries", "stream=time_base:packet=pts,flags", path]
    run = subprocess.run(ask, capture_output=True, text=True, check=False)
    try:
        told = json.loads(run.stdout)
        unit_ms = 1000 * Fraction(told["streams"][0]["time_base"])
        # Packets marked D are decoded and not shown, as the start of a clip that was trimmed.
        shown = sorted(packet["pts"] for packet in told["packets"] if "D" not in packet["flags"])
        return [float((pts - shown[0]) * unit_ms) for pts in shown] or None
    except (ValueError, KeyError, IndexError):
        return None


def settled(decoded, path):
    """The stamps to write, and words about them; raises ValueError if there are none that grow."""
    decoded = [stamp - decoded[0] for stamp in decoded]
    true = in_file(path)
    if true is not None and len(true) == len(decoded) and grow(true):
        apart = max(abs(one - other) for one, other in zip(true, decoded))
        words = "as in the file (ffprobe)"
        if apart > SAME_MS:
            words += f"; the decoder's were up to {apart:.1f} ms off and are not used"
        return true, words
    if not grow(decoded):
        raise ValueError("its time stamps do not grow from frame to frame")
    if true is None:
        return decoded, "of the decoder (ffprobe is not installed, so they are not compared with the file)"
    return decoded, f"of the decoder, which gave {len(decoded)} frames where ffprobe counts {len(true)}"


def grow(stamps):
    """Whether each stamp is later than the one before."""
    return all(one < other for one, other in zip(stamps, stamps[1:]))


def rate_hz(stamps):
    """Frames a second on the average; None for a single frame."""
    return round(1000.0 * (len(stamps) - 1) / stamps[-1], 6) if len(stamps) > 1 else None
