"""Boxes: detail about each pixel against the mean of the box around it, row by row.

Part of `questions`: a ring of the last rows, column sums that rows enter and leave, and running
totals along them. Arrays and `ask` are those of its pass.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import numpy as np

from .compiling import inner, woven
from .passes import count_codes, total_of
from .row import E0, E1, JASKED, JOWN, JREF, JSEEN, ROOM, SLOT, YASKED, YOWN, YREF
from .totals import totals_of

MAPS = 4  # of visible steps: reference, asked, own, seen

FINE = np.float32(2.0**20)  # integers a cd/m² in which luminance is added up: the bounds of regions
#                             are met to 5e-7 of themselves

_ZERO = np.float32(0.0)


@inner
def _enters(s, slot_of, k, n, slot, unit, ring, columns):
    """A row of J enters map k as integers, and the row it replaces leaves."""
    half, new_row, old, sums = np.float32(0.5), s[slot_of:], ring[k, slot], columns[k]
    for x in range(n):
        new = np.int32(new_row[x] * unit + half)
        sums[x] += new - old[x]
        old[x] = new


@inner
def into_ring(s, n, slot, unit, maps, ring, light, columns, luminance):
    """The row's J, as integers, enters the boxes; the row it takes the place of leaves them.

    maps: 3 in a dark room, where what is seen is the panel's own light.
    """
    _enters(s, JREF, 0, n, slot, unit, ring, columns)
    _enters(s, JASKED, 1, n, slot, unit, ring, columns)
    _enters(s, JOWN, 2, n, slot, unit, ring, columns)
    if maps > 3:
        _enters(s, JSEEN, 3, n, slot, unit, ring, columns)
    reference, asked, kept = light[0, slot], light[1, slot], light[2, slot]
    for x in range(n):
        new, old = s[YREF + x], reference[x]
        luminance[x] += np.int64(new * FINE) - np.int64(old * FINE)
        reference[x] = new
        asked[x] = s[YASKED + x]
        kept[x] = min(s[YOWN + x], s[YASKED + x])


@inner
def _running(sums, n, left, right, totals):
    """Running totals of n column sums, the first and the last `left` and `right` times more."""
    first, last = sums[0], sums[n - 1]
    for x in range(left):
        totals[x] = x * first
    totals_of(sums, n, sums.dtype.type(left * first), totals[left:])
    for x in range(right):
        totals[left + n + 1 + x] = totals[left + n + x] + last


@inner
def running(columns, luminance, n, left, right, maps, totals, light_totals):
    """Running totals along the row of the column sums; integers may wrap, differences do not.

    left, right: how often the first and the last column count once more, at the picture's edges.
    """
    for k in range(maps):
        _running(columns[k], n, left, right, totals[k])
    _running(luminance, n, left, right, light_totals)


@inner
def _contrasts(begin, end, shift, slot, maps, reach, ring, totals, contrast):
    """contrast (maps, end − begin): what is above or below the mean of its box, times its area."""
    area = np.int32((2 * reach + 1) ** 2)
    first, last, count = begin + shift - reach, begin + shift + reach + 1, end - begin
    for k in range(maps):
        here = ring[k, slot, begin:end]
        before, after = totals[k, first : first + count], totals[k, last : last + count]
        out = contrast[k]
        for x in range(count):
            out[x] = abs(np.int32(area * here[x] - (after[x] - before[x])))


@inner
def _details(count, maps, box, unit, margin, bounds, kinds, low, high, contrast, codes):
    """codes (count,) uint8 of the row in the middle of the boxes.

    low, high (count,): totals of the luminance before and after each pixel's box.
    """
    area = np.float32(box * box)
    step, margin = np.int32(area * unit), np.int32(area * unit * margin)
    dark, bright = np.int64(bounds[0] * area * FINE), np.int64(bounds[1] * area * FINE)
    references, wanteds, owns, seens = contrast[0], contrast[1], contrast[2], contrast[maps - 1]
    c0, c1, c2 = np.int32(kinds[0]), np.int32(kinds[1]), np.int32(kinds[2])
    c3, c4, c5 = np.int32(kinds[3]), np.int32(kinds[4]), np.int32(kinds[5])
    none = np.int32(0)
    for x in range(count):
        total = high[x] - low[x]
        code = c0 if total >= bright else (c1 if total <= dark else none)
        reference, wanted, own, seen = references[x], wanteds[x], owns[x], seens[x]
        visible = reference >= step
        gone = visible & (seen < step) & (reference - seen >= margin)
        by_curve = (wanted < step) & (reference - wanted >= margin)
        by_dimming = (own < step) & (reference - own >= margin)
        cause = c3 if by_curve else (c4 if by_dimming else c5)
        codes[x] = code | (c2 if visible else none) | (cause if gone else none)


@inner
def _tally_details(s, first, last, shift, slot, maps, kinds, counts, tally, light, contrast, codes):
    """Counts and sums of the codes first..last of a row; uses E0 and E1."""
    codes = codes[first:last]
    lost, high = np.uint8(kinds[3] | kinds[4] | kinds[5]), kinds[0]
    seen = np.uint8(0)
    for x in range(last - first):
        seen |= codes[x]
    count_codes(codes, counts[4:])
    if seen & lost:
        before, after, total = contrast[0, first:], contrast[maps - 1, first:], np.int64(0)
        for x in range(last - first):
            total += np.int64(before[x]) - np.int64(after[x]) if codes[x] & lost else np.int64(0)
        tally[2] += total
    if seen & high:
        wanted, kept = light[1, slot, shift + first :], light[2, slot, shift + first :]
        for x in range(last - first):
            s[E0 + x] = wanted[x] if codes[x] & high else _ZERO
            s[E1 + x] = kept[x] if codes[x] & high else _ZERO
        room = s[ROOM : ROOM + SLOT]
        tally[3] += total_of(s[E0 : E0 + last - first], room)
        tally[4] += total_of(s[E1 : E1 + last - first], room)


@woven
def details_of_row(scratch, band, y, begin, finish, x0, left, slot, maps, width, ask):
    """Codes of row y into the map of detail, and their counts and sums."""
    at, count, reach = begin - x0, finish - begin, ask.reach
    _contrasts(at, at + count, left, slot, maps, reach, scratch.ring, scratch.totals,
               scratch.contrast)  # fmt: skip
    low, high = at + left - reach, at + left + reach + 1
    totals, codes = scratch.light_totals, ask.detail[y * width + begin : y * width + finish]
    _details(count, maps, 2 * reach + 1, ask.unit, ask.margin, ask.bounds, ask.detail_codes,
             totals[low : low + count], totals[high : high + count], scratch.contrast,
             codes)  # fmt: skip
    top, bottom, first, last = ask.active
    if top <= y < bottom:
        _tally_details(scratch.floats, max(first, begin) - begin, min(last, finish) - begin, at,
                       slot, maps, ask.detail_codes, ask.counts[band], ask.tallies[y],
                       scratch.light, scratch.contrast, codes)  # fmt: skip
