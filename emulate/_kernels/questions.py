"""What is found in a frame, in one pass: losses, detail, halos, colour and content levels.

The twin of `findings` and `fluctuation`, on the light of `passes`: same definitions, same codes.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from . import boxes, glow, lookups, passes, registers, row, totals
from .boxes import MAPS as MAPS
from .boxes import details_of_row, into_ring, running
from .compiling import inner, kernel_using, woven
from .lookups import lookup, one_of
from .passes import content, count_codes, total_of
from .row import (
    A0,
    A1,
    A2,
    BEHIND,
    E0,
    E1,
    E2,
    GAIN,
    JASKED,
    JOWN,
    JREF,
    JSEEN,
    LATER,
    P0,
    P1,
    P2,
    ROOM,
    SLOT,
    STEPS,
    YASKED,
    YOWN,
    YREF,
    B,
    G,
    M,
    R,
    by_light,
)  # fmt: skip

OFF_LOW, OFF_SPLIT, OFF_OCTAVES = -7, 11, 17  # histogram of ΔE_ITP: 5e-4 of it apart

_OFF_BELOW = np.int32((127 + OFF_LOW) << 23)
_OFF_REST = np.uint32(23 - OFF_SPLIT)
_LEAST_OFF = np.float32(2.0**OFF_LOW)
_ONE = np.float32(1.0)
_ZERO = np.float32(0.0)


class Ask(NamedTuple):
    """What the pass finds out, and where it writes it.

    out (3, 3), reflected, bits as in `Show`. asked_weights, own_weights (3,): luminance of p and of
    e. steps: table of J by light. unit: integers a step of J. reach: half the box [px]. bounds
    [cd/m²]: shadow, highlight. margin [steps]. cell_rows (n + 1,), cell_columns (m + 1,), tiles: as
    in `Look`. means (6, n, m): luminance asked, lift, own, of the reference, own if held, and own
    once the zones have arrived; where `moving` they have not, unknown and follows are as `gain` and
    `follows` of `glance_cells`, and powers are light to the power of `follows`. left: what the
    limiter leaves of the light. active: rows and columns. causes: bits of Cause (curve high, wide
    open, gamut, curve low, all floor, floor, floor or wide open). loss_codes (6,), detail_codes
    (6,): as `ceiling_codes`, `floor_codes` and `detail_codes` write them. black, dark: J of no
    light and of the room's. loss, detail (h·w,) uint8. starved (3, h·w): where the backlight clips,
    the light asked, what of it is there, and the steps that are short. counts (bands, 8, codes): of
    each code of loss in four parts, then of detail. tallies (h, 7): of each row, steps clipped,
    steps crushed, contrast lost, the light asked and kept in highlights, pixels that the limiter
    dims by a step, and the steps it takes there. brightest, level, everywhere (h,): see `content`.
    """

    out: Any
    reflected: np.float32
    bits: Any
    asked_weights: Any
    own_weights: Any
    steps: Any
    unit: np.float32
    reach: int
    bounds: tuple[float, float]
    margin: np.float32
    cell_rows: Any
    cell_columns: Any
    tiles: Any
    means: Any
    moving: int
    unknown: np.float32
    follows: np.float32
    powers: Any
    left: np.float32
    active: tuple[int, int, int, int]
    causes: Any
    loss_codes: Any
    detail_codes: Any
    black: np.float32
    dark: np.float32
    loss: Any
    starved: Any
    detail: Any
    counts: Any
    tallies: Any
    brightest: Any
    level: Any
    everywhere: Any


class Tint(NamedTuple):
    """Colour: lms, mix (3, 3), margin as in `findings.colour_steps`, and where it is written.

    tallies (h, 2, 3): of each row, sum of each difference, pixels over 1 and over 3. whole (h·w,)
    uint16: bits of half precision. The histograms are the scratch's.
    """

    wanted: int
    lms: Any
    mix: Any
    margin: np.float32
    darkest: np.float32
    tallies: Any
    whole: Any


_by_steps = lookup(STEPS)
_steps = one_of(STEPS)


@inner
def _luminances(s, n, weights, asked_weights, own_weights, steps, reflected):
    """Slots YREF, YASKED, YOWN and the four J."""
    a0, a1, a2 = asked_weights[0], asked_weights[1], asked_weights[2]
    o0, o1, o2 = own_weights[0], own_weights[1], own_weights[2]
    for x in range(n):
        reference = weights[0] * s[R + x] + weights[1] * s[G + x] + weights[2] * s[B + x]
        asked = a0 * s[P0 + x] + a1 * s[P1 + x] + a2 * s[P2 + x]
        own = max(o0 * s[E0 + x] + o1 * s[E1 + x] + o2 * s[E2 + x], _ZERO)
        s[YREF + x], s[YASKED + x], s[YOWN + x] = reference, asked, own
    _by_steps(s, YREF, JREF, n, steps)
    _by_steps(s, YASKED, JASKED, n, steps)
    _by_steps(s, YOWN, JOWN, n, steps)
    if reflected > _ZERO:
        for x in range(n):
            s[A0 + x] = s[YOWN + x] + reflected
        _by_steps(s, A0, JSEEN, n, steps)
    else:
        for x in range(n):
            s[JSEEN + x] = s[JOWN + x]


@inner
def _turned_down(s, n, first, last, limited, steps, tally):
    """What the limiter takes of pixels first..last, where that is a step or more; uses A0."""
    more = _ONE / limited
    for x in range(n):
        s[A0 + x] = s[YOWN + x] * more
    _by_steps(s, A0, A0, n, steps)
    for x in range(n):
        fallen = s[A0 + x] - s[JOWN + x]
        s[A0 + x] = fallen if fallen >= _ONE else _ZERO
    taken = s[A0 + first : A0 + last]
    shows = np.int32(0)
    for x in range(taken.shape[0]):
        shows += np.int32(taken[x] > _ZERO)
    tally[5] += shows
    tally[6] += total_of(taken, s[ROOM : ROOM + SLOT])


@inner
def _own_maximum(s, x, m):
    u, v, w = s[E0 + x], s[E1 + x], s[E2 + x]
    return max(
        m[0, 0] * u + m[0, 1] * v + m[0, 2] * w,
        m[1, 0] * u + m[1, 1] * v + m[1, 2] * w,
        m[2, 0] * u + m[2, 1] * v + m[2, 2] * w,
        _ZERO,
    )


@inner
def _crushed(s, n, why, causes, losses, reflected, black, dark, codes):
    """codes (n,): bits of `Loss` at a floor. Returns whether there are any."""
    low, all_floor = np.int32(causes[3]), np.int32(causes[4])
    by_curve, by_leak = np.int32(losses[3]), np.int32(losses[4])
    by_room, none, found = np.int32(losses[5]), np.int32(0), np.int32(0)
    for x in range(n):
        shows = (abs(s[JREF + x] - s[JOWN + x]) >= _ONE) & (s[YREF + x] > _ZERO)
        cause = why[x] if shows else none
        code = (by_curve if cause & low else none) | (by_leak if cause & all_floor else none)
        codes[x] = code
        found |= code
    if reflected > _ZERO:
        for x in range(n):
            own, seen = s[JOWN + x], s[JSEEN + x]
            drowned = (own - black >= _ONE) & (seen - dark < _ONE)
            off = (abs(s[JREF + x] - seen) >= _ONE) & (s[YREF + x] > _ZERO)
            at_floor = (why[x] & (low | all_floor)) != none
            room = off & (codes[x] == none) & (drowned | at_floor)
            codes[x] |= by_room if room else none
            found |= codes[x]
    return found != none


@inner
def _any_cause(n, why, ceilings):
    """Whether some pixel of a stretch has one of the causes of a ceiling."""
    suspect = np.int32(0)
    for x in range(n):
        suspect |= why[x]
    return suspect & ceilings != 0


@inner
def _ceilings(s, n, why, causes, losses, out, steps, codes):
    """codes gain bits of `Loss` at a ceiling, A1 the steps lost there. Whether there are any."""
    none, found = np.int32(0), False
    ceilings = np.int32(causes[0] | causes[1] | causes[2])
    for x in range(n):
        s[A1 + x] = _ZERO
        if why[x] & ceilings:
            own = _own_maximum(s, x, out)
            fallen = _steps(s[M + x], steps) - _steps(own, steps)
            if fallen >= _ONE:
                code = none
                for i in range(3):
                    code |= np.int32(losses[i]) if why[x] & causes[i] else none
                codes[x] |= code
                s[A1 + x] = fallen
                found = True
    return found


@woven
def _losses(s, n, y, x0, begin, end, width, band, why, ask, codes):
    """Row y of the loss map between begin and end, its counts and sums; uses A0, A1, codes (n,)."""
    crushed = _crushed(s, n, why, ask.causes, ask.loss_codes, ask.reflected, ask.black, ask.dark,
                       codes)  # fmt: skip
    clipped = False
    if _any_cause(n, why, np.int32(ask.causes[0] | ask.causes[1] | ask.causes[2])):
        clipped = _ceilings(s, n, why, ask.causes, ask.loss_codes, ask.out, ask.steps, codes)
    _written(codes[begin - x0 : end - x0], ask.loss[y * width + begin : y * width + end])
    if crushed or clipped:
        if clipped:
            _starved(s, y * width + x0, begin - x0, end - x0, codes, ask.loss_codes, ask.starved)
        top, bottom, left, right = ask.active
        first, last = max(left, begin) - x0, min(right, end) - x0
        if top <= y < bottom and first < last:
            _tally_losses(s, n, first, last, ask.counts[band], ask.tallies[y], ask.loss_codes,
                          codes, clipped)  # fmt: skip


@inner
def _written(codes, out):
    for x in range(codes.shape[0]):
        out[x] = codes[x]


@inner
def _starved(s, at, first, last, codes, losses, starved):
    """Light asked, what of it is there, and the steps short, where the backlight clips."""
    bit = np.int32(losses[1])
    for x in range(first, last):
        if codes[x] & bit:
            starved[0, at + x] = s[YASKED + x]
            starved[1, at + x] = min(s[YOWN + x], s[YASKED + x])
            starved[2, at + x] = max(s[JREF + x] - s[JOWN + x], _ZERO)


@inner
def _tally_losses(s, n, first, last, counts, tally, losses, codes, clipped):
    """Counts and sums of a row's codes inside the active picture; uses A0 and A1."""
    inside, room = codes[first:last], s[ROOM : ROOM + SLOT]
    count_codes(inside, counts[:4])
    if clipped:
        tally[0] += total_of(s[A1 + first : A1 + last], room)
    crushed = np.int32(losses[3] | losses[4] | losses[5])
    for x in range(n):
        off = abs(s[JREF + x] - s[JSEEN + x])
        s[A0 + x] = off if codes[x] & crushed else _ZERO
    tally[1] += total_of(s[A0 + first : A0 + last], room)


