"""One stretch of a row, from what a file holds to what a cell lets by: loops that vectorise.

A stretch is at most `LONGEST` pixels and starts at a multiple of 16. What is known of it lies in
one flat float32 buffer, a slot of `SLOT` numbers for each quantity, so that the distance from one
quantity to another is a constant the compiler sees; each loop does one thing, and begins at 0 (an
index that might be negative is checked, pixel by pixel). The numbers are those of the plain recipe
(`tone`, `colour`, `cell`): here they are float32 and powers come from tables.

A table is an array of records (start, rise): a function over equal slices of every octave of
float32, `start` at the lower bound and `rise` a unit in the last place of the argument. A NaN says
that the function must be asked itself.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import sys
from typing import Any, NamedTuple

import numpy as np

from .compiling import inner, physics

SLOT = 784  # an odd number of cache lines: slots at a power of two would all want the same places
LONGEST = SLOT - 16
(
    R, G, B,  # reference light [cd/m²]
    P0, P1, P2,  # asked of the panel [cd/m²]
    E0, E1, E2,  # emitted [cd/m²]
    BEHIND, KNOWN,  # B and B̂ [cd/m²]
    A0, A1, A2,  # where to look something up; whatever lives between two loops
    M,  # largest reference channel
    KEY,  # what the curve acts on
    YREF, YASKED, YOWN,  # luminances [cd/m²]
    JREF, JASKED, JOWN, JSEEN,  # and their visible steps
    LATER,  # B once the zones have come to where this frame calls them [cd/m²]
    POINTS, _,  # points of the backlight's grid, each as often as it has pixels
) = (i * SLOT for i in range(26))  # fmt: skip
SLOTS = 26

SIGNAL_LOW, SIGNAL_SPLIT, SIGNAL_OCTAVES = -6, 10, 7  # of 1/64 + signal: even steps near black
LIGHT_LOW, LIGHT_SPLIT, LIGHT_OCTAVES = -16, 8, 30  # of light [cd/m²], up to 2¹⁴
STEPS_LOW, STEPS_SPLIT, STEPS_OCTAVES = -36, 8, 50  # of light, for J: off by 5e-5 steps

LIFT = np.float32(2.0**SIGNAL_LOW)
TAPS, MARGIN = 6, 4  # points of the backlight's grid that a pixel's B comes from; points before it
BY_MAXIMUM, BY_CHANNEL, BY_LUMINANCE, AS_IS = 0, 1, 2, 3

_U = np.uint32
_FIRST, _SECOND = (np.uint64(i) for i in ((0, 32) if sys.byteorder == "little" else (32, 0)))
_toned = physics.toned


class Source(NamedTuple):
    """Where reference light comes from: flat arrays, read-only; `coded` 0 for light itself.

    light: (h·w·3,) float32. first, second, third: code planes uint16, rows first_step and
    other_step apart; chroma (rows, columns), halved (down, across), up (2, 2, 2) weights of the
    samples around an even and an odd luma sample, down then across. mix (3, 3), base (3,): signal
    is mix·(codes − base). table: light by 1/64 + signal. gamut (3, 3) to BT.2020 if `recoloured`.
    """

    coded: int
    light: Any
    first: Any
    second: Any
    third: Any
    first_step: int
    other_step: int
    chroma: tuple[int, int]
    halved: tuple[int, int]
    up: Any
    mix: Any
    base: Any
    table: Any
    recoloured: int
    gamut: Any


class Tone(NamedTuple):
    """T(L)/L by light and its flags by slice, and the curve itself where the table has none.

    steep: from and to which light no slice has a flag.
    """

    acts_on: int
    steep: tuple[np.float32, np.float32]
    scales: Any
    flags: Any
    edges: Any
    lights: Any
    offsets: Any
    pq: Any
    sides: Any


class Cell(NamedTuple):
    """into (3, 3): panel channels from BT.2020. The rest as in `cell.open_cells`; all float32.

    powers: B̂/B by light where `guessing`; tracking: three tables q_c by light, straying: a bit
    for each channel that needs its table;
    uniformity: (h·w,) flat where `uneven`.
    """

    into: Any
    ceiling: np.float32
    noise: np.float32
    leak: np.float32
    tolerance: np.float32
    known_share: np.float32
    guessing: int
    powers: Any
    straying: int
    tracking: Any
    uneven: int
    uniformity: Any


class Lamps(NamedTuple):
    """B on every `step`th pixel and MARGIN such before the first: grid; weights (step, TAPS) of
    points around, and the same pixel by pixel: across (TAPS, SLOT)."""

    step: int
    grid: Any
    weights: Any
    across: Any


def _lookup(source, out, low, split):
    """A loop that fills slot `out` with a table at what slot `source` holds."""
    below = np.int32((127 + low) << 23)
    rest = _U(23 - split)
    mask = np.int32((1 << (23 - split)) - 1)

    @inner
    def loop(s, n, table):
        for x in range(n):
            bits = np.float32(s[source + x]).view(np.int32) - below
            entry = table[_U(bits) >> rest]
            s[out + x] = entry["start"] + np.float32(np.int32(bits & mask)) * entry["rise"]

    return loop


def _lookup_3(source, out, low, split):
    """The same for three slots from `source` on, into three from `out` on."""
    below = np.int32((127 + low) << 23)
    rest = _U(23 - split)
    mask = np.int32((1 << (23 - split)) - 1)

    @inner
    def loop(s, n, first, second, third):
        for x in range(n):
            bits = np.float32(s[source + x]).view(np.int32) - below
            entry = first[_U(bits) >> rest]
            s[out + x] = entry["start"] + np.float32(np.int32(bits & mask)) * entry["rise"]
            bits = np.float32(s[source + SLOT + x]).view(np.int32) - below
            entry = second[_U(bits) >> rest]
            s[out + SLOT + x] = entry["start"] + np.float32(np.int32(bits & mask)) * entry["rise"]
            bits = np.float32(s[source + 2 * SLOT + x]).view(np.int32) - below
            entry = third[_U(bits) >> rest]
            s[out + 2 * SLOT + x] = (
                entry["start"] + np.float32(np.int32(bits & mask)) * entry["rise"]
            )

    return loop


_lights = _lookup_3(A0, R, SIGNAL_LOW, SIGNAL_SPLIT)
_by_light = _lookup(A0, A0, LIGHT_LOW, LIGHT_SPLIT)
_by_light_3 = _lookup_3(A0, A0, LIGHT_LOW, LIGHT_SPLIT)
_LIGHT_BELOW = np.int32((127 + LIGHT_LOW) << 23)
_LIGHT_REST = _U(23 - LIGHT_SPLIT)
_DIMMEST, _BRIGHTEST = np.float32(2.0**LIGHT_LOW), np.float32(2.0**14 * (1 - 2**-23))


def _upsampled(chroma, out):
    """A loop that fills slot `out` from a chroma row, one sample of margin, in slot `chroma`.

    Both samples of a pair are stored as one number of 64 bits, so that stores stay side by side.
    """

    @inner
    def loop(s, n, even, odd):
        before, here, now, after = even[0], even[1], odd[0], odd[1]
        pairs = s.view(np.uint64)
        for j in range((n + 1) // 2):
            middle = s[chroma + j + 1]
            first = np.float32(before * s[chroma + j] + here * middle)
            second = np.float32(now * middle + after * s[chroma + j + 2])
            low, high = np.uint32(first.view(np.uint32)), np.uint32(second.view(np.uint32))
            pairs[out // 2 + j] = (np.uint64(low) << _FIRST) | (np.uint64(high) << _SECOND)

    return loop


_upsampled_second = _upsampled(E0, A1)
_upsampled_third = _upsampled(E1, A2)


def _chroma_row(out):
    """A loop that fills slot `out` with chroma columns first − 1 … of a row between two rows."""

    @inner
    def loop(s, count, plane, top, low, share, first, columns):
        left = np.float32(1.0) - share
        start = max(first - 1, 0)
        end = min(first + count - 1, columns)
        shift = start - (first - 1)
        a, b = plane[top + start : top + end], plane[low + start : low + end]
        for i in range(end - start):
            s[out + shift + i] = left * np.float32(a[i]) + share * np.float32(b[i])
        if shift:
            s[out] = s[out + 1]
        for i in range(shift + end - start, count):
            s[out + i] = s[out + i - 1]

    return loop


_second_row = _chroma_row(E0)
_third_row = _chroma_row(E1)


@inner
def _chroma_tap(y, halved, even, odd, rows):
    """The two chroma rows around luma row y and the share of the second."""
    if not halved:
        return y, y, np.float32(0.0)
    j = y // 2
    if y % 2:
        return j, min(j + 1, rows - 1), odd[1]
    return max(j - 1, 0), j, even[1]


@inner
def _codes(s, n, y, x0, source):
    """Slots A0..A2: codes of the stretch, chroma brought to luma's places."""
    at = y * source.first_step + x0
    plane = source.first[at : at + n]
    for x in range(n):
        s[A0 + x] = np.float32(plane[x])
    rows, columns = source.chroma
    down, across = source.halved
    top, low, share = _chroma_tap(y, down, source.up[0, 0], source.up[0, 1], rows)
    top, low = top * source.other_step, low * source.other_step
    if across:
        count = (n + 1) // 2 + 2
        _second_row(s, count, source.second, top, low, share, x0 // 2, columns)
        _third_row(s, count, source.third, top, low, share, x0 // 2, columns)
        _upsampled_second(s, n, source.up[1, 0], source.up[1, 1])
        _upsampled_third(s, n, source.up[1, 0], source.up[1, 1])
    else:
        left = np.float32(1.0) - share
        a, b = source.second[top + x0 : top + x0 + n], source.second[low + x0 : low + x0 + n]
        c, d = source.third[top + x0 : top + x0 + n], source.third[low + x0 : low + x0 + n]
        for x in range(n):
            s[A1 + x] = left * np.float32(a[x]) + share * np.float32(b[x])
            s[A2 + x] = left * np.float32(c[x]) + share * np.float32(d[x])


@inner
def reference(s, n, y, x0, width, source):
    """Slots R, G, B and M: the reference light of n pixels of row y from x0."""
    if source.coded:
        _codes(s, n, y, x0, source)
        m = source.mix
        a, b, c = source.base[0], source.base[1], source.base[2]
        for x in range(n):
            u, v, w = s[A0 + x] - a, s[A1 + x] - b, s[A2 + x] - c
            first = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            second = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            third = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            s[A0 + x] = min(max(first, np.float32(0.0)), np.float32(1.0)) + LIFT
            s[A1 + x] = min(max(second, np.float32(0.0)), np.float32(1.0)) + LIFT
            s[A2 + x] = min(max(third, np.float32(0.0)), np.float32(1.0)) + LIFT
        _lights(s, n, source.table, source.table, source.table)
        if source.recoloured:
            m = source.gamut
            for x in range(n):
                u, v, w = s[R + x], s[G + x], s[B + x]
                s[R + x] = max(m[0, 0] * u + m[0, 1] * v + m[0, 2] * w, np.float32(0.0))
                s[G + x] = max(m[1, 0] * u + m[1, 1] * v + m[1, 2] * w, np.float32(0.0))
                s[B + x] = max(m[2, 0] * u + m[2, 1] * v + m[2, 2] * w, np.float32(0.0))
    else:
        at = 3 * (y * width + x0)
        light = source.light[at : at + 3 * n]
        for x in range(n):
            s[R + x] = light[3 * x]
            s[G + x] = light[3 * x + 1]
            s[B + x] = light[3 * x + 2]
    for x in range(n):
        s[M + x] = max(s[R + x], s[G + x], s[B + x])


@inner
def _answer_exactly(s, n, key, scale, tone):
    """T(L)/L by the curve itself, L in slot `key`, where the table gave `scale` no answer."""
    unanswered = np.int32(0)
    for x in range(n):
        unanswered |= np.int32(s[scale + x] != s[scale + x])
    if unanswered:
        for x in range(n):
            if np.isnan(s[scale + x]):
                light = np.float64(s[key + x])
                value, _ = _toned(light, tone.edges, tone.lights, tone.offsets, tone.pq, tone.sides)
                s[scale + x] = value / light if light > 0.0 else 0.0


@inner
def _scales(s, n, tone, weights):
    """Slot A0, by channel A0..A2: T(L)/L; slot KEY: the luminance where the curve acts on it."""
    if tone.acts_on == AS_IS:
        for x in range(n):
            s[A0 + x] = np.float32(1.0)
    elif tone.acts_on == BY_CHANNEL:
        for x in range(n):
            s[A0 + x] = min(max(s[R + x], _DIMMEST), _BRIGHTEST)
            s[A1 + x] = min(max(s[G + x], _DIMMEST), _BRIGHTEST)
            s[A2 + x] = min(max(s[B + x], _DIMMEST), _BRIGHTEST)
        _by_light_3(s, n, tone.scales, tone.scales, tone.scales)
        for k in range(3):
            _answer_exactly(s, n, R + k * SLOT, A0 + k * SLOT, tone)
    elif tone.acts_on == BY_MAXIMUM:
        for x in range(n):
            s[A0 + x] = min(max(s[M + x], _DIMMEST), _BRIGHTEST)
        _by_light(s, n, tone.scales)
        _answer_exactly(s, n, M, A0, tone)
    else:
        for x in range(n):
            light = weights[0] * s[R + x] + weights[1] * s[G + x] + weights[2] * s[B + x]
            s[KEY + x] = light
            s[A0 + x] = min(max(light, _DIMMEST), _BRIGHTEST)
        _by_light(s, n, tone.scales)
        _answer_exactly(s, n, KEY, A0, tone)


def _matrix(first, second, third):
    """Two loops over toned light, reference times the scales in three slots: P0..P2, and why."""

    @inner
    def held(s, n, cell):
        m, ceiling, zero = cell.into, cell.ceiling, np.float32(0.0)
        for x in range(n):
            u, v, w = s[first + x] * s[R + x], s[second + x] * s[G + x], s[third + x] * s[B + x]
            p = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            q = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            r = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            s[P0 + x] = min(max(p, zero), ceiling)
            s[P1 + x] = min(max(q, zero), ceiling)
            s[P2 + x] = min(max(r, zero), ceiling)

    @inner
    def cut(s, n, cell, bit, why):
        m, noise = cell.into, cell.noise
        highest = cell.ceiling * (np.float32(1.0) + noise)
        for x in range(n):
            u, v, w = s[first + x] * s[R + x], s[second + x] * s[G + x], s[third + x] * s[B + x]
            p = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            q = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            r = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            lowest = -noise * max(abs(u), abs(v), abs(w))
            beyond = min(p, q, r) < lowest or max(p, q, r) > highest
            why[x] |= bit if beyond else np.uint8(0)

    return held, cut


_held_together, _cut_together = _matrix(A0, A0, A0)
_held_apart, _cut_apart = _matrix(A0, A1, A2)


@inner
def asked(s, n, tone, cell, weights):
    """Slots P0..P2: what is asked of the panel; A0..A2 keep the scales of the curve."""
    _scales(s, n, tone, weights)
    if tone.acts_on == BY_CHANNEL:
        _held_apart(s, n, cell)
    else:
        _held_together(s, n, cell)


@inner
def _flag(light, tone):
    """The curve's flag at one light."""
    if light <= np.float32(0.0):
        return np.uint8(0)
    held = min(max(light, _DIMMEST), _BRIGHTEST)
    flag = tone.flags[_U(np.float32(held).view(np.int32) - _LIGHT_BELOW) >> _LIGHT_REST]
    if flag == 255:
        _, exact = _toned(
            np.float64(light), tone.edges, tone.lights, tone.offsets, tone.pq, tone.sides
        )
        flag = np.uint8(exact)
    return flag


@inner
def _flags_of(s, n, slot, tone, why):
    """why gains the flags of the curve for the light in a slot; most stretches have none."""
    low, high = tone.steep
    flat = np.int32(0)
    for x in range(n):
        light = s[slot + x]
        flat |= np.int32(light > high) | np.int32(light < low and light > np.float32(0.0))
    if flat:
        for x in range(n):
            light = s[slot + x]
            if light > high or (light < low and light > np.float32(0.0)):
                why[x] |= _flag(light, tone)


@inner
def flags_of_tone(s, n, tone, why):
    """why (n,) uint8: the flags of the curve, after `asked`."""
    for x in range(n):
        why[x] = 0
    if tone.acts_on == BY_CHANNEL:
        for k in range(3):
            _flags_of(s, n, R + k * SLOT, tone, why)
    elif tone.acts_on == BY_LUMINANCE:
        _flags_of(s, n, KEY, tone, why)
    else:
        _flags_of(s, n, M, tone, why)


@inner
def flags_of_gamut(s, n, tone, cell, bit, why):
    """why gains `bit` where `asked` cut more than noise off a channel; before A0..A2 change."""
    if tone.acts_on == BY_CHANNEL:
        _cut_apart(s, n, cell, bit, why)
    else:
        _cut_together(s, n, cell, bit, why)


@inner
def _blended(s, n, rows, w):
    """Slot A0: six rows (6, n) of a grid, weighted."""
    w0, w1, w2, w3, w4, w5 = w[0], w[1], w[2], w[3], w[4], w[5]
    r0, r1, r2, r3, r4, r5 = rows[0], rows[1], rows[2], rows[3], rows[4], rows[5]
    for j in range(n):
        here = w0 * r0[j] + w1 * r1[j] + w2 * r2[j]
        s[A0 + j] = here + w3 * r3[j] + w4 * r4[j] + w5 * r5[j]


def _backlight(out):
    """A loop that fills slot `out` with B, quintic between the points of a grid; uses A0."""

    @inner
    def loop(s, n, y, x0, lamps):
        step, grid = lamps.step, lamps.grid
        if step == 1:
            row = grid[y, x0 : x0 + n]
            for x in range(n):
                s[out + x] = row[x]
            return
        i, w = y // step + MARGIN - 2, lamps.weights[y % step]
        first, count = x0 // step + MARGIN - 2, (n + step - 1) // step + TAPS - 1
        _blended(s, count, grid[i : i + TAPS, first : first + count], w)
        for j in range(count):
            point = s[A0 + j]
            here = s[POINTS + j * step : POINTS + (j + 1) * step]
            for x in range(step):
                here[x] = point
        points = s[POINTS : POINTS + SLOT + TAPS * step]
        p1, p2, p3 = points[step:], points[2 * step :], points[3 * step :]
        p4, p5, w = points[4 * step :], points[5 * step :], lamps.across
        w0, w1, w2, w3, w4, w5 = w[0], w[1], w[2], w[3], w[4], w[5]
        for x in range(n):
            here = w0[x] * points[x] + w1[x] * p1[x] + w2[x] * p2[x]
            here += w3[x] * p3[x] + w4[x] * p4[x] + w5[x] * p5[x]
            s[out + x] = max(here, np.float32(0.0))

    return loop


behind = _backlight(BEHIND)
later = _backlight(LATER)


@inner
def emitted(s, n, y, x0, width, cell):
    """Slots KNOWN and E0..E2: what the cell believes in, and what leaves the screen; uses A0."""
    share = cell.known_share
    if cell.guessing:
        for x in range(n):
            s[A0 + x] = min(max(s[BEHIND + x], _DIMMEST), _BRIGHTEST)
        _by_light(s, n, cell.powers)
        for x in range(n):
            s[KNOWN + x] = s[BEHIND + x] * s[A0 + x]
    else:
        for x in range(n):
            s[KNOWN + x] = s[BEHIND + x] * share
    leak = cell.leak
    for x in range(n):
        light, known = s[BEHIND + x], s[KNOWN + x]
        gain = light / known if known > np.float32(0.0) else np.float32(0.0)
        least = leak * light
        s[E0 + x] = min(max(s[P0 + x] * gain, least), light)
        s[E1 + x] = min(max(s[P1 + x] * gain, least), light)
        s[E2 + x] = min(max(s[P2 + x] * gain, least), light)
    if cell.straying & 1:
        for x in range(n):
            s[A0 + x] = min(max(s[E0 + x], _DIMMEST), _BRIGHTEST)
        _by_light(s, n, cell.tracking[0])
        for x in range(n):
            s[E0 + x] *= s[A0 + x]
    if cell.straying & 2:
        for x in range(n):
            s[A0 + x] = min(max(s[E1 + x], _DIMMEST), _BRIGHTEST)
        _by_light(s, n, cell.tracking[1])
        for x in range(n):
            s[E1 + x] *= s[A0 + x]
    if cell.straying & 4:
        for x in range(n):
            s[A0 + x] = min(max(s[E2 + x], _DIMMEST), _BRIGHTEST)
        _by_light(s, n, cell.tracking[2])
        for x in range(n):
            s[E2 + x] *= s[A0 + x]
    if cell.uneven:
        at = y * width + x0
        row = cell.uniformity[at : at + n]
        for x in range(n):
            s[E0 + x] *= row[x]
            s[E1 + x] *= row[x]
            s[E2 + x] *= row[x]


@inner
def flags_of_cell(s, n, cell, bits, why):
    """why gains the bits of too little light, cell fully open, floor in one channel and in all."""
    above, none = np.float32(1.0) + cell.tolerance, np.int32(0)
    starved, wide_open = np.int32(bits[0]), np.int32(bits[1])
    floor, all_floor = np.int32(bits[2]), np.int32(bits[3])
    for x in range(n):
        most = max(s[P0 + x], s[P1 + x], s[P2 + x])
        fewest = min(s[P0 + x], s[P1 + x], s[P2 + x])
        known = s[KNOWN + x]
        least = cell.leak * known
        code = np.int32(starved if most > s[BEHIND + x] * above else none)
        code = np.int32(code | (wide_open if most > known * above else none))
        code = np.int32(code | (floor if fewest <= least else none))
        code = np.int32(code | (all_floor if most <= least else none))
        why[x] = np.uint8(why[x] | code)
