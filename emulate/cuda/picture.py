"""Second pass on the card: light, flags and the findings of luminance in one go (physics §4-9).

A block takes a strip of columns, one a thread, and walks down a segment of rows. Strips and
segments end where cells of 0.1° do, so that every cell's sum is made by one block, in one order;
sums over boxes of 0.1° are integers. Nothing depends on which block is done first: what blocks add
up together are counts.
"""

# mypy: disable-error-code="no-untyped-def"

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numba import cuda

from emulate._kernels.row import MARGIN
from emulate.colorimetry import ITP_SCALE
from emulate.cuda.compiling import NEAR, device, kernel, physics
from emulate.cuda.light import light_of, steps_of
from emulate.cuda.pixel import F, Kind, U, Z, pixel_of, times
from emulate.panel.cause import Cause

D = np.float64
_light, _NEAR, _STEPS = physics().pq_light, NEAR, F(ITP_SCALE)
MOST = 224  # threads of a block
REGISTERS = 72  # of a thread: four blocks of 224 share a multiprocessor of an H100
SUMS = 5  # on a cell: luminance of reference, asked, lift, own and held
TALLIES = 7  # steps clipped, crushed, contrast lost, light asked and kept in highlights, sum and
# largest of m

_GAMUT, _HIGH, _LOW = Z(Cause.GAMUT), Z(Cause.CURVE_HIGH), Z(Cause.CURVE_LOW)
_WIDE_OPEN, _FLOOR, _ALL_FLOOR = Z(Cause.WIDE_OPEN), Z(Cause.FLOOR), Z(Cause.ALL_FLOOR)
_ANY = Z(_GAMUT | _HIGH | _LOW | _WIDE_OPEN | _ALL_FLOOR)
_HELD = Z(_FLOOR | _WIDE_OPEN)
_AT_FLOOR = Z(_LOW | _ALL_FLOOR)


class Shape(NamedTuple):
    """What a kernel of the second pass is made for besides its `Kind`.

    reach: half the box in pixels, 0 for no findings. showing: 0 no light, 1 light and backlight, 2
    what is asked and why as well. threads: of a block.
    """

    reach: int
    showing: int
    threads: int


class Codes(NamedTuple):
    """The bits that findings write: of the map `loss`, then of the map `detail`."""

    clipped_curve: int
    clipped_zone: int
    clipped_gamut: int
    crushed_curve: int
    crushed_leak: int
    crushed_room: int
    highlight: int
    shadow: int
    visible: int
    lost_curve: int
    lost_dimming: int
    lost_room: int


class Terms(NamedTuple):
    """How findings are told: their codes, and what counts. shadow at most, highlight at least
    [cd/m²]: of the mean over a box; margin [steps]: a smaller change of contrast is rounding."""

    codes: Codes
    shadow: float
    highlight: float
    margin: float


class Asking(NamedTuple):
    """What the findings need. asked_weights, own_weights (3,): luminance of p and of e. unit:
    integers a step. step, margin: of contrast summed over a box. dark, bright: of a box's
    luminance. black, room: J of no light and of the room's. active: rows, columns of the picture.
    """

    asked_weights: Any
    own_weights: Any
    unit: Any
    step: Any
    margin: Any
    dark: Any
    bright: Any
    black: Any
    room: Any
    active: Any


class Layout(NamedTuple):
    """Edges of cells [px] and the first cell of each strip and segment, int32."""

    rows: Any
    columns: Any
    segments: Any
    strips: Any


class Out(NamedTuple):
    """Where results go: light, asked (h·w·3,), backlight (h·w,) float32; why, loss, detail (h·w,)
    uint8; means (5·n·m,) float32; counts (128,) int32 of the codes of loss and of detail; tallies
    (blocks·7,) float64."""

    light: Any
    asked: Any
    backlight: Any
    why: Any
    loss: Any
    detail: Any
    means: Any
    counts: Any
    tallies: Any


def rings_of(kind: Kind) -> int:
    """Maps of visible steps that boxes are taken of: reference, asked, own, and seen in a room."""
    return 4 if kind.room else 3


