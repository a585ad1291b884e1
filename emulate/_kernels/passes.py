"""A whole frame in passes over tiles that stay in the cache: the plain recipe's fast twin.

First pass: what the light source and the content levels need to know. Second pass: the light, here
(`draw_pass`) or with everything that is found in it (`questions`). A call does one band of rows on
one thread; bands write to places of their own, and what is summed over bands is summed by the
caller in their order, so that the number of threads cannot show. Each thread brings a scratch.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from . import glow, lookups, registers, row, streaming
from .compiling import inner, kernel, kernel_using, woven
from .row import A0, A1, A2, BEHIND, E0, E1, E2, P0, P1, P2, ROOM, SLOT, YOWN, M
from .streaming import send, settle

LEVEL_LOW, LEVEL_SPLIT, LEVEL_OCTAVES = -16, 13, 30  # histogram of m: 1.2e-4 of light apart

_LEVEL_BELOW = np.int32((127 + LEVEL_LOW) << 23)
_LEVEL_REST = np.uint32(23 - LEVEL_SPLIT)
_ZERO = np.float32(0.0)


class Look(NamedTuple):
    """What the first pass is to see, and where it writes it.

    cell_rows (n + 1,), cell_columns (m + 1,): edges of the grain cells, zone by zone. tiles (k, 4):
    first and end grain column of a tile, first pixel (a multiple of 16) and end pixel. Where
    `sorting`: zone_of (m,): which zone across a cell lies in; totals, peaks (n, zones across): sum
    of max(p) over the cells of a row in each, and the largest of their means. channels (h,): sums
    of p, if `adding`. active: rows and columns of the content levels. brightest (h,), light (h,):
    largest and sum of m of each row, where `counting`; the histogram is the scratch's. kept
    (h·w·3,): p, if `keeping`.
    """

    sorting: int
    cell_rows: Any
    cell_columns: Any
    tiles: Any
    zone_of: Any
    totals: Any
    peaks: Any
    adding: int
    channels: Any
    counting: int
    active: tuple[int, int, int, int]
    brightest: Any
    light: Any
    keeping: int
    kept: Any


class Scratch(NamedTuple):
    """What one thread works in; `reach` decides the sizes of the rings.

    beside (3·SLOT,): light of a stretch, channel beside channel, on its way to memory.
    levels (2, bins): histogram of m, of even and of odd pixels; offs (2, bins): of both ΔE_ITP. The
    caller clears them and adds those of all threads.
    """

    floats: Any
    beside: Any
    why: Any
    cells: Any
    ring: Any
    light: Any
    columns: Any
    luminance: Any
    totals: Any
    light_totals: Any
    contrast: Any
    losses: Any
    levels: Any
    offs: Any


@inner
def total_of(values, room):
    """Sum of float32 (n,) in an order that any processor keeps: eighths side by side, twice over.

    room (n / 8 and more,) is overwritten.
    """
    eighth = values.shape[0] // 8
    _eighths(values, eighth, room)
    few = eighth // 8
    _eighths(room, few, room)
    total = _ZERO
    for x in range(few):
        total += room[x]
    for x in range(8 * few, eighth):
        total += room[x]
    for x in range(8 * eighth, values.shape[0]):
        total += values[x]
    return total


@inner
def _eighths(v, n, out):
    """out (n,): the sum of eight stretches of n numbers, the first of which it may be."""
    a, b, c, d = v[:n], v[n : 2 * n], v[2 * n : 3 * n], v[3 * n : 4 * n]
    e, f, g, h = v[4 * n : 5 * n], v[5 * n : 6 * n], v[6 * n : 7 * n], v[7 * n : 8 * n]
    for x in range(n):
        out[x] = ((a[x] + b[x]) + (c[x] + d[x])) + ((e[x] + f[x]) + (g[x] + h[x]))


PIECE = 64  # codes that are counted at once where they are alike


@inner
def count_codes(codes, counts):
    """counts (1, 2 or 4, …) gain codes (n,), in whichever of the rows: they are to be added."""
    several = counts.shape[0] - 1
    for start in range(0, codes.shape[0], PIECE):
        some = codes[start : min(start + PIECE, codes.shape[0])]
        first = some[0]
        other = first ^ first
        for x in range(some.shape[0]):
            other |= some[x] ^ first
        if other:
            for x in range(some.shape[0]):
                counts[x & several, some[x]] += 1
        else:
            counts[0, first] += some.shape[0]


@inner
def _count_levels(values, levels, bins):
    """levels (2, …) gain the levels of values (n,), at even and at odd pixels; uses bins (n,)."""
    for x in range(values.shape[0]):
        light = np.float32(min(max(values[x], row.DIMMEST), row.BRIGHTEST))
        bins[x] = np.uint32(light.view(np.int32) - _LEVEL_BELOW) >> _LEVEL_REST
    count_codes(bins[: values.shape[0]], levels)


@inner
def content(s, y, x0, begin, end, active, levels, brightest, light, everywhere):
    """Content levels of row y between two columns: what no other tile counts.

    brightest, light (h,): of the active picture; everywhere (h,): sum of m, bars and all.
    """
    room = s[ROOM : ROOM + SLOT]
    total = total_of(s[M + begin - x0 : M + end - x0], room)
    everywhere[y] += total
    top, bottom, left, right = active
    first, last = max(left, begin), min(right, end)
    if not top <= y < bottom or first >= last:
        return
    values = s[M + first - x0 : M + last - x0]
    light[y] += total if last - first == end - begin else total_of(values, room)
    _count_levels(values, levels, room.view(np.uint32))
    most = np.int32(0)  # bits of floats that are not negative are in the order of the floats
    for x in range(values.shape[0]):
        most = max(most, np.float32(values[x]).view(np.int32))
    brightest[y] = max(brightest[y], np.int32(most).view(np.float32))


@kernel_using(registers, lookups, row, streaming)
def first_pass(scratch, first, end, width, source, tone, cell, weights, look):
    """Rows of cells first..end of the picture."""
    s = scratch.floats
    for r in range(first, end):
        for t in range(look.tiles.shape[0]):
            cell_first, cell_end, x0 = look.tiles[t, 0], look.tiles[t, 1], look.tiles[t, 2]
            n = look.tiles[t, 3] - x0
            begin, finish = look.cell_columns[cell_first], look.cell_columns[cell_end]
            for x in range(n):
                s[YOWN + x] = _ZERO
            for y in range(look.cell_rows[r], look.cell_rows[r + 1]):
                row.reference(s, n, y, x0, width, source)
                if look.counting:
                    content(s, y, x0, begin, finish, look.active, scratch.levels,
                            look.brightest, look.light, look.channels)  # fmt: skip
                if look.keeping and look.sorting:
                    row.asked_beside(s, n, tone, cell, weights, scratch.beside)
                elif look.sorting or look.adding:
                    row.asked(s, n, tone, cell, weights)
                    _summed(s, n, y, x0, begin, look, scratch.beside)
                if look.keeping:
                    at = 3 * (y * width + x0)
                    send(scratch.beside[: 3 * n], look.kept[at : at + 3 * n])
            if look.sorting:
                height = np.float32(look.cell_rows[r + 1] - look.cell_rows[r])
                for c in range(cell_first, cell_end):
                    left, right = look.cell_columns[c] - x0, look.cell_columns[c + 1] - x0
                    sums, total = s[YOWN + left : YOWN + right], _ZERO
                    for x in range(sums.shape[0]):
                        total += sums[x]
                    zone, pixels = look.zone_of[c], height * np.float32(right - left)
                    look.totals[r, zone] += total
                    look.peaks[r, zone] = max(look.peaks[r, zone], total / pixels)
    settle()


@inner
def _summed(s, n, y, x0, begin, look, beside):
    """What is kept of the light asked in one stretch: its largest channel, or its sum; and itself,
    channel beside channel."""
    if look.sorting:
        for x in range(n):
            s[YOWN + x] += max(s[P0 + x], s[P1 + x], s[P2 + x])
    if look.adding:
        total = 0.0
        for slot in (P0, P1, P2):
            total += total_of(s[slot + begin - x0 : slot + n], s[ROOM : ROOM + SLOT])
        look.channels[y] += total
        if look.keeping:
            for x in range(n):
                beside[3 * x], beside[3 * x + 1], beside[3 * x + 2] = (
                    s[P0 + x],
                    s[P1 + x],
                    s[P2 + x],
                )


@kernel
def lit_columns(first, end, drive, shares, out):
    """Rows first..end of out (rows, n): drive (rows, columns) times shares (columns, n)."""
    for r in range(first, end):
        out[r, :] = 0.0
        for c in range(drive.shape[1]):
            share = drive[r, c]
            if share > 0.0:
                for x in range(out.shape[1]):
                    out[r, x] += share * shares[c, x]


@kernel
def lit_rows(first, end, shares, banded, sums, out):
    """Rows first..end of out (m, n) float32: shares (m, rows) times banded (rows, n)."""
    for y in range(first, end):
        sums[:] = 0.0
        for r in range(shares.shape[1]):
            share = shares[y, r]
            if share > 0.0:
                for x in range(out.shape[1]):
                    sums[x] += share * banded[r, x]
        for x in range(out.shape[1]):
            out[y, x] = sums[x]


@kernel
def refined(first, end, coarse, ratio, weights, margin, line, out):
    """Rows first..end of out (m, n): adds a grid `ratio` times coarser, quintic between points.

    weights (ratio, 6) of a point's six neighbours; line: room for a row of `coarse`. It begins
    MARGIN of its points before the first pixel, `out` begins `margin` of its own.
    """
    for y in range(first, end):
        at = y - margin
        i, w = at // ratio + row.MARGIN - 2, weights[at % ratio]
        for j in range(coarse.shape[1]):
            line[j] = (
                w[0] * coarse[i, j]
                + w[1] * coarse[i + 1, j]
                + w[2] * coarse[i + 2, j]
                + w[3] * coarse[i + 3, j]
                + w[4] * coarse[i + 4, j]
                + w[5] * coarse[i + 5, j]
            )
        for x in range(out.shape[1]):
            at = x - margin
            j, w = at // ratio + row.MARGIN - 2, weights[at % ratio]
            total = w[0] * line[j] + w[1] * line[j + 1] + w[2] * line[j + 2]
            out[y, x] += total + w[3] * line[j + 3] + w[4] * line[j + 4] + w[5] * line[j + 5]


class Show(NamedTuple):
    """What the second pass writes of the light itself: flat or empty arrays where not `wanted`.

    out (3, 3): BT.2020 from emitted channels, turned to the viewer; plain (3, 3): the same on axis,
    of what is asked; reflected [cd/m²] in every channel. bits: of Cause, as `flags` wants them:
    gamut, zone, wide open, floor, all floor. wanted: 1 for light and backlight, 2 for all. kept:
    `light` holds p, from the first pass.
    """

    out: Any
    plain: Any
    reflected: np.float32
    bits: Any
    wanted: int
    kept: int
    light: Any
    asked: Any
    backlight: Any
    why: Any


@woven
def _shown(s, y, x0, n, width, show, why, beside):
    """Row y of the rendering's own pictures from column x0 on."""
    at = y * width + x0
    _mixed(s, E0, n, show.out, show.reflected, beside)
    send(beside[: 3 * n], show.light[3 * at : 3 * (at + n)])
    send(s[BEHIND : BEHIND + n], show.backlight[at : at + n])
    if show.wanted > 1:
        _mixed(s, P0, n, show.plain, _ZERO, show.asked[3 * at : 3 * (at + n)])
        _copied(why[:n], show.why[at : at + n])


