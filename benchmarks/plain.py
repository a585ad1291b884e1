"""The recipe and the findings of luminance as one writes them first: float64 arrays, one equation
after another, PQ by colour-science, boxes by scipy. What our speed is measured against.

Covers what the benchmark's panel has: a measured curve on max RGB, primaries, tracking, zones
settled, spread, a limiter that dims, cell, uniformity, a dark room. Things as small as the lattice
of zones or of 0.1° cells cost nothing either way and are taken from emulate.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import map_coordinates, uniform_filter

from emulate.colorimetry import ITP_SCALE
from emulate.frames.decode import code_base, luma_steps, siting_offsets, unmixing
from emulate.frames.frame import CodePicture
from emulate.panel.panel import Panel
from emulate.panel.spread import shares
from emulate.panel.uniformity import uniformity_map
from emulate.panel.zones import Statistics, Zones, zone_edges
from emulate.sight import Viewer, box_pixels, cell_means, steps_from_light, veiled
from emulate.transfer import LUMINANCE_2020, PQ_PEAK

Image = NDArray[np.floating[Any]]
Mask = NDArray[np.bool]

FLAT = 0.05  # physics §9: a curve whose slope on the PQ scale is less has run flat
NOISE = 1e-5  # share of light that counts as rounding, as the recipe has it
ROUNDING = 0.01  # steps: a change of contrast by less is none, as the findings have it


class Shown(NamedTuple):
    """light, asked (h, w, 3) and backlight (h, w) [cd/m²]; pixels at a ceiling, on a floor in every
    channel or with the curve flat, on the cell's floor in some channel."""

    light: Image
    backlight: Image
    asked: Image
    ceiling: Mask
    bottom: Mask
    floor: Mask


def light_of(picture: CodePicture) -> Image:
    """Light (h, w, 3) [cd/m²] of 10-bit PQ Y′CbCr 4:2:0 planes."""
    from colour.models import eotf_ST2084

    height, width = picture.shape
    down, across = siting_offsets(picture.encoding)
    at = np.meshgrid((np.arange(height) - down) / 2, (np.arange(width) - across) / 2, indexing="ij")
    chroma = [
        map_coordinates(plane.astype(np.float64), at, order=1, mode="nearest")
        for plane in (picture.second, picture.third)
    ]
    codes = np.stack([picture.first.astype(np.float64), *chroma], axis=-1)
    signal = (codes - code_base(picture.encoding)) @ unmixing(picture.encoding).T
    return np.asarray(eotf_ST2084(np.clip(signal / luma_steps(picture.encoding), 0.0, 1.0)))


def rendered(picture: CodePicture, panel: Panel) -> tuple[Image, Shown]:
    """Reference light, and what the panel shows of it, settled, on axis, in the dark."""
    reference = light_of(picture)
    toned, high, low = _toned(reference, panel)
    raw = toned @ panel.primaries.matrix_in().T
    noise = NOISE * toned.max(axis=-1, keepdims=True)
    gamut = ((raw < -noise) | (raw > panel.open_cdm2 * (1 + NOISE))).any(axis=-1)
    wanted = np.clip(raw, 0.0, panel.open_cdm2)
    drive, gain = driven(seen_by_zones(wanted.max(axis=-1) / panel.open_cdm2, panel), panel)
    behind = backlight(gain * drive, panel, picture.shape)
    light, wide_open, floor, bottom = _emitted(wanted, behind, gain, panel)
    light = _tracked(light, panel) * uniformity_map(panel.uniformity, picture.shape)[..., None]
    out = panel.primaries.matrix_out().T
    shown = Shown(light @ out, behind, wanted @ out, high | gamut | wide_open, low | bottom, floor)
    return reference, shown


def found(reference: Image, shown: Shown, viewer: Viewer) -> dict[str, float]:
    """Shares of the picture clipped, crushed, with a halo, and with fine detail lost."""
    fall = steps(reference.max(axis=-1)) - steps(shown.light.max(axis=-1))
    luminance = [each @ LUMINANCE_2020 for each in (reference, shown.asked, shown.light)]
    was, _, now = levels = [steps(each) for each in luminance]
    crushed = (luminance[0] > 0) & (np.abs(was - now) >= 1) & shown.bottom
    return {
        "clipped.area": float((shown.ceiling & (fall >= 1)).mean()),
        "crushed.area": float(crushed.mean()),
        "detail.area": float(_lost(levels, box_pixels(viewer, was.shape[0])).mean()),
        "halo.area": halo(luminance[1], luminance[2], shown.floor, viewer),
    }


def steps(light: Image) -> Image:
    """J: visible steps of light [cd/m²]."""
    from colour.models import eotf_inverse_ST2084

    return ITP_SCALE * np.asarray(eotf_inverse_ST2084(np.clip(light, 0.0, PQ_PEAK)))


