"""Zones: what kind of light source it is, and how many zones, from crawls and from black."""

from __future__ import annotations

from typing import Literal, NamedTuple

from emulate.errors import RequestError
from emulate.panel.fit.account import Account, Number, unknown
from emulate.panel.zones import SelfEmissive, Zones
from emulate.readings.crawl import SURE, AxisCount, count_zones
from emulate.readings.readings import Readings
from emulate.transfer import light_from_pq

Grid = tuple[int, int] | Literal["none"] | None  # columns, rows; "none": every pixel its own light
DARK = 0.001  # cd/m²: what a meter calls black, common practice, no source
MOST = 8  # grids that are tried, ours
GIVEN = "--zones 20x12 (COLUMNSxROWS; zones=(columns, rows) in Python) gives them"
FEWEST = 3  # black readings beside light that speak for a panel without zones, ours


class Counted(NamedTuple):
    """What the light source may be, the likeliest first; empty where nothing tells."""

    candidates: tuple[Zones | SelfEmissive, ...]


def fit_zones(readings: Readings, given: Grid = None) -> tuple[Counted, Account]:
    """Rows and columns of zones: given, or counted; none at all where black beside light is black.

    A crawl that allows several counts gives several candidates. Raises RequestError for a grid that
    cannot be.
    """
    if given == "none":
        return Counted((SelfEmissive(),)), Account()
    if given is not None:
        return Counted((_grid(*given),)), Account()
    if _black_is_black(readings):
        return Counted((SelfEmissive(),)), Account()
    count = count_zones(readings)
    if count.columns is None or count.rows is None:
        missing = [w for w, axis in (("across", count.columns), ("down", count.rows)) if not axis]
        why = f"no box was seen to crawl {' and '.join(missing)}; {GIVEN}"
        return Counted(()), unknown("zones", why)
    found = (_number("zones.rows", count.rows), _number("zones.columns", count.columns))
    grids = _grids(count.rows, count.columns)
    return Counted(grids), Account(found, doubts=count.caveats, measured=("crawl",))


def _grids(rows: AxisCount, columns: AxisCount) -> tuple[Zones, ...]:
    """Every pair of counts that the crawls allow, the likeliest first, a handful at most."""
    pairs = {(r, c): share * other for r, share in _allowed(rows) for c, other in _allowed(columns)}
    likeliest = sorted(pairs, key=lambda pair: -pairs[pair])[:MOST]
    return tuple(Zones(r, c) for r, c in likeliest)


def _allowed(axis: AxisCount) -> list[tuple[int, float]]:
    """Counts with their weights; one alone where it stands alone."""
    sure = axis.confidence >= SURE
    return [(axis.count, axis.confidence), *([] if sure else axis.alternatives)]


def _grid(columns: int, rows: int) -> Zones:
    if not (1 <= columns <= 7680 and 1 <= rows <= 4320):
        raise RequestError(f"zones = {columns} × {rows}: accepted is 1 × 1 to 7680 × 4320")
    return Zones(int(rows), int(columns))


def _number(key: str, axis: AxisCount) -> Number:
    """A count with the counts that would fit too around it."""
    counts = [axis.count, *(other for other, _ in axis.alternatives)]
    return Number(key, axis.count, min(counts), max(counts))


def _black_is_black(readings: Readings) -> bool:
    """Whether no light was ever read where black was asked for beside white."""
    beside = [
        r.luminance
        for r in readings.of("spill", "checker")
        if r.room_lux == 0 and light_from_pq(max(r.stimulus.signal_at(r.spot))) == 0
    ]
    return len(beside) >= FEWEST and max(beside) <= DARK
