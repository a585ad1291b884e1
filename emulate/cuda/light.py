"""One pixel on the card, from the light asked of it to the light that leaves the screen."""

# mypy: disable-error-code="no-untyped-def"

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace
from typing import Any, NamedTuple

from numba import cuda  # noqa: F401  (the simulator looks for it among a kernel's names)

from emulate._kernels.row import MARGIN
from emulate.colorimetry import ITP_SCALE
from emulate.cuda.compiling import NEAR, device, physics
from emulate.cuda.pixel import F, Kind, U, Z, by_light
from emulate.panel.cause import Cause

_NEAR, _STEPS, _J_LOW = NEAR, F(ITP_SCALE), F(2.0**-40)
_ZONE, _WIDE_OPEN = Z(Cause.ZONE), Z(Cause.WIDE_OPEN)
_FLOOR, _ALL_FLOOR = Z(Cause.FLOOR), Z(Cause.ALL_FLOOR)


class Cells(NamedTuple):
    """What cells do of light: leak, tolerance, known_share, powers, red, green, blue (tracking),
    uniformity (h·w,): as `row.Cell`, tables as start, rise, …. grid, wide: of the backlight, and
    its points a row; weights (step·6,). out (9,): BT.2020 from emitted light as the viewer sees
    it; plain (9,): on the axis. reflected [cd/m²].
    """

    leak: Any
    tolerance: Any
    known_share: Any
    powers: Any
    red: Any
    green: Any
    blue: Any
    uniformity: Any
    grid: Any
    wide: Any
    weights: Any
    out: Any
    plain: Any
    reflected: Any


@device
def steps_of(light):
    """J: light on the scale of visible steps."""
    return _STEPS * _signal(max(light, _J_LOW), _NEAR)


_signal = physics().pq_signal


@lru_cache(maxsize=16)
def light_of(kind: Kind) -> SimpleNamespace:
    """across(x, line, cells): the grid's line at a column; behind(y, taps, cells): B there;
    emitted(p, q, s, lit, at, cells) -> e0, e1, e2, bits of Cause."""
    return SimpleNamespace(
        across=_across_of(kind.step), behind=_behind_of(kind.step), emitted=_emitted_of(kind)
    )


def _across_of(step: int) -> Any:
    shift, rest = Z(step.bit_length() - 1), Z(step - 1)

    @device
    def across(x, line, cells):
        """Six points of a line of the grid, weighted for column x."""
        j = Z(Z(x >> shift) + Z(MARGIN - 2))
        at, w = U(Z(line * cells.wide) + j), U(Z(x & rest) * Z(6))
        g, v = cells.grid, cells.weights
        near = v[U(w + 2)] * g[U(at + 2)] + v[U(w + 3)] * g[U(at + 3)]
        middle = v[U(w + 1)] * g[U(at + 1)] + v[U(w + 4)] * g[U(at + 4)]
        return near + middle + v[w] * g[at] + v[U(w + 5)] * g[U(at + 5)]

    return across


def _behind_of(step: int) -> Any:
    rest = Z(step - 1)

    @device
    def behind(y, h0, h1, h2, h3, h4, h5, cells):
        """B from the six lines around row y."""
        w, v = U(Z(y & rest) * Z(6)), cells.weights
        near = v[U(w + 2)] * h2 + v[U(w + 3)] * h3
        middle = v[U(w + 1)] * h1 + v[U(w + 4)] * h4
        return max(near + middle + v[w] * h0 + v[U(w + 5)] * h5, 0.0)

    return behind


def _emitted_of(kind: Kind) -> Any:
    guessing, straying, uneven = kind.guessing, kind.straying, kind.uneven

    @device
    def emitted(p, q, s, lit, at, cells):
        known = lit * cells.known_share
        if guessing:
            known = lit * by_light(lit, cells.powers)
        gain = lit / known if known > 0.0 else F(0.0)
        least = cells.leak * lit
        a = min(max(p * gain, least), lit)
        b = min(max(q * gain, least), lit)
        c = min(max(s * gain, least), lit)
        most, fewest = max(max(p, q), s), min(min(p, q), s)
        above = 1.0 + cells.tolerance
        closed = cells.leak * known
        why = _ZONE if most > lit * above else Z(0)
        why = Z(why | (_WIDE_OPEN if most > known * above else Z(0)))
        why = Z(why | (_FLOOR if fewest <= closed else Z(0)))
        why = Z(why | (_ALL_FLOOR if most <= closed else Z(0)))
        if straying:
            a *= by_light(a, cells.red)
            b *= by_light(b, cells.green)
            c *= by_light(c, cells.blue)
        if uneven:
            shade = cells.uniformity[at]
            a, b, c = a * shade, b * shade, c * shade
        return a, b, c, why

    return emitted