def threads_for(kind: Kind, reach: int) -> int:
    """Threads of a block: as many as 48 KiB of shared memory serve, at most MOST."""
    if reach == 0:
        return MOST
    rings = rings_of(kind)
    each = 4 * (rings * (2 * reach + 1) + rings + SUMS + 1)
    return min(MOST, (49152 - 1024) // each // 32 * 32)


@lru_cache(maxsize=16)
def light_only(kind: Kind, shape: Shape) -> Any:
    """A kernel that writes light and backlight, and with showing 2 what is asked and why."""
    pixel, light = pixel_of(kind), light_of(kind)
    fetched, reference_of, asked_of = pixel.fetched, pixel.reference, pixel.asked
    behind_at, emitted = _behind_at(kind), light.emitted
    showing = shape.showing

    @kernel
    def draw(planes, reading, cells, out):
        x = Z(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        y = Z(cuda.blockIdx.y)
        if x >= reading.size[1]:
            return
        at = U(Z(y * reading.size[1]) + x)
        i, j, k = fetched(y, x, planes, reading)
        r, g, b, code = reference_of(i, j, k, reading)
        p, q, s, why, cut = asked_of(r, g, b, code, reading)
        lit = behind_at(y, x, reading, cells)
        e0, e1, e2, more = emitted(p, q, s, lit, at, cells)
        u, v, w = times(cells.out, e0, e1, e2)
        out.backlight[at] = lit
        to = U(at * U(3))
        out.light[to] = u + cells.reflected
        out.light[U(to + 1)] = v + cells.reflected
        out.light[U(to + 2)] = w + cells.reflected
        if showing > 1:
            u, v, w = times(cells.plain, p, q, s)
            out.asked[to], out.asked[U(to + 1)], out.asked[U(to + 2)] = u, v, w
            out.why[at] = np.uint8(why | more | (_GAMUT if cut else Z(0)))

    return draw


def _behind_at(kind: Kind) -> Any:
    light, step = light_of(kind), kind.step
    across, behind, shift = light.across, light.behind, Z(step.bit_length() - 1)

    @device
    def behind_at(y, x, reading, cells):
        """B at one pixel, from all 36 points around it."""
        if step == 1:
            return cells.grid[U(Z(y * reading.size[1]) + x)]
        i = Z(Z(y >> shift) + Z(MARGIN - 2))
        return behind(
            y,
            across(x, i, cells),
            across(x, Z(i + 1), cells),
            across(x, Z(i + 2), cells),
            across(x, Z(i + 3), cells),
            across(x, Z(i + 4), cells),
            across(x, Z(i + 5), cells),
            cells,
        )

    return behind_at


@device
def light_at(steps, asking):
    """Luminance of whole units of J."""
    return _light(F(steps) / (asking.unit * _STEPS), _NEAR)


def _loss_of(codes: Codes) -> Any:
    clipped_curve, clipped_zone, clipped_gamut = map(Z, codes[:3])
    crushed_curve, crushed_leak, crushed_room = map(Z, codes[3:6])

    @device
    def loss_of(why, m, own_most, reference, own, seen, lit, asking):
        """Bits of one pixel, and the steps that it lost at a ceiling."""
        code, fallen = Z(0), F(0.0)
        if why & _HIGH:
            code = Z(code | clipped_curve)
        if why & _WIDE_OPEN:
            code = Z(code | clipped_zone)
        if why & _GAMUT:
            code = Z(code | clipped_gamut)
        if code:
            fallen = F(steps_of(m) - steps_of(own_most))
            if fallen < 1.0:
                code, fallen = Z(0), F(0.0)
        if lit:
            crushed = Z(0)
            if abs(reference - own) >= 1.0:
                crushed = crushed_curve if why & _LOW else Z(0)
                crushed = Z(crushed | (crushed_leak if why & _ALL_FLOOR else Z(0)))
            drowned = own - asking.black >= 1.0 and seen - asking.room < 1.0
            off = abs(reference - seen) >= 1.0
            if crushed == 0 and off and ((why & _AT_FLOOR) != 0 or drowned):
                crushed = crushed_room
            code = Z(code | crushed)
        return code, fallen

    return loss_of


@lru_cache(maxsize=16)
def findings_pass(kind: Kind, shape: Shape, codes: Codes) -> Any:
    """The kernel of the second pass with findings; blocks (strips, segments)."""
    pixel, light = pixel_of(kind), light_of(kind)
    fetched, reference_of, asked_of = pixel.fetched, pixel.reference, pixel.asked
    across, behind, emitted = light.across, light.behind, light.emitted
    reach, showing, wide = Z(shape.reach), shape.showing, shape.threads
    W = Z(wide)
    loss_of = _loss_of(codes)
    crushed_any = Z(codes.crushed_curve | codes.crushed_leak | codes.crushed_room)
    highlight, shadow, visible = map(Z, codes[6:9])
    lost_curve, lost_dimming, lost_room = map(Z, codes[9:])
    box, rings, room, step = 2 * shape.reach + 1, rings_of(kind), kind.room, kind.step
    area, shift, BOX = Z(box * box), Z(step.bit_length() - 1), Z(box)
    ring_size, column_size = rings * box * wide, rings * wide
    floats = (SUMS + 1) * wide
    own_ring, seen_ring = Z(2 * box * wide), Z((3 if room else 2) * box * wide)
    asked_ring = Z(box * wide)
    luminance_at = Z(SUMS * wide)
    first_points = Z(6)

    @device
    def box_of(columns, first, t):
        total, k = Z(0), Z(-reach)
        while k <= reach:
            total = Z(total + columns[U(Z(first + t) + k)])
            k = Z(k + 1)
        return total

    @device
    def contrast(ring, columns, which, slot, t):
        """Steps of the middle pixel less those of its box, times unit and area: never below 0."""
        here = ring[U(Z(which * BOX * W) + Z(slot * W) + t)]
        return abs(Z(Z(area * here) - box_of(columns, Z(which * W), t)))

    def walk(planes, reading, cells, asking, layout, out):
        ring = cuda.shared.array(ring_size, np.int32)
        columns = cuda.shared.array(column_size, np.int32)
        floats_here = cuda.shared.array(floats, np.float32)
        counts = cuda.shared.array(128, np.int32)
        t = Z(cuda.threadIdx.x)
        height, width = reading.size[0], reading.size[1]
        strip, segment = Z(cuda.blockIdx.x), Z(cuda.blockIdx.y)
        cell_first, cell_end = Z(layout.strips[strip]), Z(layout.strips[strip + 1])
        left, right = Z(layout.columns[cell_first]), Z(layout.columns[cell_end])
        row_of_cells = Z(layout.segments[segment])
        top = Z(layout.rows[row_of_cells])
        bottom = Z(layout.rows[Z(layout.segments[segment + 1])])
        next_row = Z(layout.rows[row_of_cells + 1])
        across_cells, down_cells = Z(layout.columns.size - 1), Z(layout.rows.size - 1)
        out_x = Z(left - reach + t)
        owner = out_x >= left and out_x < right
        x = min(max(out_x, Z(0)), Z(width - 1))
        shown = owner and x >= asking.active[2] and x < asking.active[3]

        k = t
        while k < ring_size:
            ring[U(k)] = Z(0)
            k = Z(k + W)
        k = t
        while k < 128:
            counts[U(k)] = Z(0)
            k = Z(k + W)
        sum_ref, sum_asked, sum_own, sum_seen, sum_light = Z(0), Z(0), Z(0), Z(0), D(0.0)
        c0, c1, c2, c3, c4 = F(0.0), F(0.0), F(0.0), F(0.0), F(0.0)
        t0, t1, t2, t3, t4 = F(0.0), F(0.0), F(0.0), F(0.0), F(0.0)
        t5, t6 = F(0.0), F(0.0)
        last_loss, loss_run, last_detail, detail_run = Z(0), Z(0), Z(0), Z(0)
        h0, h1, h2, h3, h4, h5 = F(0.0), F(0.0), F(0.0), F(0.0), F(0.0), F(0.0)
        slot = Z(0)
        i = Z(top - reach)
        line = Z(Z(max(i, Z(0)) >> shift) - first_points)
        next_a, next_b, next_c = fetched(min(max(i, Z(0)), Z(height - 1)), x, planes, reading)
        cuda.syncthreads()
        while i < bottom + reach:
            y = min(max(i, Z(0)), Z(height - 1))
            at = U(Z(y * width) + x)
            a, b, c = next_a, next_b, next_c  # the next row is on its way while this one is done
            below = min(max(Z(i + 1), Z(0)), Z(height - 1))
            next_a, next_b, next_c = fetched(below, x, planes, reading)
            r, g, b, code = reference_of(a, b, c, reading)
            p, q, s, why, cut = asked_of(r, g, b, code, reading)
            if cut:
                why = Z(why | _GAMUT)
            if step == 1:
                lit = cells.grid[at]
            else:
                while line < Z(y >> shift):
                    line = Z(line + 1)
                    h0, h1, h2, h3, h4 = h1, h2, h3, h4, h5
                    h5 = across(x, Z(line + Z(MARGIN + 3)), cells)
                lit = behind(y, h0, h1, h2, h3, h4, h5, cells)
            e0, e1, e2, more = emitted(p, q, s, lit, at, cells)
            why = Z(why | more)
            w, o = asking.asked_weights, asking.own_weights
            n = reading.weights
            y_ref = n[0] * r + n[1] * g + n[2] * b
            y_asked = w[0] * p + w[1] * q + w[2] * s
            y_own = max(o[0] * e0 + o[1] * e1 + o[2] * e2, 0.0)
            j_ref, j_asked, j_own = steps_of(y_ref), steps_of(y_asked), steps_of(y_own)
            j_seen = j_own
            if room:
                j_seen = steps_of(y_own + cells.reflected)
            in_rows = i >= top and i < bottom

            if in_rows:  # noqa: SIM102
                if owner:
                    u, v, z = times(cells.out, e0, e1, e2)
                    m = max(max(r, g), b)
                    loss, fallen = Z(0), F(0.0)
                    if room or (why & _ANY) != 0:
                        most = max(max(max(u, v), z), 0.0)
                        loss, fallen = loss_of(
                            why, m, most, j_ref, j_own, j_seen, y_ref > 0.0, asking
                        )
                    out.loss[at] = np.uint8(loss)
                    counted = shown and y >= asking.active[0] and y < asking.active[1]
                    if counted:
                        if loss != last_loss:
                            cuda.atomic.add(counts, last_loss, loss_run)
                            last_loss, loss_run = loss, Z(0)
                        loss_run = Z(loss_run + 1)
                        t0 += fallen
                        if loss & crushed_any:
                            t1 += abs(j_ref - j_seen)
                        t5 += m
                        t6 = max(t6, m)
                    c0 += y_ref
                    c1 += y_asked
                    c2 += max(y_own - y_asked, 0.0) if why & _FLOOR else F(0.0)
                    c3 += y_own
                    c4 += y_own if why & _HELD else F(0.0)
                    if showing > 0:
                        floats_here[U(3 * t)] = u + cells.reflected
                        floats_here[U(3 * t + 1)] = v + cells.reflected
                        floats_here[U(3 * t + 2)] = z + cells.reflected
                        out.backlight[at] = lit
                    if showing > 1:
                        u, v, z = times(cells.plain, p, q, s)
                        to = U(at * U(3))
                        out.asked[to], out.asked[U(to + 1)], out.asked[U(to + 2)] = u, v, z
                        out.why[at] = np.uint8(why)

            here = U(Z(slot * W) + t)
            half = F(0.5)
            q_ref = Z(j_ref * asking.unit + half)
            q_asked = Z(j_asked * asking.unit + half)
            q_own = Z(j_own * asking.unit + half)
            gone = ring[here]
            sum_light += D(light_at(q_ref, asking)) - D(light_at(gone, asking))
            sum_ref = Z(sum_ref + Z(q_ref - gone))
            ring[here] = q_ref
            sum_asked = Z(sum_asked + Z(q_asked - ring[U(here + asked_ring)]))
            ring[U(here + asked_ring)] = q_asked
            sum_own = Z(sum_own + Z(q_own - ring[U(here + own_ring)]))
            ring[U(here + own_ring)] = q_own
            if room:
                q_seen = Z(j_seen * asking.unit + half)
                sum_seen = Z(sum_seen + Z(q_seen - ring[U(here + seen_ring)]))
                ring[U(here + seen_ring)] = q_seen

            middle = Z(i - reach)
            boxed = middle >= top
            if boxed:
                columns[U(t)] = sum_ref
                columns[U(W + t)] = sum_asked
                columns[U(2 * W + t)] = sum_own
                if room:
                    columns[U(3 * W + t)] = sum_seen
                floats_here[U(luminance_at + t)] = F(sum_light)
            cuda.syncthreads()
            if showing > 0 and in_rows:
                k = t
                start = U(Z(y * width + left) * 3)
                while k < Z(right - left) * 3:
                    out.light[U(start + k)] = floats_here[U(k + 3 * reach)]
                    k = Z(k + W)
            if boxed and owner:
                around, k = F(0.0), Z(-reach)
                while k <= reach:
                    around += floats_here[U(Z(luminance_at + t) + k)]
                    k = Z(k + 1)
                centre = Z(slot - reach)
                centre = Z(centre + BOX) if centre < 0 else centre
                code = Z(0)
                if around >= asking.bright:
                    code = highlight
                elif around <= asking.dark:
                    code = shadow
                before = contrast(ring, columns, Z(0), centre, t)
                counted = shown and middle >= asking.active[0] and middle < asking.active[1]
                if before >= asking.step:
                    code = Z(code | visible)
                    own = contrast(ring, columns, Z(2), centre, t)
                    after = own
                    if room:
                        after = contrast(ring, columns, Z(3), centre, t)
                    if after < asking.step and Z(before - after) >= asking.margin:
                        wanted = contrast(ring, columns, Z(1), centre, t)
                        if wanted < asking.step and Z(before - wanted) >= asking.margin:
                            code = Z(code | lost_curve)
                        elif own < asking.step and Z(before - own) >= asking.margin:
                            code = Z(code | lost_dimming)
                        else:
                            code = Z(code | lost_room)
                        if counted:
                            t2 += F(Z(before - after))
                if counted:
                    if code != last_detail:
                        cuda.atomic.add(counts, Z(last_detail + 64), detail_run)
                        last_detail, detail_run = code, Z(0)
                    detail_run = Z(detail_run + 1)
                    if code & highlight:
                        mid = U(Z(centre * W) + t)
                        wanted_light = light_at(ring[U(mid + asked_ring)], asking)
                        t3 += wanted_light
                        t4 += min(wanted_light, light_at(ring[U(mid + own_ring)], asking))
                out.detail[U(Z(middle * width) + x)] = np.uint8(code)
            cuda.syncthreads()

            if in_rows and y + 1 == next_row:
                floats_here[U(t)] = c0
                floats_here[U(W + t)] = c1
                floats_here[U(2 * W + t)] = c2
                floats_here[U(3 * W + t)] = c3
                floats_here[U(4 * W + t)] = c4
                c0, c1, c2, c3, c4 = F(0.0), F(0.0), F(0.0), F(0.0), F(0.0)
                cuda.syncthreads()
                cells_here = Z(cell_end - cell_first)
                high = Z(next_row - Z(layout.rows[row_of_cells]))
                k = t
                while k < cells_here * SUMS:
                    which, cell = Z(k // cells_here), Z(cell_first + k % cells_here)
                    first, end = Z(layout.columns[cell]), Z(layout.columns[cell + 1])
                    total, col = F(0.0), first
                    while col < end:
                        total += floats_here[U(Z(which * W) + Z(col - left) + reach)]
                        col = Z(col + 1)
                    to = U(Z(Z(which * down_cells) + row_of_cells) * across_cells + cell)
                    out.means[to] = total / F(Z(high * Z(end - first)))
                    k = Z(k + W)
                row_of_cells = Z(row_of_cells + 1)
                if row_of_cells < down_cells:
                    next_row = Z(layout.rows[row_of_cells + 1])
                cuda.syncthreads()
            slot = Z(slot + 1)
            slot = Z(0) if slot == BOX else slot
            i = Z(i + 1)

        if loss_run > 0:
            cuda.atomic.add(counts, last_loss, loss_run)
        if detail_run > 0:
            cuda.atomic.add(counts, Z(last_detail + 64), detail_run)
        floats_here[U(t)] = t0
        floats_here[U(W + t)] = t1
        floats_here[U(2 * W + t)] = t2
        floats_here[U(3 * W + t)] = t3
        floats_here[U(4 * W + t)] = t4
        floats_here[U(5 * W + t)] = t5
        columns[U(t)] = Z(F(t6).view(Z))
        cuda.syncthreads()
        k = t
        while k < 128:
            if counts[U(k)] > 0:
                cuda.atomic.add(out.counts, k, counts[U(k)])
            k = Z(k + W)
        block = Z(segment * Z(cuda.gridDim.x) + strip)
        if t < 6:
            total_of, k = D(0.0), Z(0)
            while k < W:
                total_of += D(floats_here[U(Z(t * W) + k)])
                k = Z(k + 1)
            out.tallies[U(block * TALLIES + t)] = total_of
        if t == 6:
            largest, k = F(0.0), Z(0)
            while k < W:
                largest = max(largest, Z(columns[U(k)]).view(F))
                k = Z(k + 1)
            out.tallies[U(block * TALLIES + 6)] = D(largest)

    return kernel(walk, REGISTERS)
