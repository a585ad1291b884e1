"""Boxes: detail about each pixel against the mean of the box around it, row by row.

Part of `questions`: a ring of the last rows, column sums that rows enter and leave, and running
totals along them. Arrays and `ask` are those of its pass.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import numpy as np

from .compiling import inner, woven
from .passes import total_of
from .row import E0, E1, JASKED, JOWN, JREF, JSEEN, YASKED, YOWN, YREF

MAPS = 4  # of visible steps: reference, asked, own, seen

_ZERO = np.float32(0.0)


def _entering(slot_of, k):
    """A loop by which a row of J enters map k as integers, and the row it replaces leaves."""

    @inner
    def loop(s, n, slot, unit, ring, columns):
        half, old, sums = np.float32(0.5), ring[k, slot], columns[k]
        for x in range(n):
            new = np.int32(s[slot_of + x] * unit + half)
            sums[x] += new - old[x]
            old[x] = new

    return loop


_reference_enters = _entering(JREF, 0)
_asked_enters = _entering(JASKED, 1)
_own_enters = _entering(JOWN, 2)
_seen_enters = _entering(JSEEN, 3)


@inner
def into_ring(s, n, slot, unit, maps, ring, light, columns, luminance):
    """The row's J, as integers, enters the boxes; the row it takes the place of leaves them.

    maps: 3 in a dark room, where what is seen is the panel's own light.
    """
    _reference_enters(s, n, slot, unit, ring, columns)
    _asked_enters(s, n, slot, unit, ring, columns)
    _own_enters(s, n, slot, unit, ring, columns)
    if maps > 3:
        _seen_enters(s, n, slot, unit, ring, columns)
    reference, asked, kept = light[0, slot], light[1, slot], light[2, slot]
    for x in range(n):
        luminance[x] += np.float64(s[YREF + x]) - np.float64(reference[x])
        reference[x] = s[YREF + x]
        asked[x] = s[YASKED + x]
        kept[x] = min(s[YOWN + x], s[YASKED + x])


@inner
def _running_pair(first, second, n, left, right, first_totals, second_totals):
    """Running totals of two rows: one waits for its additions while the other adds."""
    a, b = left * first[0], left * second[0]
    for x in range(left):
        first_totals[x], second_totals[x] = x * first[0], x * second[0]
    these, those = first_totals[left:], second_totals[left:]
    for x in range(n):
        these[x], those[x] = a, b
        a += first[x]
        b += second[x]
    for x in range(n, n + right + 1):
        these[x], those[x] = a, b
        a += first[n - 1]
        b += second[n - 1]


@inner
def running(columns, luminance, n, left, right, maps, totals, light_totals):
    """Running totals along the row of the column sums; integers may wrap, differences do not.

    left, right: how often the first and the last column count once more, at the picture's edges.
    """
    _running_pair(columns[0], columns[1], n, left, right, totals[0], totals[1])
    _running_pair(columns[2], luminance, n, left, right, totals[2], light_totals)
    if maps > 3:
        _running_pair(columns[3], columns[3], n, left, right, totals[3], totals[3])


@inner
def _details(begin, end, left, slot, maps, ask, ring, totals, light_totals, contrast, codes):
    """codes (end − begin,) uint8 of the row in the middle of the boxes; padded columns."""
    reach = ask.reach
    box = 2 * reach + 1
    area = np.int32(box * box)
    step = np.int32(np.float32(box * box) * ask.unit)
    margin = np.int32(np.float32(box * box) * ask.unit * ask.margin)
    dark, bright = ask.bounds[0] * box * box, ask.bounds[1] * box * box
    first, last = begin + left - reach, begin + left + reach + 1
    count = end - begin
    for k in range(maps):
        here = ring[k, slot, begin:end]
        before = totals[k, first : first + count]
        after = totals[k, last : last + count]
        out = contrast[k]
        for x in range(count):
            out[x] = abs(np.int32(area * here[x] - (after[x] - before[x])))
    low = light_totals[first : first + count]
    high = light_totals[last : last + count]
    references, wanteds, owns, seens = contrast[0], contrast[1], contrast[2], contrast[maps - 1]
    codes_of = ask.detail_codes
    c0, c1, c2 = codes_of[0], codes_of[1], codes_of[2]
    c3, c4, c5 = codes_of[3], codes_of[4], codes_of[5]
    none = np.uint8(0)
    for x in range(count):
        total = high[x] - low[x]
        code = c0 if total >= bright else (c1 if total <= dark else none)
        reference, wanted, own, seen = references[x], wanteds[x], owns[x], seens[x]
        visible = reference >= step
        gone = visible and seen < step and reference - seen >= margin
        by_curve = wanted < step and reference - wanted >= margin
        by_dimming = own < step and reference - own >= margin
        code |= c2 if visible else none
        code |= (c3 if by_curve else (c4 if by_dimming else c5)) if gone else none
        codes[x] = code


@inner
def _tally_details(s, y, begin, end, x0, band, slot, maps, ask, light, contrast, codes):
    """Counts and sums of a row's codes inside the active picture; uses E0 and E1."""
    top, bottom, left, right = ask.active
    if not top <= y < bottom:
        return
    first, last = max(left, begin) - begin, min(right, end) - begin
    counts, tally, codes = ask.counts[band], ask.tallies[band], codes[first:last]
    lost = np.uint8(ask.detail_codes[3] | ask.detail_codes[4] | ask.detail_codes[5])
    high = ask.detail_codes[0]
    seen = np.uint8(0)
    for x in range(last - first):
        seen |= codes[x]
    for x in range(last - first):
        counts[4 + (x & 3), codes[x]] += 1
    if seen & lost:
        before, after, total = contrast[0, first:], contrast[maps - 1, first:], 0
        for x in range(last - first):
            total += np.int64(before[x]) - after[x] if codes[x] & lost else 0
        tally[2] += total
    if seen & high:
        shift = begin - x0 + first
        wanted, kept = light[1, slot, shift:], light[2, slot, shift:]
        for x in range(last - first):
            s[E0 + x] = wanted[x] if codes[x] & high else _ZERO
            s[E1 + x] = kept[x] if codes[x] & high else _ZERO
        tally[3] += total_of(s[E0 : E0 + last - first])
        tally[4] += total_of(s[E1 : E1 + last - first])


@woven
def details_of_row(scratch, band, y, begin, finish, x0, left, slot, maps, width, ask):
    """Codes of row y into the map of detail, and their counts and sums."""
    ring, light = scratch.ring, scratch.light
    at = begin - x0
    count = finish - begin
    _details(at, at + count, left, slot, maps, ask, ring, scratch.totals, scratch.light_totals,
             scratch.contrast, scratch.codes)  # fmt: skip
    out = ask.detail[y * width + begin : y * width + finish]
    for x in range(count):
        out[x] = scratch.codes[x]
    _tally_details(
        scratch.floats,
        y,
        begin,
        finish,
        x0,
        band,
        slot,
        maps,
        ask,
        light,
        scratch.contrast,
        scratch.codes,
    )
