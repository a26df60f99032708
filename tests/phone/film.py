"""Makes a phone's video: uneven time stamps, and a rotation tag where it was held upright."""
import pathlib
import struct
from fractions import Fraction

import av
import numpy

#: Ticks a second of the stamps, as many phones write them.
TICKS_HZ = 90_000


def uneven(count, mean_hz, seed):
    """Stamps in ticks from 0: steps of 0.6 to 1.6 of the mean step, as in dim light."""
    steps = numpy.random.default_rng(seed).uniform(0.6, 1.6, count - 1) * TICKS_HZ / mean_hz
    return [0, *numpy.cumsum(numpy.round(steps).astype(int)).tolist()]


def film(path, pictures, ticks, turned=False):
    """Writes BGR pictures with their stamps as H.264 in MP4; `turned`: stored lying, with the tag that sets it upright."""
    stored = [numpy.ascontiguousarray(numpy.rot90(picture)) if turned else picture for picture in pictures]
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.height, stream.width = stored[0].shape[:2]
        stream.pix_fmt = "yuv420p"
        stream.options = {"crf": "16"}
        stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS_HZ)
        for picture, tick in zip(stored, ticks):
            frame = av.VideoFrame.from_ndarray(picture, format="bgr24")
            frame.pts, frame.time_base = tick, Fraction(1, TICKS_HZ)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    if turned:
        tag(pathlib.Path(path))


def tag(path):
    """Puts a quarter turn clockwise into the track header's matrix (ISO/IEC 14496-12, 8.3.2)."""
    one, unit = 1 << 16, 1 << 30
    plain = struct.pack(">9i", one, 0, 0, 0, one, 0, 0, 0, unit)
    quarter = struct.pack(">9i", 0, one, 0, -one, 0, 0, 0, 0, unit)
    data = path.read_bytes()
    at = data.index(plain, data.index(b"tkhd"))
    path.write_bytes(data[:at] + quarter + data[at + len(plain):])
