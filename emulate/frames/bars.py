"""Bars: a picture on a screen of another shape, stretched over it or inside black bars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from emulate.errors import Caveat
from emulate.frames.frame import Frame, LightPicture
from emulate.values import locked

SCREEN = 16 / 9  # width over height; the panel file does not say
UNLIKE = 0.02  # of the shape, by which it may differ and still fill the screen; ours


def fills_screen(shape: tuple[int, int]) -> bool:
    """Whether a picture of `shape` (rows, columns) has the shape of a screen."""
    return abs(shape[1] / shape[0] / SCREEN - 1) <= UNLIKE


def stretched(frame: Frame) -> tuple[Caveat, ...]:
    """The doubt about a picture that does not have the shape of a screen; none of one that does."""
    if fills_screen(frame.shape):
        return ()
    rows, columns = frame.shape
    text = (
        f"a picture of {columns / rows:.2f}:1 on a 16:9 panel is shown as if it filled the screen, "
        "zones and all; black bars around it (--bars, with_bars) show it as such a screen would"
    )
    return (Caveat("shape", text),)


def with_bars(frame: Frame) -> Frame:
    """The frame inside black bars that make it 16:9; one of that shape as it is.

    The picture stays pixel for pixel what it was, and `active` says where it lies.
    """
    if fills_screen(frame.shape):
        return frame
    height, width = frame.shape
    rows, columns = max(height, round(width / SCREEN)), max(width, round(height * SCREEN))
    top, left = (rows - height) // 2, (columns - width) // 2
    light = np.zeros((rows, columns, 3), np.float32)
    light[top : top + height, left : left + width] = frame.light
    first, last, begin, end = frame.active or (0, height, 0, width)
    active = (top + first, top + last, left + begin, left + end)
    return replace(frame, picture=LightPicture(locked(light)), active=active)
