"""One pixel on the card, from the codes of a frame to the light that is asked of the panel.

Every function here is compiled for one `Kind` of frame and panel: what a panel does not do costs
nothing. Arrays are flat; indices are 32 bits wide.
"""

# mypy: disable-error-code="no-untyped-def"

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
from numba import cuda  # noqa: F401  (the simulator looks for it among a kernel's names)

from emulate._kernels import row
from emulate.cuda.compiling import NEAR, device, physics

Z, U, F = np.int32, np.uint32, np.float32

RGB, YCBCR, LIGHT = 0, 1, 2  # what the planes hold
EXACT_FLAG = 255


class Kind(NamedTuple):
    """What is the same for every pixel, and so known when kernels are compiled.

    source: RGB, YCBCR or LIGHT. by_table: light of Y′CbCr comes from a table, not from PQ. halved
    (down, across): chroma. acts_on: of the tone curve, as `row`. recoloured: codes have other
    primaries than BT.2020. guessing, straying, uneven: as `row.Cell`. room: the screen reflects.
    step: pixels between points of the backlight's grid.
    """

    source: int
    by_table: int
    halved: tuple[int, int]
    acts_on: int
    recoloured: int
    guessing: int
    straying: int
    uneven: int
    room: int
    step: int


class Planes(NamedTuple):
    """The frame on the card: code planes uint16 (one number each for light), and light float32."""

    first: Any
    second: Any
    third: Any
    light: Any


class Reading(NamedTuple):
    """How codes become light, and light what is asked.

    size: height, width; rows and columns of chroma. up (8,): weights of the chroma samples around
    an even and an odd luma sample, down then across. mix (9,), base (3,), gamut (9,), into (9,):
    as `row.Source` and `row.Cell`. table: start, rise, start, … of light by 1/64 + signal. by_code:
    light, T(M)/M by whole code, and its flags. scales: start, rise, … of T(L)/L, start −1 where the
    curve itself is asked; flags by slice. edges, lights, offsets, sides: of the curve. weights
    (3,): BT.2020 luminance. ceiling: L_open; noise: share of it that is no cut.
    """

    size: Any
    up: Any
    mix: Any
    base: Any
    gamut: Any
    into: Any
    table: Any
    light_of_code: Any
    scale_of_code: Any
    flag_of_code: Any
    scales: Any
    flags: Any
    edges: Any
    lights: Any
    offsets: Any
    sides: Any
    weights: Any
    ceiling: Any
    noise: Any


_SIGNAL_BELOW, _SIGNAL_REST = Z(row.SIGNAL.below), U(row.SIGNAL.rest)
_SIGNAL_MASK = Z((1 << (row.SIGNAL.rest)) - 1)
_LIFT = F(row.LIFT)
_LIGHT_BELOW, _LIGHT_REST = Z(row.LIGHT.below), U(row.LIGHT.rest)
_LIGHT_MASK = Z((1 << (row.LIGHT.rest)) - 1)
_DIMMEST, _BRIGHTEST = F(2.0**row.LIGHT.low), F(2.0**14 * (1 - 2**-23))
_NEAR = NEAR


@device
def by_light(light, table):
    """A table of start and rise at a light."""
    held = min(max(light, _DIMMEST), _BRIGHTEST)
    bits = Z(F(held).view(Z) - _LIGHT_BELOW)
    at = U(U(bits) >> _LIGHT_REST) << U(1)
    return table[U(at)] + F(Z(bits & _LIGHT_MASK)) * table[U(at + U(1))]


@device
def _slice_of(light):
    held = min(max(light, _DIMMEST), _BRIGHTEST)
    return U(U(Z(F(held).view(Z) - _LIGHT_BELOW)) >> _LIGHT_REST)


@device
def _by_signal(signal, table):
    bits = Z(F(signal + _LIFT).view(Z) - _SIGNAL_BELOW)
    at = U(U(bits) >> _SIGNAL_REST) << U(1)
    return table[U(at)] + F(Z(bits & _SIGNAL_MASK)) * table[U(at + U(1))]


@device
def times(m, a, b, c):
    """A matrix (9,) times a, b, c."""
    return (
        m[0] * a + m[1] * b + m[2] * c,
        m[3] * a + m[4] * b + m[5] * c,
        m[6] * a + m[7] * b + m[8] * c,
    )


@lru_cache(maxsize=16)
def pixel_of(kind: Kind) -> SimpleNamespace:
    """fetched(y, x, planes, reading) -> i, j, k; reference(i, j, k, reading) -> r, g, b, code;
    asked(r, g, b, code, reading) -> p0, p1, p2, flags of the curve, cut."""
    fetched, reference = _reference_of(kind)
    return SimpleNamespace(fetched=fetched, reference=reference, asked=_asked_of(kind))


