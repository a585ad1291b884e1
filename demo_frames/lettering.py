"""Lettering: an alphabet of pen strokes of our own, drawn as distance to the pen's path.

A letter stands on y = 0, x-height 0.5, capitals 0.72, ascenders 0.76, descenders -0.22; one unit is
the size of the type. Only the letters that the scenes need are there.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .canvas import Canvas, Image

Stroke = list[tuple[float, float]]

APART = 0.08  # between letters, beyond each letter's own advance


def _arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float) -> Stroke:
    """From `start` to `end` [degree], anticlockwise if rising."""
    angles = np.radians(np.linspace(start, end, 25))
    return [(float(cx + rx * np.cos(a)), float(cy + ry * np.sin(a))) for a in angles]


_BOWL = _arc(0.2, 0.25, 0.2, 0.25, 0, 360)
_ARCH = [*_arc(0.19, 0.31, 0.19, 0.19, 180, 0), (0.38, 0.0)]

_LETTERS: dict[str, tuple[float, list[Stroke]]] = {  # advance, strokes
    " ": (0.3, []),
    ".": (0.2, [[(0.04, 0.0), (0.05, 0.0)]]),
    ",": (0.2, [[(0.06, 0.0), (0.02, -0.12)]]),
    "a": (0.55, [_BOWL, [(0.4, 0.5), (0.4, 0.0)]]),
    "b": (0.55, [_BOWL, [(0.0, 0.76), (0.0, 0.0)]]),
    "c": (0.5, [_arc(0.2, 0.25, 0.2, 0.25, 50, 310)]),
    "d": (0.55, [_BOWL, [(0.4, 0.76), (0.4, 0.0)]]),
    "e": (0.54, [[(0.01, 0.27), (0.4, 0.27), *_arc(0.2, 0.25, 0.2, 0.25, 5, 315)]]),
    "f": (0.36, [[*_arc(0.25, 0.62, 0.13, 0.14, 75, 180), (0.12, 0.0)],
                 [(0.0, 0.48), (0.27, 0.48)]]),
    "g": (0.55, [_BOWL, [(0.4, 0.5), *_arc(0.2, -0.04, 0.2, 0.18, 0, -150)]]),
    "h": (0.53, [[(0.0, 0.76), (0.0, 0.0)], _ARCH]),
    "i": (0.18, [[(0.0, 0.5), (0.0, 0.0)], [(0.0, 0.69), (0.0, 0.7)]]),
    "k": (0.46, [[(0.0, 0.76), (0.0, 0.0)], [(0.34, 0.5), (0.0, 0.2)], [(0.1, 0.29), (0.36, 0.0)]]),
    "l": (0.18, [[(0.0, 0.76), (0.0, 0.0)]]),
    "m": (0.84, [[(0.0, 0.5), (0.0, 0.0)], [*_arc(0.17, 0.33, 0.17, 0.17, 180, 0), (0.34, 0.0)],
                 [*_arc(0.51, 0.33, 0.17, 0.17, 180, 0), (0.68, 0.0)]]),
    "n": (0.53, [[(0.0, 0.5), (0.0, 0.0)], _ARCH]),
    "o": (0.55, [_BOWL]),
    "p": (0.55, [_BOWL, [(0.0, 0.5), (0.0, -0.22)]]),
    "r": (0.36, [[(0.0, 0.5), (0.0, 0.0)], _arc(0.19, 0.31, 0.19, 0.19, 180, 65)]),
    "s": (0.46, [[*_arc(0.16, 0.375, 0.15, 0.125, 40, 270),
                  *_arc(0.17, 0.125, 0.16, 0.125, 90, -140)]]),
    "t": (0.36, [[(0.12, 0.66), *_arc(0.25, 0.13, 0.13, 0.13, 180, 285)],
                 [(0.0, 0.48), (0.27, 0.48)]]),
    "u": (0.53, [[(0.0, 0.5), *_arc(0.19, 0.19, 0.19, 0.19, 180, 360)],
                 [(0.38, 0.5), (0.38, 0.0)]]),
    "v": (0.48, [[(0.0, 0.5), (0.18, 0.0), (0.36, 0.5)]]),
    "w": (0.7, [[(0.0, 0.5), (0.14, 0.0), (0.29, 0.48), (0.44, 0.0), (0.58, 0.5)]]),
    "y": (0.48, [[(0.0, 0.5), (0.18, 0.02)], [(0.36, 0.5), (0.1, -0.22)]]),
    "A": (0.62, [[(0.0, 0.0), (0.24, 0.72), (0.48, 0.0)], [(0.08, 0.25), (0.4, 0.25)]]),
    "E": (0.5, [[(0.36, 0.72), (0.0, 0.72), (0.0, 0.0), (0.36, 0.0)], [(0.0, 0.37), (0.3, 0.37)]]),
    "N": (0.62, [[(0.0, 0.0), (0.0, 0.72), (0.44, 0.0), (0.44, 0.72)]]),
    "O": (0.74, [_arc(0.28, 0.36, 0.28, 0.36, 0, 360)]),
    "R": (0.56, [[(0.0, 0.0), (0.0, 0.72), *_arc(0.22, 0.54, 0.18, 0.18, 90, -90), (0.0, 0.36)],
                 [(0.18, 0.36), (0.4, 0.0)]]),
    "S": (0.54, [[*_arc(0.2, 0.54, 0.19, 0.18, 35, 270), *_arc(0.2, 0.18, 0.2, 0.18, 90, -145)]]),
    "T": (0.54, [[(0.0, 0.72), (0.48, 0.72)], [(0.24, 0.72), (0.24, 0.0)]]),
    "U": (0.6, [[(0.0, 0.72), *_arc(0.22, 0.2, 0.22, 0.2, 180, 360), (0.44, 0.72)]]),
    "W": (0.86, [[(0.0, 0.72), (0.18, 0.0), (0.36, 0.68), (0.54, 0.0), (0.72, 0.72)]]),
}  # fmt: skip


def text_width(text: str, size: float) -> float:
    """Width of a line in the units of `size`."""
    return sum(_LETTERS[letter][0] + APART for letter in text) * size


def text_strokes(text: str, left: float, baseline: float, size: float) -> list[Image]:
    """Pen paths (n, 2) of a line of type as x, y on the canvas, in picture heights."""
    strokes, pen = [], left
    for letter in text:
        advance, paths = _LETTERS[letter]
        strokes += [_placed(path, pen, baseline, size) for path in paths]
        pen += (advance + APART) * size
    return strokes


def inked(canvas: Canvas, strokes: list[Image], radius: float) -> Image:
    """Coverage (h, w) 0..1 by a round pen of `radius` [H] along the strokes, edges smoothed."""
    coverage = np.zeros(canvas.shape, np.float32)
    for stroke in strokes:
        window = _window(canvas, stroke, radius + 2 / canvas.rows)
        x, y = canvas.x[:, window[1]], canvas.y[window[0]]
        ink = np.clip((radius - _distance(x, y, stroke)) * canvas.rows + 0.5, 0, 1)
        coverage[window] = np.maximum(coverage[window], ink)
    return coverage


def _placed(path: Stroke, left: float, baseline: float, size: float) -> Image:
    points = np.array(path, np.float32) * np.float32(size) * np.array([1, -1], np.float32)
    return points + np.array([left, baseline], np.float32)


def _window(canvas: Canvas, stroke: Image, margin: float) -> tuple[slice, slice]:
    low = np.floor((stroke.min(axis=0) - margin) * canvas.rows).astype(int)
    high = np.ceil((stroke.max(axis=0) + margin) * canvas.rows).astype(int)
    rows = slice(max(0, int(low[1])), max(0, int(high[1])))
    return rows, slice(max(0, int(low[0])), max(0, int(high[0])))


def _distance(x: Image, y: Image, stroke: Image) -> Image:
    """Distance (h, w) from pixel centres to a path of straight pieces."""
    nearest = np.full((y.shape[0], x.shape[1]), np.inf, np.float32)
    for (ax, ay), (bx, by) in pairwise(stroke):
        length = max((bx - ax) ** 2 + (by - ay) ** 2, 1e-12)
        along = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length, 0, 1)
        nearest = np.minimum(
            nearest, np.hypot(x - ax - along * (bx - ax), y - ay - along * (by - ay))
        )
    return nearest
