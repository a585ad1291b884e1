"""Draws: panels that the readings would allow as well, drawn from what a fit knows of itself.

Numbers fitted together are drawn together, from their covariance on the scales on which they were
estimated; every other number with an interval is drawn on its own, as wide to either side as its
interval. Only along a tone curve do neighbours move together, since no set makes the kinks that
noise would put between readings a code apart. What a file does not accept is brought back to what
it does: gains never rise, weights sum to one, tone curves never fall.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from emulate.errors import PanelError
from emulate.panel.fit.account import SCALES, Together
from emulate.panel.panel import Panel
from emulate.panel.tone import tone_reading
from emulate.transfer import PQ_PEAK
from emulate.values import Numbers, numbers

TWO_SIDED = 1.959964  # standard errors from the middle of a normal 95 % interval to its end
COUNTED = ("zones.rows", "zones.columns")  # whole numbers: a count is right or wrong
SMOOTH = 0.03  # PQ signal over which the tone curve of a set is smooth, ours
SMALLEST_CONTRAST = 1.0001  # what a file accepts is above 1
PUREST = (
    1 - 1e-9
)  # x + y of a drawn primary: on the spectrum's straight side, and no rounding past it
Document = dict[str, Any]


class Alone(NamedTuple):
    """A number and the ends of its 95 % interval; `along`: its curve and signal there,
    where it is a reading of a tone curve."""

    key: str
    value: float
    low: float
    high: float
    along: tuple[int, float] | None = None


def is_fitted(panel: Panel) -> bool:
    """Whether a panel says how sure its numbers are."""
    return bool(_together(panel).keys or _alone(panel, ()))


def sure_numbers(panel: Panel) -> tuple[Alone, ...]:
    """Every number of a fitted panel with its 95 % interval, in the order of the fit."""
    return _alone(panel, ())


def panels_like(panel: Panel, rng: np.random.Generator, count: int) -> Iterator[Panel]:
    """`count` panels as likely as `panel` given its [fit]; none of them carries a [fit].

    Raises PanelError where [fit] does not say what a fit says.
    """
    from emulate.panel.file import document_from_panel, panel_from_document

    together = _together(panel)
    alone = _alone(panel, together.keys)
    bare = document_from_panel(replace(panel, fit={}))
    for _ in range(count):
        drawn = _drawn_together(together, rng) | _drawn_alone(alone, rng)
        document = _moved(bare, {k: v for k, v in drawn.items() if _holds(bare, k)})
        yield panel_from_document(_accepted(document, panel.open_cdm2), panel.name)


def _together(panel: Panel) -> Together:
    table = panel.fit.get("covariance", {})
    where = f"{panel.name}: fit.covariance"
    try:
        keys, scales = tuple(map(str, table.get("key", ()))), tuple(table.get("scale", ()))
        matrix = np.array(table.get("matrix", []), dtype=np.float64).reshape(len(keys), len(keys))
        if len(scales) != len(keys) or not set(scales) <= set(SCALES) or not _is_covariance(matrix):
            raise ValueError
    except (AttributeError, TypeError, ValueError):
        raise PanelError(
            f"{where} holds no covariance; accepted is key and scale ({', '.join(SCALES)}) of n "
            "entries and a symmetric n × n matrix, as a fit writes them"
        ) from None
    centre = [float(SCALES[s].there(_value(panel, k))) for k, s in zip(keys, scales, strict=True)]
    return Together(keys, scales, numbers(centre), matrix)


def _is_covariance(matrix: Numbers) -> bool:
    symmetric = np.isfinite(matrix).all() and np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-15)
    return bool(symmetric and (np.diag(matrix) >= 0).all())


def _alone(panel: Panel, joint: tuple[str, ...]) -> tuple[Alone, ...]:
    found = []
    for key, ends in panel.fit.get("interval", {}).items():
        if key in joint or key in COUNTED:
            continue
        try:
            low, high = (float(end) for end in ends)
        except (TypeError, ValueError):
            accepted = "accepted is its low and its high end"
            raise PanelError(f"{panel.name}: fit.interval.{key} = {ends!r}; {accepted}") from None
        if np.isfinite([low, high]).all() and low < high:
            found.append(Alone(key, _value(panel, key), low, high, _along(panel, key)))
    return tuple(found)


def _value(panel: Panel, key: str) -> float:
    """The number at a key path such as `tone.curve#1.light#3`."""
    from emulate.panel.file import document_from_panel

    document = document_from_panel(replace(panel, fit={}))
    if not _holds(document, key):
        raise PanelError(f"{panel.name}: [fit] tells of {key}, which the panel does not hold")
    table, last = _at(document, key)
    return float(table[last])


def _along(panel: Panel, key: str) -> tuple[int, float] | None:
    told = re.fullmatch(r"tone\.curve#(\d+)\.light#(\d+)", key)
    if told is None:
        return None
    curve, place = (int(digits) - 1 for digits in told.groups())
    return curve, float(panel.tone.curves[curve].signal[place])


def _drawn_together(together: Together, rng: np.random.Generator) -> dict[str, float]:
    if not together.keys:
        return {}
    size, axes = np.linalg.eigh(together.covariance)
    step = axes @ (np.sqrt(np.maximum(size, 0.0)) * rng.standard_normal(len(size)))
    moved = together.centre + step
    back = [float(SCALES[s].back(y)) for s, y in zip(together.scales, moved, strict=True)]
    return dict(zip(together.keys, back, strict=True))


def _drawn_alone(alone: tuple[Alone, ...], rng: np.random.Generator) -> dict[str, float]:
    """In the logarithm where the whole interval is above 0."""
    drawn = {}
    off = _smoothed(alone, rng.standard_normal(len(alone)))
    for each, z in zip(alone, off.tolist(), strict=True):
        share = abs(z) / TWO_SIDED
        end = each.high if z > 0 else each.low
        if each.low > 0 < each.value:
            drawn[each.key] = each.value * (end / each.value) ** share
        else:
            drawn[each.key] = each.value + share * (end - each.value)
    return drawn


def _smoothed(alone: tuple[Alone, ...], off: Numbers) -> Numbers:
    """Standard deviates (n,), those along one tone curve made alike where they are near."""
    smooth = off.copy()
    for curve in {each.along[0] for each in alone if each.along}:
        at = [n for n, each in enumerate(alone) if each.along and each.along[0] == curve]
        signal = np.array(
            [each.along[1] for each in alone if each.along and each.along[0] == curve]
        )
        weight = np.exp(-0.5 * ((signal[:, None] - signal) / SMOOTH) ** 2)
        smooth[at] = weight @ off[at] / np.sqrt((weight**2).sum(axis=1))
    return smooth


def _moved(document: Document, drawn: Mapping[str, float]) -> Document:
    moved: Document = _copied(document)
    for key, value in drawn.items():
        table, last = _at(moved, key)
        table[last] = value
    return moved


def _copied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copied(inner) for key, inner in value.items()}
    return [_copied(inner) for inner in value] if isinstance(value, list) else value


def _holds(document: Document, key: str) -> bool:
    try:
        table, last = _at(document, key)
        return isinstance(table[last], int | float)
    except (KeyError, IndexError, TypeError, ValueError):
        return False


def _at(document: Document, key: str) -> tuple[Any, Any]:
    """The table or list that holds a key path's number, and its place in there."""
    steps: list[Any] = []
    for part in key.split("."):
        name, *places = part.split("#")
        steps += [name, *(int(place) - 1 for place in places)]
    table: Any = document
    for step in steps[:-1]:
        table = table[step]
    return table, steps[-1]