def seen_by_zones(share: Image, panel: Panel) -> Statistics:
    """Largest cell of grain and mean of each zone, of max p over L_open (h, w)."""
    assert isinstance(panel.zones, Zones)
    rows, columns = (
        zone_edges(count, extent)
        for count, extent in zip((panel.zones.rows, panel.zones.columns), share.shape, strict=True)
    )
    down, first_down = _grain(rows, panel.zones.grain_px)
    across, first_across = _grain(columns, panel.zones.grain_px)
    sums = np.add.reduceat(np.add.reduceat(share, down, axis=0), across, axis=1)
    extents = (np.diff(down, append=share.shape[0]), np.diff(across, append=share.shape[1]))
    grain = sums / np.outer(*extents)
    peak = np.maximum.reduceat(np.maximum.reduceat(grain, first_down, axis=0), first_across, axis=1)
    total = np.add.reduceat(np.add.reduceat(share, rows[:-1], axis=0), columns[:-1], axis=1)
    mean = total / np.outer(np.diff(rows), np.diff(columns))
    return Statistics(np.minimum(peak, 1.0), np.minimum(mean, 1.0))


def driven(seen: Statistics, panel: Panel) -> tuple[Image, float]:
    """Drive (rows, columns) and the limiter's gain, settled."""
    drive = panel.zones.called_for(seen)
    return drive, panel.limiter.target(panel.zones.load(seen, drive))


def backlight(drive: Image, panel: Panel, shape: tuple[int, int]) -> Image:
    """B (h, w) [cd/m²]: two matrix products for each Gaussian."""
    height, width = shape
    total = np.zeros(shape, drive.dtype)
    for weight, sigma in zip(panel.spread.weight, panel.spread.sigma_h.tolist(), strict=True):
        down = shares(drive.shape[0], height, height, sigma).astype(drive.dtype)
        across = shares(drive.shape[1], width, height, sigma).astype(drive.dtype)
        total += drive.dtype.type(weight * panel.open_cdm2) * (down.T @ drive @ across)
    return total


def halo(asked: Image, own: Image, floor: Mask, viewer: Viewer) -> float:
    """Share of cells where the lift on the floor adds a visible step through the eye's glare."""
    lift = cell_means(np.where(floor, np.maximum(own - asked, 0.0), 0.0), viewer)
    ground = cell_means(asked, viewer)
    glow = steps_from_light(veiled(ground + lift, viewer))
    return float((glow - steps_from_light(veiled(ground, viewer)) >= 1).mean())


def _toned(light: Image, panel: Panel) -> tuple[Image, Mask, Mask]:
    """Light after the curve on max RGB, and where the curve is flat: above, below."""
    from colour.models import eotf_inverse_ST2084, eotf_ST2084

    reading = panel.tone.curves[0]
    black = float(eotf_inverse_ST2084(0.0))
    ends = np.maximum(reading.signal, black), np.asarray(eotf_inverse_ST2084(reading.light))
    curve = PchipInterpolator(*ends)
    brightest = light.max(axis=-1)
    signal = np.clip(np.asarray(eotf_inverse_ST2084(brightest)), *ends[0][[0, -1]])
    value = curve(signal)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(brightest > 0, np.asarray(eotf_ST2084(value)) / brightest, 0.0)
    flat = curve.derivative()(signal) < FLAT
    upper = value > (ends[1][0] + ends[1][-1]) / 2
    return light * scale[..., None], flat & upper, flat & ~upper


def _grain(edges: NDArray[np.int64], step: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First pixel of each cell of grain, and the first cell of each zone."""
    cells = [np.arange(start, end, step) for start, end in pairwise(edges.tolist())]
    counts = [each.size for each in cells]
    return np.concatenate(cells), np.cumsum([0, *counts[:-1]])


def _emitted(
    wanted: Image, behind: Image, gain: float, panel: Panel
) -> tuple[Image, Mask, Mask, Mask]:
    """Light out of the cell; where it is wide open, on its floor in some, and in every channel."""
    kappa, leak = panel.cell.compensation, 1.0 / panel.cell.contrast
    known = (behind / panel.limiter.unknown(gain)) ** kappa * panel.open_cdm2 ** (1 - kappa)
    known = known[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        opening = np.where(known > 0, np.clip(wanted / known, leak, 1.0), 0.0)
    closed = wanted <= leak * known
    wide_open = (wanted > known * (1 + NOISE)).any(axis=-1)
    return opening * behind[..., None], wide_open, closed.any(axis=-1), closed.all(axis=-1)


def _tracked(light: Image, panel: Panel) -> Image:
    from colour.models import eotf_inverse_ST2084

    tracking = panel.tracking
    signal = np.asarray(eotf_inverse_ST2084(light))
    levels = np.asarray(eotf_inverse_ST2084(tracking.level))
    channels = (tracking.red, tracking.green, tracking.blue)
    read = [np.interp(signal[..., c], levels, share) for c, share in enumerate(channels)]
    return np.asarray(light * np.stack(read, axis=-1))


def _lost(levels: list[Image], box: int) -> Mask:
    """Where contrast of a step or more against its box falls below one."""
    before, _, after = (np.abs(each - uniform_filter(each, box, mode="nearest")) for each in levels)
    return (before >= 1) & (after < 1) & (before - after >= ROUNDING)
