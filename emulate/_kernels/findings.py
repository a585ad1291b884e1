"""Loops over pixels behind the findings (physics §9).

Light is (h, w, 3) float32 BT.2020 [cd/m²]; `weights` (3,) float64 are its luminance weights.
`table` holds J = 720·PQ⁻¹ at the bounds of equal slices of every octave of float32 from 2^LOW up:
a float's own bits are the place to look, so a step costs no power function. `less` [cd/m²] is the
room's light to take off. `tally` rows are summed by the caller, in order: the thread count cannot
show.
"""

# mypy: disable-error-code="no-untyped-def"

import numpy as np
from numba import njit, prange

LOW = -40  # the table starts at 2⁻⁴⁰ cd/m², where J is within 0.001 of black's
OCTAVES = 54  # up to 2¹⁴, past the 10 000 cd/m² of PQ
SPLIT = 9  # bits of mantissa that pick a slice: 512 an octave, within 0.0002 steps of the formula
BAND = 64  # rows that share one running sum

_BELOW = np.int32((127 + LOW) << 23)  # bits of 2^LOW, IEEE 754 binary32
_REST = 23 - SPLIT
_MASK = np.int32((1 << _REST) - 1)
_SCALE = np.float32(1.0 / (1 << _REST))
_PEAK = np.float32(10000.0)  # SMPTE ST 2084
_DARKEST = 2.0**LOW  # less light than this is black


@njit(cache=True, nogil=True)
def _steps(light, table):
    at = np.float32(min(light, _PEAK)).view(np.int32) - _BELOW
    at = max(at, np.int32(0))
    slot = at >> _REST
    low = table[slot]
    return low + np.float32(at & _MASK) * _SCALE * (table[slot + 1] - low)


@njit(cache=True, nogil=True)
def _luminance(light, y, x, weights):
    return weights[0] * light[y, x, 0] + weights[1] * light[y, x, 1] + weights[2] * light[y, x, 2]


@njit(cache=True, nogil=True)
def _brightest(light, y, x):
    return max(light[y, x, 0], light[y, x, 1], light[y, x, 2])


@njit(cache=True, nogil=True, parallel=True)
def luminance_map(light, weights, less, out):
    """out (h, w) float32: luminance with `less` taken off, never below 0."""
    for y in prange(light.shape[0]):
        for x in range(light.shape[1]):
            out[y, x] = max(_luminance(light, y, x, weights) - less, 0.0)


@njit(cache=True, nogil=True, parallel=True)
def steps_map(luminance, table, out):
    """out (h, w) float32: J of luminance (h, w)."""
    for y in prange(luminance.shape[0]):
        for x in range(luminance.shape[1]):
            out[y, x] = _steps(luminance[y, x], table)


@njit(cache=True, nogil=True, parallel=True)
def brightest_map(light, out):
    """out (h, w) float32: m, the largest channel."""
    for y in prange(light.shape[0]):
        for x in range(light.shape[1]):
            out[y, x] = _brightest(light, y, x)


@njit(cache=True, nogil=True, parallel=True)
def ceiling_codes(why, reference, light, less, table, bits, codes, columns, tally, out):
    """out (h, w) uint8: `codes` of the `bits` of why (n,) where J(M) fell by a step or more.

    tally (h,) float64: steps lost over the marked pixels of a row from columns[0] to columns[1].
    """
    for y in prange(why.shape[0]):
        for x in range(why.shape[1]):
            out[y, x] = 0
            code = np.uint8(0)
            for i in range(bits.shape[0]):
                if why[y, x] & bits[i]:
                    code |= codes[i]
            if code:
                own = np.float32(max(_brightest(light, y, x) - less, 0.0))
                fallen = _steps(_brightest(reference, y, x), table) - _steps(own, table)
                if fallen >= 1:
                    out[y, x] = code
                    if columns[0] <= x < columns[1]:
                        tally[y] += fallen