@inner
def _sum_of_cells(sums, x0, i, first, end, rows, columns, moving, means):
    """Means of cell row i of a tile from its column sums (6, SLOT), which go back to 0."""
    height = rows[i + 1] - rows[i]
    kinds = sums.shape[0] if moving else sums.shape[0] - 1
    for j in range(first, end):
        left, right = columns[j] - x0, columns[j + 1] - x0
        for k in range(kinds):
            total = _ZERO
            for x in range(left, right):
                total += sums[k, x]
            means[k, i, j] = total / np.float32(height * (right - left))
        if not moving:
            means[5, i, j] = means[2, i, j]
    sums[:] = _ZERO


@inner
def _settled(s, n, why, holds, unknown, follows, powers):
    """Slot A2: own luminance once the zones have arrived, as in `fluctuation`; uses A0, A1."""
    if follows != _ZERO:
        by_light(s, BEHIND, A0, n, powers)
        by_light(s, LATER, A1, n, powers)
    for x in range(n):
        own, now, then = s[YOWN + x], s[BEHIND + x], s[LATER + x]
        wanted = unknown * s[YASKED + x]
        free = own * (s[A1 + x] / s[A0 + x]) if follows != _ZERO else own
        moved = own * (then / now)
        passed = ((own <= wanted) & (wanted < moved)) | ((own >= wanted) & (wanted > moved))
        held = wanted if passed else moved
        going = held if why[x] & holds else free
        going = min(wanted, then) if now == _ZERO else going
        s[A2 + x] = own if now == then else going


