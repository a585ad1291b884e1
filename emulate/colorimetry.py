"""RGB, XYZ, ICtCp, colour difference and gamuts; the one door to colour-science.

`import colour` costs two seconds and opens pyplot, so it happens inside the functions that need
it. What pixels need (3×3 matrices, ICtCp) is written out here and checked against it in the tests.
Arrays are (..., 3); light is linear and in cd/m²; chromaticities are CIE 1931 xy.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from types import ModuleType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from emulate.transfer import light_from_pq, pq_from_light
from emulate.values import Numbers, numbers

D65 = (0.3127, 0.3290)  # CIE 15, as rounded in ITU-R BT.2020-2 table 3
BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))  # ITU-R BT.2020-2 table 3
BT709 = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))  # ITU-R BT.709-6 1.3
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # SMPTE RP 431-2; D65 as in ST 2113

Primaries = Sequence[tuple[float, float]]  # red, green, blue xy

LMS_FROM_RGB = numbers([[1688, 2146, 262], [683, 2951, 462], [99, 309, 3688]]) / 4096
"""BT.2020 light to LMS. ITU-R BT.2100-2 table 7."""
ICTCP_FROM_LMS = numbers([[2048, 2048, 0], [6610, -13613, 7003], [17933, -17390, -543]]) / 4096
"""PQ-coded LMS to ICtCp. ITU-R BT.2100-2 table 7."""
ITP_SCALE = 720.0  # one is just noticeable at the most critical adaptation, ITU-R BT.2124-0


def xyz_matrix(primaries: Primaries, white: tuple[float, float] = D65) -> Numbers:
    """Normalised primary matrix (3, 3): XYZ = M @ rgb, white at Y = 1. SMPTE RP 177:1993, 3.3."""
    columns = np.array([_xyz_of(xy) for xy in primaries]).T
    return np.asarray(columns * np.linalg.solve(columns, _xyz_of(white)))


def rgb_matrix(
    to: Primaries, white: tuple[float, float] = D65, *, source: Primaries = BT2020
) -> Numbers:
    """Matrix (3, 3) from `source` RGB at D65 to RGB of primaries `to` and their `white`."""
    return np.asarray(np.linalg.solve(xyz_matrix(to, white), xyz_matrix(source)))


def xyz_from_rgb(rgb: ArrayLike, primaries: Primaries = BT2020) -> Numbers:
    """XYZ [cd/m²] from linear RGB at D65 (..., 3)."""
    return np.asarray(np.asarray(rgb, dtype=np.float64) @ xyz_matrix(primaries).T)


def rgb_from_xyz(xyz: ArrayLike, primaries: Primaries = BT2020) -> Numbers:
    """Linear RGB at D65 (..., 3) from XYZ [cd/m²]; out-of-gamut colours come out negative."""
    return np.asarray(np.asarray(xyz, dtype=np.float64) @ np.linalg.inv(xyz_matrix(primaries)).T)


def xyz_from_xyy(xyy: ArrayLike) -> Numbers:
    """XYZ from x, y, Y (..., 3); y must not be 0. CIE 15:2018, 7.3."""
    x, y, luminance = np.moveaxis(np.asarray(xyy, dtype=np.float64), -1, 0)
    return np.stack([x / y * luminance, luminance, (1 - x - y) / y * luminance], axis=-1)


def xy_from_xyz(xyz: ArrayLike) -> Numbers:
    """Chromaticity x, y (..., 2) from XYZ; of black it is NaN. CIE 15:2018, 7.3."""
    values = np.asarray(xyz, dtype=np.float64)
    total = values.sum(axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(values[..., :2] / total)


def uv_from_xy(xy: ArrayLike) -> Numbers:
    """CIE 1976 u′, v′ (..., 2). CIE 15:2018, 8.2.1."""
    x, y = np.moveaxis(np.asarray(xy, dtype=np.float64), -1, 0)
    denominator = -2 * x + 12 * y + 3
    return np.stack([4 * x / denominator, 9 * y / denominator], axis=-1)


def ictcp_from_rgb(rgb: ArrayLike) -> Numbers:
    """ICtCp, PQ form, from BT.2020 light [cd/m²] (..., 3). ITU-R BT.2100-2 table 7."""
    lms = np.asarray(rgb, dtype=np.float64) @ LMS_FROM_RGB.T
    return np.asarray(pq_from_light(lms) @ ICTCP_FROM_LMS.T)


def rgb_from_ictcp(ictcp: ArrayLike) -> Numbers:
    """BT.2020 light [cd/m²] from ICtCp, PQ form (..., 3). ITU-R BT.2100-2 table 7."""
    lms = light_from_pq(np.asarray(ictcp, dtype=np.float64) @ np.linalg.inv(ICTCP_FROM_LMS).T)
    return np.asarray(lms @ np.linalg.inv(LMS_FROM_RGB).T)


def steps_between(first: ArrayLike, second: ArrayLike) -> Numbers:
    """ΔE_ITP (...) between two BT.2020 lights [cd/m²] (..., 3). ITU-R BT.2124-0, annex 1."""
    difference = ictcp_from_rgb(first) - ictcp_from_rgb(second)
    difference[..., 1] *= 0.5
    return np.asarray(ITP_SCALE * np.sqrt((difference**2).sum(axis=-1)))


def gamut_coverage(
    primaries: Primaries, target: Primaries = BT2020, *, diagram: Literal["xy", "uv"] = "xy"
) -> float:
    """Share 0..1 of the `target` triangle that the `primaries` triangle covers, by intersection."""
    inner, outer = _corners(primaries, diagram), _corners(target, diagram)
    return _area(_clipped(inner, outer)) / _area(outer)


def delta_e_2000(xyz: ArrayLike, reference: ArrayLike, white: ArrayLike) -> Numbers:
    """ΔE 2000 (...) of XYZ against reference XYZ (..., 3), all relative to `white` XYZ (3,).

    CIE 142-2001 and ISO/CIE 11664-6 by colour-science.
    """
    colour = colour_science()
    scale = np.asarray(white, dtype=np.float64)
    white_xy = xy_from_xyz(scale)
    labs = [
        colour.XYZ_to_Lab(np.asarray(values, dtype=np.float64) / scale[1], white_xy)
        for values in (xyz, reference)
    ]
    return np.asarray(colour.delta_E(labs[0], labs[1], method="CIE 2000"))


def xyz_from_spectrum(wavelength: ArrayLike, power: ArrayLike) -> Numbers:
    """XYZ (3,) in the unit of the power, from power (n,) at rising wavelengths [nm] (n,).

    CIE 1931 2° observer, summed at 1 nm from 360 to 830 (CIE 15:2018, 7.1) with the power straight
    between its samples and none outside. Tables by colour-science.
    """
    colour = colour_science()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    at = np.asarray(observer.wavelengths, dtype=np.float64)
    read = np.asarray(wavelength, dtype=np.float64), np.asarray(power, dtype=np.float64)
    filled = np.interp(at, *read, left=0.0, right=0.0)
    return np.asarray(filled @ observer.values)


@cache
def colour_science() -> ModuleType:
    """The colour-science package, imported on first use with numpy's print options kept."""
    with np.printoptions():
        import colour

    return colour


