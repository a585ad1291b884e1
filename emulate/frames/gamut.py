"""Container primaries into BT.2020."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from emulate.colorimetry import BT709, BT2020, D65, P3, xyz_from_xyy, xyz_matrix
from emulate.frames.frame import Gamut
from emulate.values import Numbers, numbers

Chromaticities = tuple[tuple[float, float], ...]  # red, green, blue and perhaps white, CIE xy

PRIMARIES: dict[Gamut, Chromaticities] = {
    "bt2020": BT2020,
    "p3": P3,
    "bt709": BT709,
}
NEAR = 1e-4  # xy; half or float rounding, and whites printed to four digits, are no other gamut

BRADFORD = numbers(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""XYZ to the sharpened cone space of Lam 1985, as printed in ICC.1:2010 annex E.2."""


def bt2020_matrix(gamut: Gamut | Chromaticities) -> Numbers:
    """Matrix (3, 3) from linear RGB of a container to BT.2020; the identity for BT.2020 itself.

    Where the container's white is not D65, its colours are adapted to D65 with the linear Bradford
    transform (Lam 1985; ICC.1:2010 annex E), so that its white stays white.
    """
    points = PRIMARIES[gamut] if isinstance(gamut, str) else tuple(gamut)
    return _matrix(tuple((float(x), float(y)) for x, y in points))


@lru_cache(maxsize=32)
def _matrix(points: Chromaticities) -> Numbers:
    white = points[3] if len(points) == 4 else D65
    if points[:3] == BT2020 and white == D65:
        return numbers(np.eye(3))
    xyz = adaptation(white) @ xyz_matrix(points[:3], white)
    return numbers(np.linalg.solve(xyz_matrix(BT2020), xyz))


def adaptation(white: Sequence[float], to: Sequence[float] = D65) -> Numbers:
    """Bradford adaptation (3, 3) of XYZ from one white xy to another. ICC.1:2010 annex E.2."""
    source, target = (BRADFORD @ xyz_from_xyy([*xy, 1.0]) for xy in (white, to))
    return np.asarray(np.linalg.solve(BRADFORD, (target / source)[:, None] * BRADFORD))


def named_gamut(points: Chromaticities) -> Gamut | Chromaticities:
    """The name of a container whose primaries and white these are to 1e-4, else the points."""
    for name, primaries in PRIMARIES.items():
        named = np.array([*primaries, D65][: len(points)])
        if np.abs(np.array(points) - named).max() < NEAR:
            return name
    return points


def is_gamut(points: Chromaticities) -> bool:
    """Whether xy of red, green, blue and perhaps white span a triangle with the white inside."""
    if len(points) not in (3, 4) or any(len(xy) != 2 for xy in points):
        return False
    if not all(math.isfinite(v) and abs(v) < 10 for xy in points for v in xy):
        return False
    if any(y == 0 for _, y in points):
        return False
    red, green, blue = points[:3]
    area = _turn(red, green, blue)
    white = points[3] if len(points) == 4 else tuple(sum(v) / 3 for v in zip(*points, strict=True))
    shares = [
        _turn(a, b, (white[0], white[1])) for a, b in ((red, green), (green, blue), (blue, red))
    ]
    return abs(area) > 1e-6 and all(share * area > 0 for share in shares)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