@inner
def _onto_cells(s, n, why, floor, held, sums):
    """Column sums (6, SLOT) of what is asked on cells gain a row, but for what is settled."""
    wanted, lifted, owns, references, helds = sums[0], sums[1], sums[2], sums[3], sums[4]
    for x in range(n):
        own, asked, cause = s[YOWN + x], s[YASKED + x], why[x]
        wanted[x] += asked
        lifted[x] += max(own - asked, _ZERO) if cause & floor else _ZERO
        owns[x] += own
        references[x] += s[YREF + x]
        helds[x] += own if cause & held else _ZERO


@woven
def _settled_onto_cells(s, n, why, ask, sums):
    """The same of what is settled, where the zones have not arrived; uses A0..A2."""
    _settled(s, n, why, np.int32(ask.causes[6]), ask.unknown, ask.follows, ask.powers)
    _added(s, n, sums[5])


@inner
def _added(s, n, sums):
    for x in range(n):
        sums[x] += s[A2 + x]


@inner
def _mixed(s, n, m, source, out):
    """Three slots from `out` on: a matrix times the three from `source` on."""
    u, v, w = s[source:], s[source + SLOT :], s[source + 2 * SLOT :]
    for k in range(3):
        a, b, c, here = m[k, 0], m[k, 1], m[k, 2], s[out + k * SLOT : out + k * SLOT + n]
        for x in range(n):
            here[x] = a * u[x] + b * v[x] + c * w[x]