def _chroma_of(down: int, across: int) -> Any:
    """chroma(plane, y, x, reading): a chroma sample brought to the luma sample's place."""

    @device
    def line(plane, start, x, reading):
        if across:
            columns, up = reading.size[3], reading.up
            j = Z(x >> 1)
            if x & 1:
                after = min(Z(j + 1), Z(columns - 1))
                return up[6] * F(plane[U(start + j)]) + up[7] * F(plane[U(start + after)])
            before = max(Z(j - 1), Z(0))
            return up[4] * F(plane[U(start + before)]) + up[5] * F(plane[U(start + j)])
        return F(plane[U(start + x)])

    @device
    def chroma(plane, y, x, reading):
        columns = reading.size[3]
        if down:
            rows, up = reading.size[2], reading.up
            j = Z(y >> 1)
            if y & 1:
                after = min(Z(j + 1), Z(rows - 1))
                here = up[2] * line(plane, Z(j * columns), x, reading)
                return here + up[3] * line(plane, Z(after * columns), x, reading)
            before = max(Z(j - 1), Z(0))
            above = up[0] * line(plane, Z(before * columns), x, reading)
            return above + up[1] * line(plane, Z(j * columns), x, reading)
        return line(plane, Z(y * columns), x, reading)

    return chroma


def _reference_of(kind: Kind) -> tuple[Any, Any]:
    source, by_table, recoloured = kind.source, kind.by_table, kind.recoloured
    chroma = _chroma_of(*kind.halved)
    pq_light = physics().pq_light

    @device
    def light_of(signal, table):
        held = min(max(signal, 0.0), 1.0)
        if by_table:
            return _by_signal(held, table)
        return pq_light(held, _NEAR)

    @device
    def fetched(y, x, planes, reading):
        """What the planes hold of a pixel: codes, chroma brought to luma's place, or light."""
        at = U(Z(y * reading.size[1]) + x)
        if source == LIGHT:
            to = U(at * U(3))
            return planes.light[to], planes.light[U(to + 1)], planes.light[U(to + 2)]
        if source == RGB:
            return U(planes.first[at]), U(planes.second[at]), U(planes.third[at])
        return (
            F(planes.first[at]),
            chroma(planes.second, y, x, reading),
            chroma(planes.third, y, x, reading),
        )

    @device
    def reference(i, j, k, reading):
        """Reference light of what was fetched, and the largest code of R′G′B′."""
        code = U(0)
        if source == LIGHT:
            r, g, b = i, j, k
        elif source == RGB:
            code = max(max(i, j), k)
            table = reading.light_of_code
            r, g, b = table[i], table[j], table[k]
        else:
            base = reading.base
            r, g, b = times(reading.mix, i - base[0], j - base[1], k - base[2])
            r, g, b = (
                light_of(r, reading.table),
                light_of(g, reading.table),
                light_of(b, reading.table),
            )
        if recoloured:
            r, g, b = times(reading.gamut, r, g, b)
            r, g, b = max(r, 0.0), max(g, 0.0), max(b, 0.0)
        return r, g, b, code

    return fetched, reference


def _asked_of(kind: Kind) -> Any:
    acts_on = kind.acts_on
    coded = kind.source == RGB and not kind.recoloured and acts_on == row.BY_MAXIMUM
    toned = physics().toned

    @device
    def exactly(light, reading):
        return toned(light, reading.edges, reading.lights, reading.offsets, _NEAR, reading.sides)

    @device
    def scale_of(light, reading):
        at = U(_slice_of(light) << U(1))
        if reading.scales[at] < 0.0:
            if light <= 0.0:
                return F(0.0)
            value, _ = exactly(light, reading)
            return F(value / light)
        return by_light(light, reading.scales)

    @device
    def flag_of(light, reading):
        if light <= 0.0:
            return Z(0)
        flag = Z(reading.flags[_slice_of(light)])
        if flag == EXACT_FLAG:
            _, exact = exactly(light, reading)
            flag = Z(exact)
        return flag

    @device
    def asked(r, g, b, code, reading):
        """p0, p1, p2 [cd/m²], flags of the curve, and whether the panel's range cut something."""
        flag = Z(0)
        if coded:
            scale = reading.scale_of_code[code]
            flag = Z(reading.flag_of_code[code])
            r, g, b = r * scale, g * scale, b * scale
        elif acts_on == row.BY_CHANNEL:
            flag = Z(flag_of(r, reading) | flag_of(g, reading) | flag_of(b, reading))
            r, g, b = (
                r * scale_of(r, reading),
                g * scale_of(g, reading),
                b * scale_of(b, reading),
            )
        elif acts_on == row.BY_LUMINANCE:
            w = reading.weights
            key = w[0] * r + w[1] * g + w[2] * b
            scale, flag = scale_of(key, reading), flag_of(key, reading)
            r, g, b = r * scale, g * scale, b * scale
        else:
            key = max(max(r, g), b)
            scale, flag = scale_of(key, reading), flag_of(key, reading)
            r, g, b = r * scale, g * scale, b * scale
        most = max(max(abs(r), abs(g)), abs(b))
        p, q, s = times(reading.into, r, g, b)
        lowest, highest = min(min(p, q), s), max(max(p, q), s)
        top = reading.ceiling
        cut = lowest < -reading.noise * most or highest > top * (1.0 + reading.noise)
        return (
            min(max(p, 0.0), top),
            min(max(q, 0.0), top),
            min(max(s, 0.0), top),
            flag,
            cut,
        )

    return asked
