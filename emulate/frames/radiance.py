"""Radiance HDR in: shared-exponent pixels, both run lengths, every orientation.

A reader of our own, since the image libraries at hand cut to 8 bits, leave the exposure out, or
know one orientation only. Source of the layout: Greg Ward, "Radiance file formats", and "Real
pixels", Graphics Gems II, 1991.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from emulate.colorimetry import BT2020, xyz_matrix
from emulate.errors import Caveat, MaterialError
from emulate.frames.floats import frame_of_floats, light_from_linear
from emulate.frames.frame import Frame, LightPicture
from emulate.frames.gamut import is_gamut, named_gamut
from emulate.frames.said import Said, settle
from emulate.frames.size import check_size
from emulate.values import Numbers, Pixels

_ASSUMED = Said(transfer="linear", gamut="bt709")  # common practice; the format's own is its own
_LONGEST_HEADER = 65536  # bytes, our own limit
_SIZE = re.compile(rb"([+-])([XY]) (\d{1,9}) ([+-])([XY]) (\d{1,9})")
_FORMATS = ("32-bit_rle_rgbe", "32-bit_rle_xyze")  # Radiance file formats, "Picture"


@dataclass(frozen=True)
class _Header:
    """What stands before the pixels.

    exposure (3,): what the stored pixels were multiplied with. lines, length: as stored. flips and
    turned: how the stored order becomes rows from the top and columns from the left.
    """

    xyz: bool
    exposure: Numbers
    primaries: tuple[tuple[float, float], ...] | None
    lines: int
    length: int
    turned: bool
    flips: tuple[bool, bool]
    start: int


def read_radiance(file: Path, said: Said) -> Frame:
    """A frame of linear light. EXPOSURE and COLORCORR are taken out again, PRIMARIES honoured.

    A pixel is (mantissa + ½)/256 · 2^(exponent − 128), as the format defines it, 0 where the
    exponent is 0. Raises MaterialError for a header that is not whole, or truncated pixels.
    """
    name = file.name
    data = file.read_bytes()
    header = _header(file, data)
    values = _values(file, header, data)
    told, doubts = _told(name, header)
    encoding, assumptions = settle(name, told, said, _ASSUMED)
    caveats = doubts + assumptions
    if not header.xyz:
        return frame_of_floats(name, values, encoding, caveats)
    mix = np.asarray(encoding.scale * np.linalg.inv(xyz_matrix(BT2020)), np.float64)
    light, negative = light_from_linear(name, values, mix)
    return Frame(LightPicture(light), name, encoding, caveats=caveats + negative)


def _told(name: str, header: _Header) -> tuple[Said, tuple[Caveat, ...]]:
    if header.xyz:
        return Said(transfer="linear", gamut="bt2020"), ()
    if header.primaries is None:
        return Said(transfer="linear"), ()
    if not is_gamut(header.primaries):
        return Said(transfer="linear"), (Caveat(name, "its PRIMARIES cannot be; dropped"),)
    return Said(transfer="linear", gamut=named_gamut(header.primaries)), ()


def _header(file: Path, data: bytes) -> _Header:
    """The lines up to an empty one, then the size. Raises MaterialError where they are not."""
    end = data.find(b"\n\n", 0, _LONGEST_HEADER)
    line_end = data.find(b"\n", end + 2, end + 2 + 64)
    if end < 0 or line_end < 0:
        raise MaterialError(f"{file}: truncated: its header has no end")
    size = _SIZE.fullmatch(data[end + 2 : line_end].strip())
    if size is None or size[2] == size[5]:
        raise MaterialError(f"{file}: damaged: no size such as '-Y 1080 +X 1920' in its header")
    sign, axis, lines, other_sign, _, length = size.groups()
    turned = axis == b"X"
    vertical, horizontal = (other_sign, sign) if turned else (sign, other_sign)
    check_size(file, int(length), int(lines))
    kind, exposure, primaries = _variables(file, data[:end].split(b"\n")[1:])
    return _Header(
        xyz=kind == _FORMATS[1],
        exposure=exposure,
        primaries=primaries,
        lines=int(lines),
        length=int(length),
        turned=turned,
        flips=(vertical == b"+", horizontal == b"-"),
        start=line_end + 1,
    )


def _variables(
    file: Path, lines: list[bytes]
) -> tuple[str, Numbers, tuple[tuple[float, float], ...] | None]:
    """Format, product of all exposures (3,), primaries. Repeated exposures multiply."""
    kind, exposure, primaries = _FORMATS[0], np.ones(3), None
    for number, line in enumerate(lines, start=2):
        key, _, value = line.decode("latin-1").partition("=")
        if key == "FORMAT":
            kind = value.strip()
        elif key in ("EXPOSURE", "COLORCORR"):
            exposure = exposure * _floats(file, number, value, 1 if key == "EXPOSURE" else 3)
        elif key == "PRIMARIES":
            flat = [float(v) for v in _floats(file, number, value, 8)]
            primaries = tuple(zip(flat[::2], flat[1::2], strict=True))
    if kind not in _FORMATS:
        raise MaterialError(f"{file}: format {kind[:60]!r}; accepted are {', '.join(_FORMATS)}")
    if not (np.isfinite(exposure) & (exposure > 0)).all():
        raise MaterialError(f"{file}: an exposure of {exposure}; accepted is more than 0")
    return kind, exposure, primaries


def _floats(file: Path, line: int, text: str, count: int) -> Numbers:
    try:
        values = np.array([float(word) for word in text.split()])
    except ValueError as error:
        raise MaterialError(f"{file}, line {line}: {text[:60]!r} is not {count} numbers") from error
    if len(values) != count:
        raise MaterialError(f"{file}, line {line}: {text[:60]!r} is not {count} numbers")
    return values


def _values(file: Path, header: _Header, data: bytes) -> Pixels:
    """Linear values (h, w, 3), exposure taken out, rows from the top."""
    from emulate._kernels.unpack import unpack_radiance

    if len(data) - header.start < 4 * header.lines:  # a scanline has its head, or one pixel
        raise MaterialError(f"{file}: truncated: {header.lines} scanlines in {len(data)} bytes")
    packed = np.empty((header.lines, header.length, 4), np.uint8)
    wrong = unpack_radiance(np.frombuffer(data, np.uint8, offset=header.start), packed)
    if wrong >= 0:
        raise MaterialError(f"{file}: truncated or damaged at scanline {wrong} of {header.lines}")
    return _upright(_linear(packed, header.exposure), header)


def _linear(packed: NDArray[np.uint8], exposure: Numbers) -> Pixels:
    """(mantissa + ½)·2^(exponent − 136), over the exposure. Ward, "Real pixels"."""
    exponent = packed[..., 3:].astype(np.int32)
    unit = np.where(exponent > 0, np.ldexp(1.0, exponent - 136), 0.0)
    return ((packed[..., :3] + 0.5) * unit / exposure).astype(np.float32)


def _upright(values: Pixels, header: _Header) -> Pixels:
    if header.turned:
        values = values.swapaxes(0, 1)
    down, left = header.flips
    return np.ascontiguousarray(values[:: -1 if down else 1, :: -1 if left else 1])