@inner
def _three_steps(s, n, slot, steps):
    """Three slots from `slot` on become their J."""
    for k in range(3):
        _by_steps(s, slot + k * SLOT, slot + k * SLOT, n, steps)


@inner
def _distances(s, n, mix, margin):
    """Slot GAIN: ΔE_ITP between J of L, M, S in A0..A2 and in P0..P2."""
    for x in range(n):
        a, b, c = s[A0 + x] - s[P0 + x], s[A1 + x] - s[P1 + x], s[A2 + x] - s[P2 + x]
        i = mix[0, 0] * a + mix[0, 1] * b + mix[0, 2] * c
        t = mix[1, 0] * a + mix[1, 1] * b + mix[1, 2] * c
        p = mix[2, 0] * a + mix[2, 1] * b + mix[2, 2] * c
        off = np.sqrt(i * i + t * t + p * p)
        s[GAIN + x] = off if off >= margin else _ZERO


@inner
def _tally_distances(values, tally, counts, room):
    one, three, bins = np.int32(0), np.int32(0), room.view(np.uint32)
    for x in range(values.shape[0]):
        one += np.int32(values[x] > np.float32(1.0))
        three += np.int32(values[x] > np.float32(3.0))
    tally[0] += total_of(values, room)
    tally[1] += one
    tally[2] += three
    for x in range(values.shape[0]):
        off = np.float32(max(values[x], _LEAST_OFF))
        bins[x] = np.uint32(off.view(np.int32) - _OFF_BELOW) >> _OFF_REST
    count_codes(bins[: values.shape[0]], counts)


@inner
def _halves(values, out):
    """Bits of the nearest numbers of half precision, IEEE 754 binary16, for 0 and 2⁻¹⁴ to 65504."""
    exponents, none = np.uint32((127 - 15) << 10), np.uint32(0)
    for x in range(values.shape[0]):
        bits = np.uint32(np.float32(values[x]).view(np.uint32))
        to_even = np.uint32(0xFFF) + ((bits >> np.uint32(13)) & np.uint32(1))
        half = ((bits + to_even) >> np.uint32(13)) - exponents
        out[x] = np.uint16(half if bits != none else none)


@inner
def _tints(s, n, y, x0, begin, end, width, ask, tint, offs):
    """ΔE_ITP of row y, whole and with luminance divided out. E0..E2 become the light as seen."""
    m, more = ask.out, ask.reflected
    for x in range(n):
        u, v, w = s[E0 + x], s[E1 + x], s[E2 + x]
        s[E0 + x] = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w + more
        s[E1 + x] = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w + more
        s[E2 + x] = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w + more
    _mixed(s, n, tint.lms, R, A0)
    _three_steps(s, n, A0, ask.steps)
    top, bottom, left, right = ask.active
    counted = top <= y < bottom
    first, last = max(left, begin) - x0, min(right, end) - x0
    for kind in range(2):
        if kind == 1:
            for x in range(n):
                wanted, shown = s[YREF + x], s[YOWN + x] + more
                lit = wanted > tint.darkest and shown > tint.darkest
                scale = wanted / shown if lit else _ZERO
                s[LATER + x] = _ONE if lit else _ZERO
                s[E0 + x] *= scale
                s[E1 + x] *= scale
                s[E2 + x] *= scale
        _mixed(s, n, tint.lms, E0, P0)
        _three_steps(s, n, P0, ask.steps)
        _distances(s, n, tint.mix, tint.margin)
        if kind == 0:
            out = tint.whole[y * width + begin : y * width + end]
            seen = s[GAIN + begin - x0 : GAIN + end - x0]
            _halves(seen, out)
        else:
            for x in range(n):
                s[GAIN + x] *= s[LATER + x]
        if counted:
            _tally_distances(s[GAIN + first : GAIN + last], tint.tallies[y, kind],
                             offs[kind : kind + 1], s[ROOM : ROOM + SLOT])  # fmt: skip


