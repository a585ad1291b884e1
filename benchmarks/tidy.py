"""The same in tidy float32 numpy: no array wider than it must be, PQ by tables where a table does,
work in place, slices for chroma. What somebody makes of plain.py in an afternoon.

It covers what plain.py covers, and takes the small things over from there.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from benchmarks.plain import NOISE, ROUNDING, Mask, Shown, backlight, driven, halo, seen_by_zones
from emulate.colorimetry import ITP_SCALE
from emulate.frames.decode import code_base, luma_steps, siting_offsets, unmixing
from emulate.frames.frame import CodePicture
from emulate.panel.curves import FLAT, Curve
from emulate.panel.panel import Panel
from emulate.panel.uniformity import uniformity_map
from emulate.sight import Viewer, box_pixels
from emulate.transfer import (
    LUMINANCE_2020,
    PQ_C1,
    PQ_C2,
    PQ_C3,
    PQ_M1,
    PQ_M2,
    PQ_PEAK,
    light_from_pq,
    pq_from_light,
)
from emulate.values import Pixels

ENTRIES = 1 << 16  # of a table over the signal: a step is 1/64 of a 10-bit code
WEIGHTS = LUMINANCE_2020.astype(np.float32)


def light_of(picture: CodePicture) -> tuple[Pixels, NDArray[np.intp]]:
    """Light (h, w, 3) [cd/m²] of 10-bit PQ Y′CbCr 4:2:0 planes, and where in a table of the signal
    its largest channel lies (h, w)."""
    base, mix = code_base(picture.encoding), unmixing(picture.encoding)
    mix = (mix * ((ENTRIES - 1) / luma_steps(picture.encoding))).astype(np.float32)
    luma = picture.first.astype(np.float32) - np.float32(base[0])
    at = np.empty((*picture.shape, 3), np.float32)
    at[:] = (mix[0, 0] * luma)[..., None]
    for k, plane in enumerate((picture.second, picture.third), start=1):
        chroma = _doubled(plane.astype(np.float32) - np.float32(base[k]), picture)
        for c in range(3):
            if mix[c, k]:
                at[..., c] += mix[c, k] * chroma
    np.clip(at, 0, ENTRIES - 1, out=at)
    index = np.rint(at, out=at).astype(np.intp)
    return _pq_table()[index], index.max(axis=-1)


def rendered(picture: CodePicture, panel: Panel) -> tuple[Pixels, Shown]:
    """Reference light, and what the panel shows of it, settled, on axis, in the dark."""
    reference, brightest = light_of(picture)
    curve = _curve_tables(panel.tone.curves[0].curve())
    toned = reference * curve.scale[brightest][..., None]
    wanted = toned @ panel.primaries.matrix_in().T.astype(np.float32)
    noise = np.float32(NOISE) * toned.max(axis=-1)
    gamut = wanted.min(axis=-1) < -noise
    gamut |= wanted.max(axis=-1) > panel.open_cdm2 * (1 + NOISE)
    np.clip(wanted, 0, np.float32(panel.open_cdm2), out=wanted)
    share = wanted.max(axis=-1) / np.float32(panel.open_cdm2)
    drive, gain = driven(seen_by_zones(share, panel), panel)
    behind = backlight((gain * drive).astype(np.float32), panel, picture.shape)
    light, wide_open, floor, bottom = _emitted(wanted, behind, gain, panel)
    _track(light, panel)
    light *= uniformity_map(panel.uniformity, picture.shape)[..., None]
    out = panel.primaries.matrix_out().T.astype(np.float32)
    ceiling, low = curve.high[brightest] | gamut | wide_open, curve.low[brightest] | bottom
    return reference, Shown(light @ out, behind, wanted @ out, ceiling, low, floor)


def found(reference: Pixels, shown: Shown, viewer: Viewer) -> dict[str, float]:
    """Shares of the picture clipped, crushed, with a halo, and with fine detail lost."""
    fall = steps(reference.max(axis=-1)) - steps(shown.light.max(axis=-1))
    first, asked, last = (_luminance(each) for each in (reference, shown.asked, shown.light))
    was, now = steps(first), steps(last)
    crushed = (first > 0) & (np.abs(was - now) >= 1) & shown.bottom
    box = box_pixels(viewer, was.shape[0])
    before, after = (
        np.abs(each - uniform_filter(each, box, mode="nearest")) for each in (was, now)
    )
    return {
        "clipped.area": float((shown.ceiling & (fall >= 1)).mean()),
        "crushed.area": float(crushed.mean()),
        "detail.area": float(((before >= 1) & (after < 1) & (before - after >= ROUNDING)).mean()),
        "halo.area": halo(asked, last, shown.floor, viewer),
    }


def steps(light: Pixels) -> Pixels:
    """J: visible steps of light [cd/m²], float32, by the formula in place."""
    y = np.clip(light, 0, np.float32(PQ_PEAK)) * np.float32(1 / PQ_PEAK)
    np.power(y, np.float32(PQ_M1), out=y)
    lower = np.float32(PQ_C3) * y
    lower += 1
    y *= np.float32(PQ_C2)
    y += np.float32(PQ_C1)
    y /= lower
    np.power(y, np.float32(PQ_M2), out=y)
    y *= np.float32(ITP_SCALE)
    return y


def _luminance(light: Pixels) -> Pixels:
    return np.asarray(light @ WEIGHTS)


class _Tables(NamedTuple):
    """T(M)/M, and where the curve is flat above and below, over the signal of M."""

    scale: Pixels
    high: Mask
    low: Mask


@lru_cache(maxsize=4)
def _curve_tables(curve: Curve) -> _Tables:
    signal = np.linspace(0.0, 1.0, ENTRIES)
    light, flat = light_from_pq(signal), curve.slope(signal) < FLAT
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(light > 0, curve.light(light) / light, 0.0)
    upper = curve.signal(signal) >= curve.upper_side
    return _Tables(scale.astype(np.float32), flat & upper, flat & ~upper)


@lru_cache(maxsize=1)
def _pq_table() -> Pixels:
    return light_from_pq(np.linspace(0.0, 1.0, ENTRIES)).astype(np.float32)


def _doubled(plane: Pixels, picture: CodePicture) -> Pixels:
    """A chroma plane (⌈h/2⌉, ⌈w/2⌉) at every luma sample, where it is sited top left."""
    assert not siting_offsets(picture.encoding).any()
    height, width = picture.shape
    tall = np.empty((2 * plane.shape[0], plane.shape[1]), np.float32)
    tall[::2] = plane
    tall[1:-1:2] = (plane[:-1] + plane[1:]) * np.float32(0.5)
    tall[-1] = plane[-1]
    wide = np.empty((height, 2 * plane.shape[1]), np.float32)
    wide[:, ::2] = tall[:height]
    wide[:, 1:-1:2] = (tall[:height, :-1] + tall[:height, 1:]) * np.float32(0.5)
    wide[:, -1] = tall[:height, -1]
    return wide[:, :width]


def _emitted(
    wanted: Pixels, behind: Pixels, gain: float, panel: Panel
) -> tuple[Pixels, Mask, Mask, Mask]:
    """As in plain.py, without a division where the backlight is off."""
    kappa, leak = np.float32(panel.cell.compensation), np.float32(1 / panel.cell.contrast)
    known = (behind / np.float32(panel.limiter.unknown(gain))) ** kappa
    known *= np.float32(panel.open_cdm2) ** (1 - kappa)
    light = wanted / np.maximum(known, np.finfo(np.float32).tiny)[..., None]
    np.clip(light, leak, 1, out=light)
    light *= behind[..., None]
    least, least_max = wanted.min(axis=-1), wanted.max(axis=-1)
    floor = leak * known
    return light, least_max > known * (1 + NOISE), least <= floor, least_max <= floor


def _track(light: Pixels, panel: Panel) -> None:
    """Each channel times its share at its own level, in place."""
    tracking = panel.tracking
    levels = pq_from_light(tracking.level)
    for c, share in enumerate((tracking.red, tracking.green, tracking.blue)):
        signal = steps(light[..., c]) * np.float32(1 / ITP_SCALE)
        light[..., c] *= np.interp(signal, levels, share).astype(np.float32)