@njit(cache=True, nogil=True, parallel=True)
def floor_codes(why, luminance, reference, own, seen, black, dark, bits, codes, out):
    """out (h, w) uint8: codes (curve, leak, room) where a shadow is off by a step or more.

    luminance: of the reference; reference, own, seen: J of the reference, of the panel's own light,
    and with the room's; black, dark: J of no light and of the room's alone; bits (curve, leak) of
    why.
    """
    for y in prange(why.shape[0]):
        for x in range(why.shape[1]):
            code = np.uint8(0)
            if luminance[y, x] > 0:
                cause = why[y, x]
                if abs(reference[y, x] - own[y, x]) >= 1:
                    if cause & bits[0]:
                        code |= codes[0]
                    if cause & bits[1]:
                        code |= codes[1]
                at_floor = (cause & (bits[0] | bits[1])) != 0
                drowned = own[y, x] - black >= 1 and seen[y, x] - dark < 1
                off = abs(reference[y, x] - seen[y, x]) >= 1
                if code == 0 and off and (at_floor or drowned):
                    code = codes[2]
            out[y, x] = code


@njit(cache=True, nogil=True)
def _clamped(i, count):
    return min(max(i, 0), count - 1)


@njit(cache=True, nogil=True)
def _lost(before, after, margin):
    return abs(before) >= 1 and abs(after) < 1 and abs(before) - abs(after) >= margin


@njit(cache=True, nogil=True)
def _column_sums(maps, y, reach, sums):
    """sums (5, w): of each map's rows y − reach .. y + reach, edges replicated."""
    sums[:] = 0.0
    for k in range(5):
        for i in range(y - reach, y + reach + 1):
            row = maps[k][_clamped(i, maps[k].shape[0])]
            for x in range(row.shape[0]):
                sums[k, x] += row[x]


@njit(cache=True, nogil=True)
def _move_down(maps, y, reach, sums):
    """Column sums of the box around row y − 1 become those around row y."""
    for k in range(5):
        height = maps[k].shape[0]
        enters = maps[k][_clamped(y + reach, height)]
        leaves = maps[k][_clamped(y - 1 - reach, height)]
        for x in range(enters.shape[0]):
            sums[k, x] += np.float64(enters[x]) - np.float64(leaves[x])


@njit(cache=True, nogil=True)
def _box_means(sums, reach, means):
    """means (5, w): of the boxes along a row from its column sums, edges replicated."""
    width = sums.shape[1]
    share = 1.0 / (2 * reach + 1) ** 2
    for k in range(5):
        total = 0.0
        for i in range(-reach, reach + 1):
            total += sums[k, _clamped(i, width)]
        means[k, 0] = total * share
        for x in range(1, width):
            enters = sums[k, _clamped(x + reach, width)]
            total += enters - sums[k, _clamped(x - 1 - reach, width)]
            means[k, x] = total * share


@njit(cache=True, nogil=True)
def _detail_row(maps, means, y, bounds, margin, codes, columns, out):
    """Codes of row y into out (w,); returns the contrast lost between `columns` [steps]."""
    total = 0.0
    for x in range(out.shape[0]):
        code = np.uint8(0)
        if means[0, x] >= bounds[1]:
            code |= codes[0]
        elif means[0, x] <= bounds[0]:
            code |= codes[1]
        reference = maps[1][y, x] - means[1, x]
        seen = maps[4][y, x] - means[4, x]
        if abs(reference) >= 1:
            code |= codes[2]
        if _lost(reference, seen, margin):
            if _lost(reference, maps[2][y, x] - means[2, x], margin):
                code |= codes[3]
            elif _lost(reference, maps[3][y, x] - means[3, x], margin):
                code |= codes[4]
            else:
                code |= codes[5]
            if columns[0] <= x < columns[1]:
                total += abs(reference) - abs(seen)
        out[x] = code
    return total


@njit(cache=True, nogil=True)
def _detail_band(maps, reach, first, end, bounds, margin, codes, columns, tally, out):
    sums = np.empty((5, out.shape[1]))
    means = np.empty((5, out.shape[1]))
    _column_sums(maps, first, reach, sums)
    for y in range(first, end):
        if y > first:
            _move_down(maps, y, reach, sums)
        _box_means(sums, reach, means)
        tally[y] = _detail_row(maps, means, y, bounds, margin, codes, columns, out[y])