@woven
def _shown_in_place(s, y, x0, n, width, show, cell):
    """The same where `show.light` holds what is asked, E0..E2 are not tinged yet, and no more is
    wanted."""
    at = y * width + x0
    light = show.light[3 * at : 3 * (at + n)]
    if cell.straying and cell.uneven:
        row.shares(s, n, cell.straying, cell.tracking)
        _mixed_and_tinged(s, n, cell.uniformity[at : at + n], show.out, show.reflected, light)
    else:
        row.tinged(s, n, at, cell.straying, cell.tracking, cell.uneven, cell.uniformity)
        _mixed(s, E0, n, show.out, show.reflected, light)
    send(s[BEHIND : BEHIND + n], show.backlight[at : at + n])


@inner
def _mixed_and_tinged(s, n, shades, m, more, out):
    """out (3·n,): a matrix times E0..E2, each times its share in A0..A2 and the screen's shade."""
    for x in range(n):
        shade = shades[x]
        u = s[E0 + x] * (s[A0 + x] * shade)
        v = s[E1 + x] * (s[A1 + x] * shade)
        w = s[E2 + x] * (s[A2 + x] * shade)
        out[3 * x] = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w + more
        out[3 * x + 1] = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w + more
        out[3 * x + 2] = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w + more


@inner
def _mixed(s, slot, n, m, more, out):
    """out (3·n,): a matrix times three slots, channel beside channel."""
    first, second, third = s[slot : slot + n], s[slot + SLOT :], s[slot + 2 * SLOT :]
    for x in range(n):
        u, v, w = first[x], second[x], third[x]
        out[3 * x] = m[0, 0] * u + m[0, 1] * v + m[0, 2] * w + more
        out[3 * x + 1] = m[1, 0] * u + m[1, 1] * v + m[1, 2] * w + more
        out[3 * x + 2] = m[2, 0] * u + m[2, 1] * v + m[2, 2] * w + more