@kernel_using(registers, lookups, row, glow, passes, boxes, totals)
def question_pass(
    scratch, band, first, end, height, width, source, tone, cell, lamps, later, weights, ask, tint
):
    """Rows of cells first..end (of `ask`), tile by tile: findings, and colour where wanted.

    Boxes need rows above and below; the picture's edges are replicated.
    """
    s, why, ring, light = scratch.floats, scratch.why, scratch.ring, scratch.light
    columns, luminance = scratch.columns, scratch.luminance
    reach = ask.reach
    box = 2 * reach + 1
    maps = 3 if ask.reflected == _ZERO else 4
    top, bottom = ask.cell_rows[first], ask.cell_rows[end]
    active_top, active_bottom = ask.active[0], ask.active[1]
    floor, held = np.int32(ask.causes[5]), np.int32(ask.causes[6])
    for tile in range(ask.tiles.shape[0]):
        cell_first, cell_end, x0 = ask.tiles[tile, 0], ask.tiles[tile, 1], ask.tiles[tile, 2]
        n = ask.tiles[tile, 3] - x0
        begin, finish = ask.cell_columns[cell_first], ask.cell_columns[cell_end]
        active_left, active_right = max(ask.active[2], begin), min(ask.active[3], finish)
        columns[:] = 0
        luminance[:] = 0
        ring[:] = 0
        light[:] = _ZERO
        scratch.cells[:] = _ZERO
        row_of_cells = first
        done = -1
        for here in range(top - reach, bottom + reach):
            y = min(max(here, 0), height - 1)
            if y != done:
                row.reference(s, n, y, x0, width, source)
                row.asked_and_why(s, n, tone, cell, weights, ask.bits[0], why)
                glow.behind(s, n, y, x0, lamps, cell.guessing, cell.powers, cell.known_share)
                row.emitted_and_why(s, n, cell.leak, cell.tolerance, ask.bits, why)
                row.tinged(s, n, y * width + x0, cell.straying, cell.tracking, cell.uneven,
                           cell.uniformity)  # fmt: skip
                _luminances(s, n, weights, ask.asked_weights, ask.own_weights, ask.steps,
                            ask.reflected)  # fmt: skip
                done = y
                if top <= y < bottom:
                    _losses(s, n, y, x0, begin, finish, width, band, why, ask, scratch.losses)
                    content(s, y, x0, begin, finish, ask.active, scratch.levels, ask.brightest,
                             ask.level, ask.everywhere)  # fmt: skip
                    if ask.left != _ONE and active_top <= y < active_bottom:
                        _turned_down(s, n, active_left - x0, active_right - x0, ask.left, ask.steps,
                                     ask.tallies[y])  # fmt: skip
                    _onto_cells(s, n, why, floor, held, scratch.cells)
                    if ask.moving:
                        glow.later(s, n, y, x0, later)
                        _settled_onto_cells(s, n, why, ask, scratch.cells)
                    if y + 1 == ask.cell_rows[row_of_cells + 1]:
                        _sum_of_cells(scratch.cells, x0, row_of_cells, cell_first, cell_end,
                                      ask.cell_rows, ask.cell_columns, ask.moving,
                                      ask.means)  # fmt: skip
                        row_of_cells += 1
            into_ring(s, n, here % box, ask.unit, maps, ring, light, columns, luminance)
            if tint.wanted and here == y and top <= y < bottom:
                _tints(s, n, y, x0, begin, finish, width, ask, tint, scratch.offs)
            middle = here - reach
            if top <= middle < bottom:
                left = reach if x0 == 0 else 0
                right = reach if x0 + n == width else 0
                running(
                    columns, luminance, n, left, right, maps, scratch.totals, scratch.light_totals
                )
                slot = middle % box
                details_of_row(
                    scratch, band, middle, begin, finish, x0, left, slot, maps, width, ask
                )
