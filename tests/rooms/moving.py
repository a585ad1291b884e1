"""Moving pictures made for tests with av alone, so that expected codes never come from our code."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

HEIGHT, WIDTH = 64, 96
X265 = "log-level=none:frame-threads=1:keyint=12:bframes=3"
LOSSLESS = {"x265-params": f"{X265}:lossless=1:hash=1"}
HDR_TAGS = (9, 16, 9, 1)  # BT.2020, PQ, BT.2020 non-constant, narrow: ITU-T H.273
SDR_TAGS = (1, 1, 1, 1)  # BT.709 throughout, narrow


def needs_encoder(name, pixels=None):
    """Skips with a word where this installation of av cannot make the material."""
    try:
        formats = {f.name for f in av.codec.Codec(name, "w").video_formats or ()}
    except av.codec.codec.UnknownCodecError:
        pytest.skip(f"this av has no encoder {name}")
    if pixels is not None and pixels not in formats:
        pytest.skip(f"this av's {name} does not write {pixels}")


def noise_planes(pixels, index, height=HEIGHT, width=WIDTH):
    """Random code planes of a pixel format, another set for every index."""
    rng = np.random.default_rng(1000 + index)
    frame = av.VideoFrame(width, height, pixels)
    bits = frame.format.components[0].bits
    return [
        rng.integers(64 << (bits - 8) >> 2, 235 << (bits - 8), (p.height, p.width), np.uint16)
        for p in frame.planes
    ]


def flat_planes(pixels, index, height=HEIGHT, width=WIDTH):
    """Flat planes whose luma says the index: 64 + 10·index at ten bits, and colourless."""
    frame = av.VideoFrame(width, height, pixels)
    bits = frame.format.components[0].bits
    unit = 2 ** (bits - 8)
    luma = np.full((height, width), (16 + 4 * index) * unit, np.uint16)
    return [luma] + [np.full((p.height, p.width), 128 * unit, np.uint16) for p in frame.planes[1:]]


def av_frame(pixels, planes, tags=HDR_TAGS):
    height, width = planes[0].shape if not pixels.startswith("rgb") else planes[0].shape[:2]
    frame = av.VideoFrame(width, height, pixels)
    kind = np.uint16 if frame.format.components[0].bits > 8 else np.uint8
    for plane, codes in zip(frame.planes, planes, strict=True):
        np.frombuffer(plane, kind).reshape(plane.height, -1)[:, : codes.shape[1]] = codes
    _tag(frame, tags)
    return frame


def write_moving(
    path: Path,
    encoder: str,
    pixels: str,
    frames: list,
    *,
    options=None,
    rate=Fraction(24),
    tags=HDR_TAGS,
    stamps=None,
    time_base=None,
    container=None,
) -> Path:
    """A video of the given planes; `stamps` in `time_base` where their pace is uneven."""
    needs_encoder(encoder, pixels)
    with av.open(str(path), "w", format=container) as file:
        stream = file.add_stream(encoder, rate=rate)
        stream.height, stream.width = frames[0][0].shape
        stream.pix_fmt = pixels
        stream.options = _safe(encoder, dict(options or {}), len(frames))
        _tag(stream.codec_context, tags)
        if time_base is not None:
            stream.codec_context.time_base = time_base
        for index, planes in enumerate(frames):
            frame = av_frame(pixels, planes, tags)
            frame.pts = index if stamps is None else stamps[index]
            if time_base is not None:
                frame.time_base = time_base
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


def _safe(encoder, options, count):
    """x265 leaves the times of clips shorter than its run of B frames to chance."""
    if encoder == "libx265" and count < 6:
        options["x265-params"] = options.get("x265-params", X265) + ":bframes=0"
    return options


def same_codes(picture, planes, order=(0, 1, 2)):
    """Whether a CodePicture holds exactly these planes."""
    ours = (picture.first, picture.second, picture.third)
    return all(np.array_equal(ours[k], planes[i]) for k, i in enumerate(order))


def _tag(target, tags):
    target.color_primaries, target.color_trc, target.colorspace, target.color_range = tags