def _accepted(document: Document, opened: float) -> Document:
    """A drawn document brought to what a file accepts."""
    light = document["light"]
    light["open_cdm2"] = float(np.clip(light["open_cdm2"], 1e-3, PQ_PEAK))
    for curve in document.get("tone", {}).get("curve", []):
        curve["light"] = _rising(curve, light["open_cdm2"] / opened, opened)
    for name, xy in document.get("primaries", {}).items():
        if sum(xy) > PUREST:
            document["primaries"][name] = (PUREST * np.array(xy) / sum(xy)).tolist()
    _clip(document, "zones", ("peak_weight", "reach"), 0.0, 1.0)
    _clip(document, "cell", ("contrast",), SMALLEST_CONTRAST, 1e9)
    _clip(document, "angles", ("contrast",), SMALLEST_CONTRAST, 1e9)
    _clip(document, "surface", ("reflectance",), 0.0, 1.0)
    if "spread" in document:
        weight = np.array(document["spread"]["weight"])
        document["spread"]["weight"] = (weight / weight.sum()).tolist()
    if "limiter" in document:
        gain = np.minimum.accumulate(np.minimum(document["limiter"]["gain"], 1.0))
        document["limiter"]["gain"] = gain.tolist()
    return document


def _rising(curve: Document, stretch: float, opened: float) -> list[float]:
    """Light that never falls; where the curve stood at full light it moves with it."""
    light = np.clip(curve["light"], 0.0, PQ_PEAK)
    light = np.where(light == opened, np.minimum(light * stretch, PQ_PEAK), light)
    ordered = tone_reading(curve["signal"], light)[0].light
    rising: list[float] = np.maximum.accumulate(ordered).tolist()
    return rising


def _clip(document: Document, name: str, keys: tuple[str, ...], low: float, high: float) -> None:
    table = document.get(name, {})
    for key in keys:
        if key in table:
            table[key] = np.clip(table[key], low, high).tolist()
