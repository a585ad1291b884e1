"""Groups of touching pixels (corners count), by the runs that they have in each row."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import numpy as np

from .compiling import inner, kernel


@inner
def _any(codes, bits):
    found = np.uint8(0)
    for x in range(codes.shape[0]):
        found |= codes[x]
    return (found & bits) != 0


PIECE = 64  # pixels that are passed over at once where none of them counts


@kernel
def sums_where(mask, bits, values, out):
    """out (k,): sums of values (k, h·w) float32 where mask (h, w) uint8 has one of `bits`.

    Returns how many pixels there are of those.
    """
    width, count = mask.shape[1], 0
    for y in range(mask.shape[0]):
        for start in range(0, width, PIECE):
            here = mask[y, start : min(start + PIECE, width)]
            if _any(here, bits):
                for x in range(here.shape[0]):
                    if here[x] & bits:
                        count += 1
                        for k in range(out.shape[0]):
                            out[k] += values[k, y * width + start + x]
    return count


@kernel
def count_runs(codes, bits, bounds):
    """How many runs of pixels with one of `bits` there are in codes (h, w) uint8 within bounds."""
    top, bottom, left, right = bounds
    count = 0
    for y in range(top, bottom):
        before = False
        for start in range(left, right, PIECE):
            end = min(start + PIECE, right)
            if _any(codes[y, start:end], bits):
                for x in range(start, end):
                    here = (codes[y, x] & bits) != 0
                    count += here and not before
                    before = here
            else:
                before = False
    return count


@kernel
def find_runs(codes, bits, bounds, runs, firsts):
    """runs (n, 3): row, first and end column of each run; firsts (h + 1,): of each row."""
    top, bottom, left, right = bounds
    count = 0
    for y in range(top, bottom):
        firsts[y - top] = count
        start = -1
        for first in range(left, right, PIECE):
            end = min(first + PIECE, right)
            if start < 0 and not _any(codes[y, first:end], bits):
                continue
            for x in range(first, end):
                here = (codes[y, x] & bits) != 0
                if here and start < 0:
                    start = x
                if not here and start >= 0:
                    runs[count, 0], runs[count, 1], runs[count, 2] = y, start, x
                    count += 1
                    start = -1
        if start >= 0:
            runs[count, 0], runs[count, 1], runs[count, 2] = y, start, right
            count += 1
    firsts[bottom - top] = count


@inner
def _root(roots, i):
    while roots[i] != i:
        roots[i] = roots[roots[i]]
        i = roots[i]
    return i


@kernel
def join_runs(runs, firsts, roots):
    """roots (n,): the first run of each run's group."""
    for i in range(runs.shape[0]):
        roots[i] = i
    for row in range(1, firsts.shape[0] - 1):
        above, end = firsts[row - 1], firsts[row]
        for i in range(end, firsts[row + 1]):
            while above < end and runs[above, 2] < runs[i, 1]:
                above += 1
            j = above
            while j < end and runs[j, 1] <= runs[i, 2]:
                a, b = _root(roots, i), _root(roots, j)
                roots[max(a, b)] = min(a, b)
                j += 1
    for i in range(runs.shape[0]):
        roots[i] = _root(roots, i)


@kernel
def mark_runs(runs, chosen, code, out):
    """Writes `code` into out (h, w) over the chosen runs."""
    for i in range(runs.shape[0]):
        if chosen[i]:
            for x in range(runs[i, 1], runs[i, 2]):
                out[runs[i, 0], x] = code