def _xyz_of(xy: tuple[float, float]) -> Numbers:
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _corners(primaries: Primaries, diagram: str) -> Numbers:
    xy = np.asarray(primaries, dtype=np.float64)
    corners = uv_from_xy(xy) if diagram == "uv" else xy
    return corners if _signed_area(corners) > 0 else corners[::-1]


def _clipped(subject: Numbers, window: Numbers) -> Numbers:
    """Intersection of two convex polygons, both anticlockwise (Sutherland and Hodgman 1974)."""
    polygon = list(subject)
    for start, end in zip(window, np.roll(window, -1, axis=0), strict=True):
        polygon = _clipped_by_edge(polygon, start, end)
    return np.array(polygon).reshape(-1, 2)


def _clipped_by_edge(polygon: list[Numbers], start: Numbers, end: Numbers) -> list[Numbers]:
    kept: list[Numbers] = []
    for index, point in enumerate(polygon):
        before = polygon[index - 1]
        side, side_before = _side(point, start, end), _side(before, start, end)
        if (side >= 0) != (side_before >= 0):
            kept.append(before + (point - before) * side_before / (side_before - side))
        if side >= 0:
            kept.append(point)
    return kept


def _side(point: Numbers, start: Numbers, end: Numbers) -> float:
    along, off = end - start, point - start
    return float(along[0] * off[1] - along[1] * off[0])


def _signed_area(polygon: Numbers) -> float:
    x, y = polygon.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _area(polygon: Numbers) -> float:
    return abs(_signed_area(polygon)) if len(polygon) > 2 else 0.0
