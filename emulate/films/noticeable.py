"""Noticeable: when two findings differ by more than an eye can miss and a fit can err. [ours]

Each unit has its own measure of the least difference that counts:

    steps       1 visible step (ITU-R BT.2124)
    cd/m²       lights one visible step or more apart
    degree      0.1°, the cell at which glare and halos are judged
    count       1
    share       of the picture's area: an area of one square degree as the viewer sees it, a little
                finger at arm's length; of light kept: what takes reference white (203 cd/m², ITU-R
                BT.2408) a visible step apart; of visible detail lost: one hundredth, and an area
                that counts as well

What tells how deep a loss is counts only where the loss covers a square degree in one of the two.
"""

from __future__ import annotations

from math import hypot

from emulate.findings.dimmed import SMALL_DEGREES
from emulate.findings.evidence import HIGHLIGHT, VISIBLE_STEPS
from emulate.findings.finding import Difference, Finding, Findings
from emulate.sight import CELL_DEGREES, Viewer, cell_pixels, steps_from_light

LEAST_DETAIL = 0.01  # of the visible detail [ours]
WORST = ".worst"  # ends the name of a film's worst frame
LIGHT_KEPT = (  # shares of light, not of area
    "dimmed.kept",
    "dimmed.highlights",
    "dimmed.limiter",
    "seat.light",
)
DEPTHS = {  # how deep or how far a loss is -> how much of the picture it covers
    "clipped.depth": "clipped.area",
    "crushed.depth": "crushed.area",
    "detail.depth": "detail.area",
    "halo.brightest": "halo.area",
    "halo.mean": "halo.area",
    "halo.strength": "halo.area",
    "halo.worst": "halo.area",
    "halo.reach": "halo.area",
    "dimmed.limiter.depth": "dimmed.limiter.area",
    "fluctuation.steps": "fluctuation.area",
    "lag.steps": "lag.area",
}


def least_area(viewer: Viewer, shape: tuple[int, int]) -> float:
    """Share of a picture of `shape` (rows, columns) that one square degree of it is, at most 1."""
    degree = cell_pixels(viewer, shape[0]) / CELL_DEGREES * SMALL_DEGREES
    return min(degree**2 / (shape[0] * shape[1]), 1.0)


def shows(change: Difference, first: Findings, second: Findings, area: float) -> bool:
    """Whether a difference of two findings counts; area: the share that one square degree is."""
    covers = _covers(change.name, first, second) >= area
    seen = _seen(change, first, second, area)
    return covers and seen and _sure(first[change.name], second[change.name])


def least_text(name: str, unit: str, area: float) -> str:
    """What difference of this finding counts, in words."""
    if unit == "share":
        return _share_text(name, area)
    return {
        "steps": "1 visible step",
        "cd/m²": "1 visible step",
        "degree": f"{CELL_DEGREES:g}°",
        "count": "1",
    }[unit]


def _covers(name: str, first: Findings, second: Findings) -> float:
    """Share of the picture that the loss of this name covers, the larger of two; 1 where it is no
    depth. A film's worst depth goes with its worst area."""
    for depth, where in DEPTHS.items():
        if name in (depth, f"{depth}{WORST}"):
            at = where + name.removeprefix(depth)
            return max(first[at].value, second[at].value)
    return 1.0


def _seen(change: Difference, first: Findings, second: Findings, area: float) -> bool:
    if change.unit == "share":
        return _share_seen(change, first, second, area)
    if change.unit == "cd/m²":
        return _apart(change.first, change.second) >= VISIBLE_STEPS
    least = {"steps": VISIBLE_STEPS, "degree": CELL_DEGREES, "count": 1.0}[change.unit]
    return abs(change.change) >= least * (1 - 1e-9)


def _share_seen(change: Difference, first: Findings, second: Findings, area: float) -> bool:
    if _plain(change.name) in LIGHT_KEPT:
        return _apart(HIGHLIGHT * change.first, HIGHLIGHT * change.second) >= VISIBLE_STEPS
    if change.name in first and _of_detail(change.name):
        where = change.name.replace(".lost", ".area")
        enough = abs(second[where].value - first[where].value) >= area
        return enough and abs(change.change) >= LEAST_DETAIL
    return abs(change.change) >= area


def _share_text(name: str, area: float) -> str:
    if _plain(name) in LIGHT_KEPT:
        return "1 visible step of reference white"
    if _of_detail(name):
        return f"1 % of the visible detail, on {area * 100:.2g} % of the picture"
    return f"{area * 100:.2g} % of the picture, 1 square degree"


def _apart(first: float, second: float) -> float:
    lower, upper = steps_from_light([first, second])
    return float(abs(upper - lower))


def _sure(first: Finding, second: Finding) -> bool:
    """Whether the values lie further apart than their 95 % intervals let independent ones lie.

    Of each the half width on the side of the other counts, and the two add as independent errors
    do; without an interval a value is taken as exact.
    """
    upper, lower = (first, second) if first.value > second.value else (second, first)
    down = upper.value - upper.interval[0] if upper.interval else 0.0
    up = lower.interval[1] - lower.value if lower.interval else 0.0
    return upper.value - lower.value > hypot(max(down, 0.0), max(up, 0.0))


def _plain(name: str) -> str:
    return name.removesuffix(WORST)


def _of_detail(name: str) -> bool:
    return name.startswith("detail.") and _plain(name).endswith(".lost")
