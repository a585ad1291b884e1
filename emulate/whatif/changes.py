"""Changes: one thing of a panel made better by an amount, and everything else left as it is.

A steady change takes an amount, 1 for the panel as it is and rising; a switched one has a few
settings without an order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from emulate.findings.formatting import digits_text, light_text
from emulate.panel.panel import Panel
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.zones import SelfEmissive, Zones
from emulate.transfer import PQ_PEAK, light_from_pq, pq_from_light
from emulate.values import numbers

MOST_CONTRAST = 1e6  # above it no cell leaks what an eye could see [ours]
FINEST_ZONE_PX = 4  # of the picture that is searched: below it a zone is hardly more than a pixel
NARROWEST = 16.0  # times: a light that is spread so little stays in its zone [ours]
NAMES = ("zones", "optics", "contrast", "spread", "peak")
POLICIES = ("fixed:hard_clip", "fixed:bt2390", "by_metadata", "by_frame")


@dataclass(frozen=True)
class Change:
    """A change with an amount: `most` is as far as it is followed.

    name: in findings and files; words: in sentences; made(panel, amount): the changed panel;
    told(panel): what the panel then has, for a person.
    """

    name: str
    words: str
    most: float
    made: Callable[[Panel, float], Panel]
    told: Callable[[Panel], str]


def changes_of(panel: Panel, rows: int) -> tuple[Change, ...]:
    """The changes that this panel can have, searched on a picture of `rows` pixel rows."""
    changes = []
    zones = panel.zones
    if not isinstance(zones, SelfEmissive):
        finest = rows / FINEST_ZONE_PX / zones.rows
        if finest > 1:
            changes.append(Change("zones", "a finer zone grid", finest, with_zones, _zones_text))
            words = "a finer grid with matching optics"
            changes.append(Change("optics", words, finest, with_optics, _zones_text))
        if panel.cell.contrast < MOST_CONTRAST:
            most, words = MOST_CONTRAST / panel.cell.contrast, "more native contrast"
            changes.append(Change("contrast", words, most, with_contrast, _ratio_text))
        if panel.spread.sigma_h.any():
            words = "a narrower spread of light"
            changes.append(Change("spread", words, NARROWEST, with_spread, _spread_text))
    if panel.open_cdm2 < PQ_PEAK:
        most = PQ_PEAK / panel.open_cdm2
        changes.append(Change("peak", "more peak light", most, with_peak, _peak_text))
    return tuple(changes)


def with_zones(panel: Panel, amount: float) -> Panel:
    """`amount` times as many rows and columns of zones; the light of each spreads as before."""
    zones = panel.zones
    if not isinstance(zones, Zones):
        return panel
    rows, columns = (max(1, round(count * amount)) for count in (zones.rows, zones.columns))
    return replace(panel, zones=replace(zones, rows=rows, columns=columns))


def with_optics(panel: Panel, amount: float) -> Panel:
    """As `with_zones`, and the light of each zone spreads over as many zones as before."""
    return with_spread(with_zones(panel, amount), amount)


def with_contrast(panel: Panel, amount: float) -> Panel:
    """`amount` times the native contrast, at every angle."""
    cell = replace(panel.cell, contrast=panel.cell.contrast * amount)
    angles = replace(panel.angles, contrast=numbers(panel.angles.contrast * amount))
    return replace(panel, cell=cell, angles=angles)


def with_spread(panel: Panel, amount: float) -> Panel:
    """The light of each zone spread 1/`amount` as wide."""
    spread = replace(panel.spread, sigma_h=numbers(panel.spread.sigma_h / amount))
    return replace(panel, spread=spread)


def with_peak(panel: Panel, amount: float) -> Panel:
    """`amount` times the open light, each measured curve the same shape that much higher."""
    open_cdm2 = min(panel.open_cdm2 * amount, PQ_PEAK)
    curves = tuple(_raised(reading, amount) for reading in panel.tone.curves)
    tone = Tone(panel.tone.acts_on, panel.tone.policy, curves)
    return replace(panel, open_cdm2=open_cdm2, tone=tone)


def _raised(reading: ToneReading, amount: float) -> ToneReading:
    """T(L) → amount·T(L/amount): what is shown as mastered still is, and further up."""
    if amount == 1:
        return reading
    reference = light_from_pq(reading.signal) * amount
    inside = reference < PQ_PEAK
    signal = np.where(reading.signal == 0, 0.0, pq_from_light(reference))[inside]
    end = float(reading.curve().light(PQ_PEAK / amount))
    light = np.minimum(np.append(reading.light[inside], end) * amount, PQ_PEAK)
    return ToneReading(reading.mastering_peak, numbers(np.append(signal, 1.0)), numbers(light))


def _zones_text(panel: Panel) -> str:
    zones = panel.zones
    if isinstance(zones, SelfEmissive):
        return "no zones"
    return f"{zones.columns} × {zones.rows} = {zones.columns * zones.rows} zones"


def _ratio_text(panel: Panel) -> str:
    return f"{float(format(panel.cell.contrast, '.3g')):.0f}:1"


def _spread_text(panel: Panel) -> str:
    """Narrowest and widest of the Gaussians."""
    sigmas = panel.spread.sigma_h
    ends = dict.fromkeys((float(sigmas.min()), float(sigmas.max())))
    return f"σ {'–'.join(digits_text(end) for end in ends)} H"


def _peak_text(panel: Panel) -> str:
    return light_text(panel.open_cdm2)
