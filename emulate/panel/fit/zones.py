"""Zones: what kind of light source it is, and how many zones, from crawls and from black."""

from __future__ import annotations

from typing import Literal, NamedTuple

from emulate.errors import RequestError
from emulate.panel.fit.account import Account, Number, unknown
from emulate.panel.zones import SelfEmissive, Zones
from emulate.readings.crawl import AxisCount, count_zones
from emulate.readings.readings import Readings
from emulate.transfer import light_from_pq

Grid = tuple[int, int] | Literal["none"] | None  # columns, rows; "none": every pixel its own light
DARK = 0.001  # cd/m²: what a meter calls black, common practice, no source
FEWEST = 3  # black readings beside light that speak for a panel without zones, ours


class Counted(NamedTuple):
    """The light source, and whether its zones are known."""

    source: Zones | SelfEmissive
    known: bool


def fit_zones(readings: Readings, given: Grid = None) -> tuple[Counted, Account]:
    """Rows and columns of zones: given, or counted; none at all where black beside light is black.

    Raises RequestError for a grid that cannot be.
    """
    if given == "none":
        return Counted(SelfEmissive(), True), Account()
    if given is not None:
        return Counted(_grid(*given), True), Account()
    if _black_is_black(readings):
        return Counted(SelfEmissive(), True), Account()
    count = count_zones(readings)
    if count.columns is None or count.rows is None:
        missing = [w for w, axis in (("across", count.columns), ("down", count.rows)) if not axis]
        why = f"no box was seen to crawl {' and '.join(missing)}; zones=(columns, rows) gives them"
        return Counted(SelfEmissive(), False), unknown("zones", why)
    found = (_number("zones.rows", count.rows), _number("zones.columns", count.columns))
    source = Zones(count.rows.count, count.columns.count)
    return Counted(source, True), Account(found, doubts=count.caveats, measured=("crawl",))


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
