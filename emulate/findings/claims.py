"""Claims: findings of a frame with the interval that the panel's own uncertainty gives them.

Panels that the readings would allow as well are drawn from the panel's [fit], each is shown the
frame at a reduced size, and each finding is recomputed. The value stays that of the full size; the
interval is the middle 95 % of how the drawn panels differ from the fitted one, at the reduced size.
What the reduction does to the values themselves is measured, and printed as a caveat; where it
takes a value out of its interval, or nearly all drawn panels lie on one side of the value, its
sentence says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from emulate.errors import Caveat, RequestError
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import value_text, with_interval
from emulate.findings.headline import SPOKEN
from emulate.findings.measure import measure
from emulate.frames.frame import Frame
from emulate.panel.fit.draws import is_fitted, panels_like
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones
from emulate.rendering import render
from emulate.sight import Viewer
from emulate.values import Pixels

SAMPLES = 40  # panels drawn, ours: from 39 on their two outermost hold 95 of 100 between them
ROWS = 270  # of the reduced frame, ours: a quarter of 1080
MOST = 2.0  # how far a difference at the reduced size is stretched to the full one, ours
FEWEST = 0.9  # share of panels in which a finding must be determined to get an interval, ours
SAID = ("clipped.area", "crushed.area", "detail.lost", "halo.area")  # whose bias is printed
UNTOUCHED = "content"  # the frame's own, whatever the panel

Progress = Callable[[int, int], None]  # panels done, of how many


def measure_with_intervals(
    frame: Frame,
    panel: Panel,
    *,
    rng: np.random.Generator,
    samples: int = SAMPLES,
    rows: int = ROWS,
    policy: str | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    viewer: Viewer | None = None,
    findings: Findings | None = None,
    on_progress: Progress | None = None,
) -> Findings:
    """Findings of a frame on a fitted panel, each with its 95 % interval and a sentence of it.

    samples: panels drawn. rows: height of the reduced frame [px]; a frame no higher is taken whole.
    policy, angle, room_lux, viewer: as `render` and `measure` take them. findings: those of the
    frame at full size where they are known already. The same rng gives the same intervals. Raises
    RequestError for a panel without a [fit] and what `render` refuses, PanelError for a bad [fit].
    """
    from emulate._kernels.threads import on_one_thread

    _check(panel, samples, rows)
    view = {"policy": policy, "angle": angle, "room_lux": room_lux}

    def seen(shown: Frame, on: Panel) -> Findings:
        return measure(shown, render(shown, on, **view), viewer=viewer)  # type: ignore[arg-type]

    whole = seen(frame, panel) if findings is None else findings
    height = max(rows, panel.zones.rows if isinstance(panel.zones, Zones) else 1)
    small = reduced(frame, height)
    drawn = []
    with on_one_thread():
        fitted = seen(small, grained(panel, frame, small))
        for done, like in enumerate(panels_like(panel, rng, samples), 1):
            drawn.append(seen(small, grained(like, frame, small)))
            if on_progress:
                on_progress(done, samples)
    told = {
        name: with_interval(found, *_interval(name, whole, fitted, drawn))
        for name, found in whole.items()
    }
    doubts = (_how(samples), *_bias(whole, fitted, small, frame))
    return replace(whole, by_name=told, caveats=(*whole.caveats, *doubts))


def reduced(frame: Frame, rows: int) -> Frame:
    """The frame as means over areas of its pixels, `rows` high or as high as it is."""
    height, width = frame.shape
    if rows >= height:
        return frame
    columns = max(1, round(width * rows / height))
    light = _means(_means(frame.light, rows, 0), columns, 1)
    active = frame.active
    if active:
        down, across = rows / height, columns / width
        active = tuple(  # type: ignore[assignment]
            round(edge * share) for edge, share in zip(active, (down, down, across, across),
                                                       strict=True)
        )  # fmt: skip
    return Frame.from_light(
        light,
        frame.name,
        encoding=frame.encoding,
        metadata=frame.metadata,
        caveats=frame.caveats,
        time_s=frame.time_s,
        active=active,
    )


def _check(panel: Panel, samples: int, rows: int) -> None:
    if not is_fitted(panel):
        raise RequestError(
            f"{panel.name}: does not say how sure its numbers are; accepted is a panel that "
            "fit_panel made, with a table [fit]"
        )
    if not 39 <= samples <= 10000:
        raise RequestError(
            f"samples = {samples}: accepted is 39 to 10000, since fewer have no middle 95 %"
        )
    if rows < 90:
        raise RequestError(f"rows = {rows}: accepted is 90 or more")


def _means(light: Pixels, count: int, axis: int) -> Pixels:
    edges = np.arange(count) * light.shape[axis] // count
    sums = np.add.reduceat(light, edges, axis=axis, dtype=np.float64)
    sizes = np.diff(edges, append=light.shape[axis])
    shape = [1, 1, 1]
    shape[axis] = count
    return np.asarray(sums / sizes.reshape(shape), dtype=np.float32)


def grained(panel: Panel, frame: Frame, small: Frame) -> Panel:
    """The grain of the zones is of pixels, and pixels of a reduced frame are larger."""
    zones = panel.zones
    if not isinstance(zones, Zones):
        return panel
    grain = max(1, round(zones.grain_px * small.shape[0] / frame.shape[0]))
    return replace(panel, zones=replace(zones, grain_px=grain))


class _Interval(NamedTuple):
    """Where a finding lies in 95 of 100 panels, None where that is not the panel's affair; and what
    there is to say of how its value lies there."""

    ends: tuple[float, float] | None
    why: str = ""


def _interval(name: str, whole: Findings, fitted: Findings, drawn: Sequence[Findings]) -> _Interval:
    value, base = whole[name].value, fitted[name].value
    values = np.array([findings[name].value for findings in drawn])
    seen = values[np.isfinite(values)]
    known = np.isfinite(value) and np.isfinite(base) and seen.size >= FEWEST * len(drawn)
    if name.split(".")[0] == UNTOUCHED or not known:
        return _Interval(None)
    stretch = float(np.clip(value / base, 1 / MOST, MOST)) if base > 0 < value else 1.0
    low, high = np.quantile(seen - base, (0.025, 0.975), method="weibull") * stretch + value
    top = 1.0 if whole[name].unit == "share" and value <= 1 else np.inf
    ends = float(np.clip(low, 0.0, value)), float(np.clip(high, value, max(top, value)))
    return _Interval(ends, _why(whole[name], base, ends, (float(low), float(high))))


def _why(found: Finding, base: float, ends: tuple[float, float], drawn: tuple[float, float]) -> str:
    """What a reader of the value must know who sees its interval: base is the same finding on the
    reduced picture, drawn where the panels lie before the interval is made to hold the value."""
    value, text = found.value, value_text(found.value, found.unit)
    said = []
    if drawn[0] > value < ends[1]:
        said.append("nearly all panels drawn lie above it")
    if drawn[1] < value > ends[0]:
        said.append("nearly all panels drawn lie below it")
    small = value_text(base, found.unit)
    if not ends[0] <= base <= ends[1] and small != text:
        said.append(f"{small} on the smaller picture")
    return "; ".join(said)


def _how(samples: int) -> Caveat:
    text = (
        f"95 % of {samples} panels that the readings would allow as well; doubts of the model "
        "itself, and what was not measured, are not in them"
    )
    return Caveat("intervals", text)


def _bias(whole: Findings, fitted: Findings, small: Frame, frame: Frame) -> tuple[Caveat, ...]:
    """What the reduction alone does to the main findings."""
    if small.shape == frame.shape:
        return ()
    said = [
        f"{SPOKEN[name]} {value_text(fitted[name].value, fitted[name].unit)} there and "
        f"{value_text(whole[name].value, whole[name].unit)} at full size"
        for name in SAID
        if name in whole
    ]
    rows, columns = small.shape
    where = f"worked out on a smaller picture of {columns} × {rows} pixels"
    text = f"{where}; of the same panel {'; '.join(said)}"
    return (Caveat("intervals", text),)
