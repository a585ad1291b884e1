"""Fitting: a session with the meter in, a panel on file out, with how sure each number is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import Caveat, ReadingError
from emulate.panel.fit.account import Account, Number, unknown
from emulate.panel.fit.angles import fit_angles
from emulate.panel.fit.drift import steadied
from emulate.panel.fit.greys import whole_screen
from emulate.panel.fit.joint import UNSAID, SourceFit, Task, fit_source, fit_sources, groups_of
from emulate.panel.fit.looks import MOVED, Lamp
from emulate.panel.fit.looks import Tone as Turned
from emulate.panel.fit.mosaic import Mosaic
from emulate.panel.fit.noise import Noise, noise_of
from emulate.panel.fit.pace import fit_pace
from emulate.panel.fit.primaries import fit_primaries
from emulate.panel.fit.record import record
from emulate.panel.fit.source import lamp_from
from emulate.panel.fit.surface import fit_surface
from emulate.panel.fit.tone import fit_tone
from emulate.panel.fit.tracking import fit_tracking
from emulate.panel.fit.uniformity import fit_uniformity, uniformity_from_photograph
from emulate.panel.fit.zones import GIVEN, Counted, Grid, fit_zones
from emulate.panel.panel import Panel
from emulate.panel.tone import Tone
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones
from emulate.readings.readings import Readings
from emulate.values import Value

COMPENSATION = "cell.compensation"
NEVER_ASKED = ("zones.cut", "zones.floor", "zones.grain_px", COMPENSATION, "limiter.acts")


@dataclass(frozen=True, eq=False)
class Fit(Value):
    """A fitted panel and where the fit of its light source ended: a start for nearly the same."""

    panel: Panel
    source: SourceFit


def fit_panel(
    readings: Readings,
    *,
    name: str = "",
    zones: Grid = None,
    noise: float | None = None,
    photograph: ArrayLike | None = None,
    notes: str = "",
) -> Panel:
    """The panel that a session with the meter tells of (physics §10).

    Each effect is fitted with the model that renders it; what was not read, or what the readings
    do not determine, stays an identity: `Panel.caveats` and `Panel.fit["undetermined"]` say so.
    Panel.fit keeps the readings' digest, the noise, a 95 % interval for each number by key path,
    and the covariance of those that were fitted together.

    zones: (columns, rows), "none" for a panel whose pixels are their own light, None = counted from
    the crawl. noise: relative, of one look; None = from repeats, 2 % if there are none.
    photograph: of a grey slide that fills it, linear light (h, w) or (h, w, 3), in place of a grid
    of readings. Raises ReadingError without any reading, RequestError for what cannot be.
    """
    return fitted(readings, name, zones, noise, photograph, notes).panel


def fitted(
    readings: Readings,
    name: str = "",
    zones: Grid = None,
    noise: float | None = None,
    photograph: ArrayLike | None = None,
    notes: str = "",
    start: SourceFit | None = None,
) -> Fit:
    """`fit_panel`, with the state its light source ended in; `start`: where to begin instead."""
    if not any(reading.luminance > 0 for reading in readings):
        raise ReadingError("no reading of light to fit a panel to; accepted is one or more")
    steady, drifted = steadied(readings)
    meter = noise_of(steady, noise)
    uniformity, account = _uniformity(steady, meter, photograph)
    counted, told = fit_zones(steady, zones)
    account += told
    source, tone, told = _source_and_tone(steady, meter, counted, uniformity, start)
    account += told
    panel, told = _rest(steady, meter, source, tone)
    account += told + _never_asked(panel, steady)
    account = Account(doubts=(*readings.caveats, *drifted, *_assumed(meter))) + account
    panel = replace(
        panel,
        name=name or readings.panel or "measured panel",
        notes=notes,
        uniformity=uniformity,
        fit=record(readings, meter, account, _scatter(source)),
    )
    return Fit(_on_file(panel), source)


def _uniformity(
    readings: Readings, noise: Noise, photograph: ArrayLike | None
) -> tuple[Uniformity, Account]:
    if photograph is None:
        return fit_uniformity(readings, noise)
    return uniformity_from_photograph(photograph), Account(measured=("photograph",))


def _source_and_tone(
    readings: Readings,
    noise: Noise,
    counted: Counted,
    uniformity: Uniformity,
    start: SourceFit | None,
) -> tuple[SourceFit, Tone, Account]:
    """Twice: greys among the windows need the curve, and the curve needs the light source."""
    groups, begin = groups_of(readings), start.solution if start else None
    first = Task(groups, noise, SelfEmissive(), uniformity, None, begin)
    source = fit_sources(first, counted.candidates)
    grids = _chosen(source, counted)
    source = source or fit_source(first)
    tone, _ = fit_tone(readings, noise, source.lamp)
    again = replace(first, source=source.lamp.source, tone=turned_by(tone), start=source.solution)
    source = fit_source(again) if source.solution else source
    tone, told = fit_tone(readings, noise, source.lamp, tuple(moved_lamps(source)))
    return source, tone, grids + source.account + told


def _chosen(source: SourceFit | None, counted: Counted) -> Account:
    """What is said where several grids of zones were tried."""
    if len(counted.candidates) <= 1:
        return Account()
    grids = [f"{z.columns} × {z.rows}" for z in counted.candidates if isinstance(z, Zones)]
    among = f"the crawl allows {', '.join(grids)} zones"
    if source is None:
        return unknown("zones", f"{among}, and the other readings do not choose; {GIVEN}")
    zones = source.lamp.source
    assert isinstance(zones, Zones)
    text = f"{among}; windows, spill and contrast are explained by {zones.columns} × {zones.rows}"
    return Account(
        (Number("zones.rows", zones.rows, zones.rows, zones.rows),
         Number("zones.columns", zones.columns, zones.columns, zones.columns)),
        doubts=(Caveat("zones", text),),
    )  # fmt: skip


def _rest(readings: Readings, noise: Noise, source: SourceFit, tone: Tone) -> tuple[Panel, Account]:
    """Colour, time, angles and surface, each with the light source as it was found."""
    lamp = source.lamp
    primaries, account, unsure = fit_primaries(readings, lamp, tone)
    tracking, told = fit_tracking(readings, noise, primaries, unsure)
    account += told
    zones, limiter, told = fit_pace(readings, lamp)
    account += told
    angles, told = fit_angles(readings, noise, lamp.cell, _contrast_error(source))
    account += told
    surface, told = fit_surface(readings, noise)
    account += told
    panel = Panel(
        "",
        lamp.open_cdm2,
        tone=tone,
        primaries=primaries,
        tracking=tracking,
        zones=zones,
        spread=lamp.spread,
        limiter=limiter,
        cell=lamp.cell,
        angles=angles,
        surface=surface,
    )
    return panel, account


def turned_by(tone: Tone) -> Turned:
    """Turns a mosaic of reference light into asked light, by the curve for whatever content."""
    if not tone.curves:
        return lambda mosaic: mosaic
    curve = max(tone.curves, key=lambda reading: reading.mastering_peak or np.inf).curve()

    def turned(mosaic: Mosaic) -> Mosaic:
        top = mosaic.light.max(axis=-1)
        share = np.divide(curve.light(top), top, out=np.zeros_like(top), where=top > 0)
        return replace(mosaic, light=mosaic.light * share[..., None])

    return turned


def moved_lamps(source: SourceFit) -> Iterator[Lamp]:
    """The lamp MOVED standard errors along each direction in which it is unsure.

    So little that bounds need not be minded: what two numbers do together stays together.
    """
    solution = source.solution
    if solution is None:
        return
    size, axes = np.linalg.eigh(solution.scatter * solution.covariance)
    for variance, axis in zip(size, axes.T, strict=True):
        step = MOVED * np.sqrt(max(variance, 0.0)) * axis
        moved = {n: solution.values[n] + s for n, s in zip(solution.free, step, strict=True)}
        yield lamp_from({**solution.values, **moved}, source.lamp.source)


def _contrast_error(source: SourceFit) -> float:
    keys = source.account.together.keys
    if "cell.contrast" not in keys:
        return 0.0
    index = keys.index("cell.contrast")
    return float(np.sqrt(source.account.together.covariance[index, index]))


def _scatter(source: SourceFit) -> float:
    return source.solution.scatter if source.solution else 1.0


def _never_asked(panel: Panel, readings: Readings) -> Account:
    zoned = isinstance(panel.zones, Zones)
    keys = NEVER_ASKED if zoned else tuple(k for k in NEVER_ASKED if not k.startswith("zones"))
    told = whole_screen(panel, readings)
    reasons = dict.fromkeys(keys, UNSAID)
    return Account(undetermined=reasons | ({COMPENSATION: told} if told else {}))


def _assumed(noise: Noise) -> tuple[Caveat, ...]:
    if noise.how != "assumed":
        return ()
    text = f"too few repeats to tell: {noise.relative:.0%} of each reading is assumed"
    return (Caveat("noise", text),)


def _on_file(panel: Panel) -> Panel:
    """The panel as its file would be read: checked, its caveats those that a file carries."""
    from emulate.panel.file import checked

    return checked(panel)
