"""One stretch of a row, from what a file holds to what a cell lets by: loops that vectorise.

A stretch is at most `LONGEST` pixels and starts at a multiple of 16. What is known of it lies in
one flat float32 buffer, a slot of `SLOT` numbers for each quantity, so that the distance from one
quantity to another is a constant the compiler sees; each loop does one thing, and begins at 0 (an
index that might be negative is checked, pixel by pixel). The numbers are those of the plain recipe
(`tone`, `colour`, `cell`): here they are float32 and powers come from tables.

"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import sys
from typing import Any, NamedTuple

import numpy as np

from .compiling import inner, physics, woven
from .lookups import Slices, lookup

SLOT = 3856  # an odd number of cache lines: slots at a power of two would all want the same places
LONGEST = SLOT - 16
(
    R, G, B,  # reference light [cd/m²]
    P0, P1, P2,  # asked of the panel [cd/m²]
    E0, E1, E2,  # emitted [cd/m²]
    BEHIND, GAIN,  # B [cd/m²], and what the cell makes of light asked: B/B̂
    A0, A1, A2,  # where to look something up; whatever lives between two loops
    M,  # largest reference channel
    KEY,  # what the curve acts on
    YREF, YASKED, YOWN,  # luminances [cd/m²]
    JREF, JASKED, JOWN, JSEEN,  # and their visible steps
    LATER,  # B once the zones have come to where this frame calls them [cd/m²]
    POINTS, _,  # points of the backlight's grid, each as often as it has pixels
    ROOM,  # of a loop of its own
) = (i * SLOT for i in range(27))  # fmt: skip
SLOTS = 27

SIGNAL = Slices(-6, 10, 7, 1.0 + 2.0**-6)  # of 1/64 + signal 0..1: even steps near black
LIGHT = Slices(-16, 8, 30)  # of light [cd/m²], up to 2¹⁴
STEPS = Slices(-36, 8, 50, 10000.0)  # of light up to PQ's peak, for J: off by 5e-5 steps

LIFT = np.float32(2.0**SIGNAL.low)
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


_by_signal, by_light = lookup(SIGNAL), lookup(LIGHT)
_LIGHT_BELOW = np.int32(LIGHT.below)
_LIGHT_REST = _U(LIGHT.rest)
DIMMEST, BRIGHTEST = np.float32(2.0**LIGHT.low), np.float32(2.0**14 * (1 - 2**-23))


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


@inner
def _chroma_row(s, slot, count, plane, top, low, share, first, columns):
    """A slot's chroma columns first − 1 … of a row between two rows, its ends held."""
    left = np.float32(1.0) - share
    start = max(first - 1, 0)
    inside = min(first + count - 1, columns) - start
    shift = start - (first - 1)
    a, b = plane[top + start : top + start + inside], plane[low + start : low + start + inside]
    out = s[slot + shift : slot + shift + inside]
    for i in range(inside):
        out[i] = left * np.float32(a[i]) + share * np.float32(b[i])
    if shift:
        s[slot] = out[0]
    for i in range(slot + shift + inside, slot + count):
        s[i] = out[inside - 1]


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
        _chroma_row(s, E0, count, source.second, top, low, share, x0 // 2, columns)
        _chroma_row(s, E1, count, source.third, top, low, share, x0 // 2, columns)
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
            s[A0 + x], s[A1 + x], s[A2 + x] = first + LIFT, second + LIFT, third + LIFT
        _by_signal(s, A0, R, n, source.table)
        _by_signal(s, A1, G, n, source.table)
        _by_signal(s, A2, B, n, source.table)
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
        by_light(s, R, A0, n, tone.scales)
        by_light(s, G, A1, n, tone.scales)
        by_light(s, B, A2, n, tone.scales)
        for k in range(3):
            _answer_exactly(s, n, R + k * SLOT, A0 + k * SLOT, tone)
    elif tone.acts_on == BY_MAXIMUM:
        by_light(s, M, A0, n, tone.scales)
        _answer_exactly(s, n, M, A0, tone)
    else:
        for x in range(n):
            s[KEY + x] = weights[0] * s[R + x] + weights[1] * s[G + x] + weights[2] * s[B + x]
        by_light(s, KEY, A0, n, tone.scales)
        _answer_exactly(s, n, KEY, A0, tone)


def _matrix(first, second, third):
    """Loops over toned light, reference times the scales in three slots: into P0..P2; the same and
    why; and channel beside channel."""

    @inner
    def held(s, n, m, ceiling):
        zero = np.float32(0.0)
        for x in range(n):
            u, v, w = s[first + x] * s[R + x], s[second + x] * s[G + x], s[third + x] * s[B + x]
            p = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            q = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            r = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            s[P0 + x] = min(max(p, zero), ceiling)
            s[P1 + x] = min(max(q, zero), ceiling)
            s[P2 + x] = min(max(r, zero), ceiling)

    @inner
    def held_and_told(s, n, m, ceiling, noise, bit, why):
        zero, highest = np.float32(0.0), ceiling * (np.float32(1.0) + noise)
        gamut, none = np.int32(bit), np.int32(0)
        for x in range(n):
            u, v, w = s[first + x] * s[R + x], s[second + x] * s[G + x], s[third + x] * s[B + x]
            p = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            q = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            r = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            s[P0 + x] = min(max(p, zero), ceiling)
            s[P1 + x] = min(max(q, zero), ceiling)
            s[P2 + x] = min(max(r, zero), ceiling)
            lowest = -noise * max(abs(u), abs(v), abs(w))
            beyond = (min(p, q, r) < lowest) | (max(p, q, r) > highest)
            why[x] = gamut if beyond else none

    @inner
    def beside(s, n, m, ceiling, out):
        zero = np.float32(0.0)
        for x in range(n):
            u, v, w = s[first + x] * s[R + x], s[second + x] * s[G + x], s[third + x] * s[B + x]
            p = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w
            q = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w
            r = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w
            p, q, r = (
                min(max(p, zero), ceiling),
                min(max(q, zero), ceiling),
                min(max(r, zero), ceiling),
            )
            out[3 * x], out[3 * x + 1], out[3 * x + 2] = p, q, r
            s[YOWN + x] += max(p, q, r)

    return held, held_and_told, beside


_held_together, _told_together, _beside_together = _matrix(A0, A0, A0)
_held_apart, _told_apart, _beside_apart = _matrix(A0, A1, A2)


@woven
def asked(s, n, tone, cell, weights):
    """Slots P0..P2: what is asked of the panel; A0..A2 keep the scales of the curve."""
    _scales(s, n, tone, weights)
    if tone.acts_on == BY_CHANNEL:
        _held_apart(s, n, cell.into, cell.ceiling)
    else:
        _held_together(s, n, cell.into, cell.ceiling)


@woven
def asked_beside(s, n, tone, cell, weights, out):
    """The same into out (3·n,), channel beside channel; slot YOWN gains the largest."""
    _scales(s, n, tone, weights)
    if tone.acts_on == BY_CHANNEL:
        _beside_apart(s, n, cell.into, cell.ceiling, out)
    else:
        _beside_together(s, n, cell.into, cell.ceiling, out)


@woven
def asked_and_why(s, n, tone, cell, weights, bit, why):
    """The same, and why (n,): the curve's flags, and `bit` where a channel lost more than noise."""
    _scales(s, n, tone, weights)
    if tone.acts_on == BY_CHANNEL:
        _told_apart(s, n, cell.into, cell.ceiling, cell.noise, bit, why)
    else:
        _told_together(s, n, cell.into, cell.ceiling, cell.noise, bit, why)
    if _any_flag(s, n, tone.acts_on, tone.steep):
        _flags(s, n, tone, why)


@inner
def _flag(light, tone):
    """The curve's flag at one light."""
    if light <= np.float32(0.0):
        return np.int32(0)
    held = min(max(light, DIMMEST), BRIGHTEST)
    flag = tone.flags[_U(np.float32(held).view(np.int32) - _LIGHT_BELOW) >> _LIGHT_REST]
    if flag == 255:
        _, exact = _toned(
            np.float64(light), tone.edges, tone.lights, tone.offsets, tone.pq, tone.sides
        )
        flag = np.uint8(exact)
    return np.int32(flag)


@inner
def _any_flag(s, n, acts_on, steep):
    """Whether some light of the stretch lies where the curve may be flat; mostly none does."""
    low, high, flat = steep[0], steep[1], np.int32(0)
    first = R if acts_on == BY_CHANNEL else (KEY if acts_on == BY_LUMINANCE else M)
    for k in range(3 if acts_on == BY_CHANNEL else 1):
        lights = s[first + k * SLOT : first + k * SLOT + n]
        for x in range(n):
            light = lights[x]
            flat |= np.int32(light > high) | np.int32((light < low) & (light > np.float32(0.0)))
    return flat != 0


@inner
def _flags(s, n, tone, why):
    """why gains the flags of the curve for the light that it acts on."""
    low, high = tone.steep
    first = R if tone.acts_on == BY_CHANNEL else (KEY if tone.acts_on == BY_LUMINANCE else M)
    for k in range(3 if tone.acts_on == BY_CHANNEL else 1):
        for x in range(n):
            light = s[first + k * SLOT + x]
            if light > high or (light < low and light > np.float32(0.0)):
                why[x] |= _flag(light, tone)


@inner
def emitted(s, n, leak):
    """Slots E0..E2: what a cell lets by, no less than it leaks and no more than there is."""
    for x in range(n):
        light, gain = s[BEHIND + x], s[GAIN + x]
        least = leak * light
        s[E0 + x] = min(max(s[P0 + x] * gain, least), light)
        s[E1 + x] = min(max(s[P1 + x] * gain, least), light)
        s[E2 + x] = min(max(s[P2 + x] * gain, least), light)


@inner
def emitted_of(s, n, leak, asked):
    """The same of light asked (3·n,), channel beside channel."""
    for x in range(n):
        light, gain = s[BEHIND + x], s[GAIN + x]
        least = leak * light
        s[E0 + x] = min(max(asked[3 * x] * gain, least), light)
        s[E1 + x] = min(max(asked[3 * x + 1] * gain, least), light)
        s[E2 + x] = min(max(asked[3 * x + 2] * gain, least), light)


@inner
def emitted_and_why(s, n, leak, tolerance, bits, why):
    """The same; why gains the bits of too little light, cell fully open, floor in one channel and
    in all."""
    above, none = np.float32(1.0) + tolerance, np.int32(0)
    starved, wide_open = np.int32(bits[1]), np.int32(bits[2])
    floor, all_floor = np.int32(bits[3]), np.int32(bits[4])
    for x in range(n):
        light, gain = s[BEHIND + x], s[GAIN + x]
        p, q, r = s[P0 + x], s[P1 + x], s[P2 + x]
        least, most = leak * light, light * above
        u, v, w = p * gain, q * gain, r * gain
        s[E0 + x] = min(max(u, least), light)
        s[E1 + x] = min(max(v, least), light)
        s[E2 + x] = min(max(w, least), light)
        brightest = max(u, v, w)
        code = why[x] | (starved if max(p, q, r) > most else none)
        code |= wide_open if brightest > most else none
        code |= floor if min(u, v, w) <= least else none
        why[x] = code | (all_floor if brightest <= least else none)


@inner
def shares(s, n, straying, tracking):
    """Slots A0..A2: the share of each channel at its level, 1 where it does not stray."""
    if straying & 1:
        by_light(s, E0, A0, n, tracking[0])
    else:
        _ones(s, n, A0)
    if straying & 2:
        by_light(s, E1, A1, n, tracking[1])
    else:
        _ones(s, n, A1)
    if straying & 4:
        by_light(s, E2, A2, n, tracking[2])
    else:
        _ones(s, n, A2)


@inner
def _ones(s, n, slot):
    for x in range(n):
        s[slot + x] = np.float32(1.0)


@inner
def tinged(s, n, at, straying, tracking, uneven, uniformity):
    """Slots E0..E2 take each channel's share at its level, and the screen's unevenness; uses A0..2.

    at: the stretch's first pixel in the picture; the rest is of `Cell`.
    """
    row = uniformity[at : at + n] if uneven else uniformity[:0]
    if straying:
        shares(s, n, straying, tracking)
    if straying and uneven:
        for x in range(n):
            s[E0 + x] *= s[A0 + x] * row[x]
            s[E1 + x] *= s[A1 + x] * row[x]
            s[E2 + x] *= s[A2 + x] * row[x]
    elif straying:
        for x in range(n):
            s[E0 + x] *= s[A0 + x]
            s[E1 + x] *= s[A1 + x]
            s[E2 + x] *= s[A2 + x]
    elif uneven:
        for x in range(n):
            s[E0 + x] *= row[x]
            s[E1 + x] *= row[x]
            s[E2 + x] *= row[x]
