"""Where the picture lies inside black bars, found over many frames: dark scenes have no edges."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from emulate.frames.frame import CodePicture, Frame
from emulate.values import Codes

Active = tuple[int, int, int, int]  # rows from, to and columns from, to
Lit = tuple[NDArray[np.bool_], NDArray[np.bool_]]  # rows and columns that a frame lights up

LIT_CODES = 2.0  # eight-bit codes above black that are still black in a compressed stream; ours
LIT_LIGHT = 0.005  # cd/m², the darkest that light pictures are told from black by; ours
LIT_SHARE = 0.3  # of a row or column that picture lights up and subtitles in a bar do not; ours
AGREEING = 8  # frames from which on one frame alone is not believed; ours
TWICE = 2  # frames that a line is then to be lit in; ours
UNEQUAL = 0.02  # of the side, by which two bars may differ: they are made equal; ours
SMALLEST = 0.3  # of the side that picture fills: 9:16 inside 16:9 is .316; less is no picture


def letterbox_of(frames: Iterable[Frame]) -> Active | None:
    """Rows and columns (top, bottom, left, right) of the picture inside bars, None without bars.

    A row is picture where some frames light up a third of it, so that neither a dark scene nor
    subtitles in a bar move the edge. Bars lie on one axis and are equal; anything else (a test
    window, a lamp on black, all frames dark) is no letterbox.
    """
    lit: list[Lit] = []
    shape: tuple[int, int] | None = None
    for frame in frames:
        if frame.shape != (shape or frame.shape):
            return None
        shape = frame.shape
        lit.append(_lit(frame))
        if _reaches_edges(lit):
            return None
    if shape is None:
        return None
    rows, columns = (_bounds([each[axis] for each in lit]) for axis in (0, 1))
    height, width = shape
    if rows is None or columns is None:
        return None
    if columns == (0, width) and _is_barred(rows, height):
        return (*rows, *columns)
    if rows == (0, height) and _is_barred(columns, width):
        return (*rows, *columns)
    return None


def _reaches_edges(lit: list[Lit]) -> bool:
    """Whether the picture fills the whole frame, whatever the frames to come may show."""
    return all(
        sum(int(line[at]) for line in lines) >= TWICE
        for lines in zip(*lit, strict=True)
        for at in (0, -1)
    )


def _lit(frame: Frame) -> Lit:
    """Which rows and which columns one frame lights up."""
    above = _above_black(frame)
    return above.mean(axis=1) >= LIT_SHARE, above.mean(axis=0) >= LIT_SHARE


def _above_black(frame: Frame) -> NDArray[np.bool_]:
    picture = frame.picture
    if not isinstance(picture, CodePicture):
        return np.asarray(frame.light.max(axis=2) > LIT_LIGHT)
    encoding = picture.encoding
    step = 2.0 ** (encoding.bits - 8)
    black = (0.0 if encoding.full_range else 16.0) * step  # ITU-R BT.2100-2 table 9
    return np.asarray(_brightness(picture) > black + LIT_CODES * step)


def _brightness(picture: CodePicture) -> Codes:
    if picture.encoding.matrix != "rgb":
        return picture.first
    return np.maximum(np.maximum(picture.first, picture.second), picture.third)


def _bounds(lines: list[NDArray[np.bool_]]) -> tuple[int, int] | None:
    """First and past the last line lit by enough of the frames."""
    enough = TWICE if sum(bool(line.any()) for line in lines) >= AGREEING else 1
    lit = np.flatnonzero(np.sum(lines, axis=0) >= enough)
    return (int(lit[0]), int(lit[-1]) + 1) if len(lit) else None


def _is_barred(bounds: tuple[int, int], side: int) -> bool:
    first, last = bounds
    before, after = first, side - last
    equal = abs(before - after) <= UNEQUAL * side
    return before + after > 0 and equal and last - first >= SMALLEST * side