@njit(cache=True, nogil=True, parallel=True)
def detail_codes(maps, reach, bounds, margin, codes, columns, tally, out):
    """out (h, w) uint8: region of each pixel, whether its detail is visible, and what lost it.

    maps: five (h, w) float32: luminance of the reference, then J of the reference, of what was
    asked, of the panel's own light, of what is seen. reach: half the box in pixels. bounds [cd/m²]:
    shadow at most, highlight at least. codes: highlight, shadow, visible, curve, dimming, room.
    tally (h,): contrast lost [steps] over the lost pixels of a row between `columns`.
    Sums are float64 of float32: exact for boxes of up to about 24 pixels, so nothing drifts.
    """
    height = out.shape[0]
    for band in prange((height + BAND - 1) // BAND):
        first = band * BAND
        end = min(first + BAND, height)
        _detail_band(maps, reach, first, end, bounds, margin, codes, columns, tally, out)


@njit(cache=True, nogil=True, parallel=True)
def light_kept(asked, light, less, weights, mask, bits, columns, tally):
    """tally (h, 2): luminance asked, and how much of it is there, where mask has one of `bits`."""
    for y in prange(mask.shape[0]):
        for x in range(columns[0], columns[1]):
            if mask[y, x] & bits:
                wanted = _luminance(asked, y, x, weights)
                own = max(_luminance(light, y, x, weights) - less, 0.0)
                tally[y, 0] += wanted
                tally[y, 1] += min(own, wanted)


@njit(cache=True, nogil=True, parallel=True)
def lift_cells(asked, light, less, why, bit, weights, rows, columns, out):
    """out (2, cells down, cells across): mean asked luminance, and mean lift on the cell's floor.

    rows, columns (2, n): first and end pixel of each cell.
    """
    for i in prange(rows.shape[1]):
        for j in range(columns.shape[1]):
            wanted, lift = 0.0, 0.0
            for y in range(rows[0, i], rows[1, i]):
                for x in range(columns[0, j], columns[1, j]):
                    luminance = _luminance(asked, y, x, weights)
                    wanted += luminance
                    if why[y, x] & bit:
                        own = _luminance(light, y, x, weights) - less
                        lift += max(own - luminance, 0.0)
            pixels = (rows[1, i] - rows[0, i]) * (columns[1, j] - columns[0, j])
            out[0, i, j] = wanted / pixels
            out[1, i, j] = lift / pixels


@njit(cache=True, nogil=True)
def _difference(first, second, scale, table, lms, mix):
    """ΔE_ITP of two lights, the second scaled; mix holds I, T, P by J of L, M, S."""
    i, t, p = np.float32(0), np.float32(0), np.float32(0)
    for k in range(3):
        a = lms[k, 0] * first[0] + lms[k, 1] * first[1] + lms[k, 2] * first[2]
        b = lms[k, 0] * second[0] + lms[k, 1] * second[1] + lms[k, 2] * second[2]
        fallen = _steps(a, table) - _steps(b * scale, table)
        i += mix[0, k] * fallen
        t += mix[1, k] * fallen
        p += mix[2, k] * fallen
    return np.sqrt(i * i + t * t + p * p)


@njit(cache=True, nogil=True, parallel=True)
def colour_steps(reference, light, table, lms, mix, weights, margin, out):
    """out (2, h, w) float32: ΔE_ITP, and ΔE_ITP with `light` scaled to the reference's luminance.

    lms, mix (3, 3) float32. Under `margin` counts as none; where either is black there is no hue to
    compare.
    """
    for y in prange(light.shape[0]):
        for x in range(light.shape[1]):
            first = (reference[y, x, 0], reference[y, x, 1], reference[y, x, 2])
            second = (light[y, x, 0], light[y, x, 1], light[y, x, 2])
            whole = _difference(first, second, np.float32(1), table, lms, mix)
            wanted = _luminance(reference, y, x, weights)
            shown = _luminance(light, y, x, weights)
            hue = np.float32(0)
            if wanted > _DARKEST and shown > _DARKEST:
                hue = _difference(first, second, np.float32(wanted / shown), table, lms, mix)
            out[0, y, x] = whole if whole >= margin else 0
            out[1, y, x] = hue if hue >= margin else 0


@njit(cache=True, nogil=True, parallel=True)
def code_counts(codes, out):
    """out (h, codes): how often each code stands in a row of codes (h, w) uint8."""
    for y in prange(codes.shape[0]):
        for x in range(codes.shape[1]):
            out[y, codes[y, x]] += 1
