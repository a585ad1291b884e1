"""Boxes: detail about each pixel against the mean of the box around it, row by row.

Part of `questions`: a ring of the last rows, column sums that rows enter and leave, and running
totals along them. Arrays and `ask` are those of its pass.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import numpy as np

from .compiling import inner
from .passes import total_of
from .row import E0, E1, JASKED, JOWN, JREF, JSEEN, YASKED, YOWN, YREF

MAPS = 4  # of visible steps: reference, asked, own, seen

_ZERO = np.float32(0.0)


@inner
def into_ring(s, n, slot, unit, ring, light, columns, luminance):
    """The row's J, as integers, enters the boxes; the row it takes the place of leaves them."""
    half = np.float32(0.5)
    for x in range(n):
        new = np.int32(s[JREF + x] * unit + half)
        columns[0, x] += new - ring[0, slot, x]
        ring[0, slot, x] = new
    for x in range(n):
        new = np.int32(s[JASKED + x] * unit + half)
        columns[1, x] += new - ring[1, slot, x]
        ring[1, slot, x] = new
    for x in range(n):
        new = np.int32(s[JOWN + x] * unit + half)
        columns[2, x] += new - ring[2, slot, x]
        ring[2, slot, x] = new
    for x in range(n):
        new = np.int32(s[JSEEN + x] * unit + half)
        columns[3, x] += new - ring[3, slot, x]
        ring[3, slot, x] = new
    for x in range(n):
        luminance[x] += np.float64(s[YREF + x]) - np.float64(light[0, slot, x])
        light[0, slot, x] = s[YREF + x]
        light[1, slot, x] = s[YASKED + x]
        light[2, slot, x] = min(s[YOWN + x], s[YASKED + x])


@inner
def running(columns, luminance, n, left, right, totals, light_totals):
    """Running totals along the row of the column sums; integers may wrap, differences do not.

    left, right: how often the first and the last column count once more, at the picture's edges.
    """
    i0, i1, i2, i3 = columns[0, 0], columns[1, 0], columns[2, 0], columns[3, 0]
    for x in range(left):
        totals[0, x], totals[1, x] = x * i0, x * i1
        totals[2, x], totals[3, x] = x * i2, x * i3
        light_totals[x] = x * luminance[0]
    a, b, c, d = left * i0, left * i1, left * i2, left * i3
    light = left * luminance[0]
    for x in range(n):
        at = left + x
        totals[0, at], totals[1, at], totals[2, at], totals[3, at] = a, b, c, d
        light_totals[at] = light
        a += columns[0, x]
        b += columns[1, x]
        c += columns[2, x]
        d += columns[3, x]
        light += luminance[x]
    for x in range(right + 1):
        at = left + n + x
        totals[0, at], totals[1, at], totals[2, at], totals[3, at] = a, b, c, d
        light_totals[at] = light
        a += columns[0, n - 1]
        b += columns[1, n - 1]
        c += columns[2, n - 1]
        d += columns[3, n - 1]
        light += luminance[n - 1]


@inner
def _details(begin, end, left, slot, ask, ring, totals, light_totals, contrast, codes):
    """codes (end − begin,) uint8 of the row in the middle of the boxes; padded columns."""
    reach = ask.reach
    box = 2 * reach + 1
    area = np.int32(box * box)
    step = np.int32(np.float32(box * box) * ask.unit)
    margin = np.int32(np.float32(box * box) * ask.unit * ask.margin)
    dark, bright = ask.bounds[0] * box * box, ask.bounds[1] * box * box
    first, last = begin + left - reach, begin + left + reach + 1
    count = end - begin
    for k in range(MAPS):
        here = ring[k, slot, begin:end]
        before = totals[k, first : first + count]
        after = totals[k, last : last + count]
        out = contrast[k]
        for x in range(count):
            out[x] = abs(np.int32(area * here[x] - (after[x] - before[x])))
    low = light_totals[first : first + count]
    high = light_totals[last : last + count]
    codes_of = ask.detail_codes
    c0, c1, c2 = codes_of[0], codes_of[1], codes_of[2]
    c3, c4, c5 = codes_of[3], codes_of[4], codes_of[5]
    none = np.uint8(0)
    for x in range(count):
        total = high[x] - low[x]
        code = c0 if total >= bright else (c1 if total <= dark else none)
        reference, wanted = contrast[0, x], contrast[1, x]
        own, seen = contrast[2, x], contrast[3, x]
        visible = reference >= step
        gone = visible and seen < step and reference - seen >= margin
        by_curve = wanted < step and reference - wanted >= margin
        by_dimming = own < step and reference - own >= margin
        code |= c2 if visible else none
        code |= (c3 if by_curve else (c4 if by_dimming else c5)) if gone else none
        codes[x] = code


@inner
def _tally_details(s, y, begin, end, x0, band, slot, ask, light, contrast, codes):
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
        before, after, total = contrast[0, first:], contrast[3, first:], 0
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


@inner
def details_of_row(scratch, band, y, begin, finish, x0, left, slot, width, ask):
    """The row in the middle of the boxes: its codes into `ask`.detail, its counts and sums."""
    ring, light = scratch.ring, scratch.light
    at = begin - x0
    count = finish - begin
    _details(at, at + count, left, slot, ask, ring, scratch.totals, scratch.light_totals,
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
        ask,
        light,
        scratch.contrast,
        scratch.codes,
    )