@inner
def _copied(values, out):
    for x in range(values.shape[0]):
        out[x] = values[x]


@kernel_using(registers, lookups, row, glow, streaming)
def draw_pass(scratch, first, end, width, edges, tiles, source, tone, cell, lamps, weights, show):
    """Light, and what is asked and why where wanted, of rows edges[first]..edges[end].

    tiles (k, 4) as in `Look`: of columns, without margins.
    """
    s, why = scratch.floats, scratch.why
    flagged = show.wanted > 1
    for t in range(tiles.shape[0]):
        x0, finish = tiles[t, 2], tiles[t, 3]
        n = finish - x0
        for y in range(edges[first], edges[end]):
            glow.behind(s, n, y, x0, lamps, cell.guessing, cell.powers, cell.known_share)
            if show.kept:
                row.emitted_of(s, n, cell.leak, show.light[3 * (y * width + x0) :])
                _shown_in_place(s, y, x0, n, width, show, cell)
                continue
            row.reference(s, n, y, x0, width, source)
            if flagged:
                row.asked_and_why(s, n, tone, cell, weights, show.bits[0], why)
                row.emitted_and_why(s, n, cell.leak, cell.tolerance, show.bits, why)
            else:
                row.asked(s, n, tone, cell, weights)
                row.emitted(s, n, cell.leak)
            row.tinged(s, n, y * width + x0, cell.straying, cell.tracking, cell.uneven,
                       cell.uniformity)  # fmt: skip
            _shown(s, y, x0, n, width, show, why, scratch.beside)
    settle()
