"""The twin of the evidence: all of it in one pass over the frame's codes, no picture made.

What it answers is what `Evidence` answers.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import questions as kernels
from emulate._kernels.things import sums_where
from emulate.colorimetry import ITP_SCALE
from emulate.company import arrived
from emulate.cuda.sketch import CardSketch
from emulate.findings.card import OnCard
from emulate.findings.counts import CODES, Counts
from emulate.findings.evidence import (
    CEILINGS,
    CLIPPED_BY,
    CRUSHED_BY,
    FLOORS,
    HIGHLIGHT,
    ROUNDING_STEPS,
    SHADOW,
    Bytes,
    Detail,
    Evidence,
    Starved,
    codes_of,
)
from emulate.findings.finding import Map
from emulate.findings.maps import HIGH, Off, itp_matrices
from emulate.frames.frame import Frame
from emulate.fused.sketch import CAUSE_BITS, WEIGHTS, Levels, Sketch, levels_from, shown_matrices
from emulate.fused.tables import power_of, steps_table
from emulate.fused.tiles import bands, tiles
from emulate.fused.workspace import Histograms, Workspace, working
from emulate.rendering import Cause, Rendering
from emulate.sight import Viewer, box_pixels, cell_counts, steps_from_light
from emulate.values import Numbers, locked

LARGEST_REACH = 26  # px: of larger boxes the integer sums would count in coarse fractions of a step
MOST_STEPS = ITP_SCALE * 1.001  # J of the brightest PQ light, and a little for rounding
BANDS_EACH = 2  # of rows for a thread: boxes need rows around a band, which are looked at twice
DARKEST = 2.0**-40  # cd/m², as the plain kernels have it: less is black and has no hue


def evidence_of(
    frame: Frame,
    rendering: Rendering,
    viewer: Viewer,
    *,
    mapping: bool = True,
    colour: bool = True,
) -> Evidence:
    """The evidence of a rendering: the twin where the rendering is a sketch of this very frame."""
    arrived()
    sketch = rendering.sketch
    if isinstance(sketch, CardSketch) and sketch.frame is frame:
        return OnCard(frame, rendering, viewer, mapping, colour)
    plain = sketch is None or sketch.frame is not frame or not fits(frame.shape, viewer)
    return (Evidence if plain else Twin)(frame, rendering, viewer, mapping, colour)


def fits(shape: tuple[int, int], viewer: Viewer) -> bool:
    """Whether boxes and cells of 0.1° are of a size that the pass can hold."""
    rows, columns = cell_counts(viewer, shape)
    small = box_pixels(viewer, shape[0]) // 2 <= LARGEST_REACH
    return small and rows <= shape[0] and columns <= shape[1] and columns * 128 >= shape[1]


class Found(NamedTuple):
    """What one pass leaves: maps, sums by band and row, and histograms."""

    ask: kernels.Ask
    tint: kernels.Tint
    counted: Histograms


class Twin(Evidence):
    """Evidence from one pass over a sketch."""

    @property
    def sketch(self) -> Sketch:
        """Of the rendering."""
        assert self.rendering.sketch is not None
        return self.rendering.sketch

    @cached_property
    def found(self) -> Found:
        """What the pass left."""
        with working(self.sketch.work) as work:
            pieces = BANDS_EACH * work.threads
            ask = self._ask(pieces)
            tint = self._tint() if self.colour else _NO_TINT
            return Found(ask, tint, _run(self.sketch, work, ask, tint, pieces))

    @property
    def _counts(self) -> Numbers:
        return np.asarray(self.found.ask.counts.sum(axis=0))

    @property
    def _tallies(self) -> Numbers:
        return np.asarray(self.found.ask.tallies.sum(axis=0))

    def blank(self) -> Bytes:
        """As `Evidence.blank`, where the maps of the pass lie."""
        out: Bytes = _map(self.sketch, "blank", self.frame.shape, np.uint8)
        out[:] = 0
        return out

    @cached_property
    def clipped(self) -> tuple[Bytes, float]:
        """As `Evidence.clipped`; the map holds what is crushed too."""
        return locked(self.found.ask.loss.reshape(self.frame.shape)), float(self._tallies[0])

    @cached_property
    def crushed(self) -> Bytes:
        """The same map."""
        return self.clipped[0]

    @property
    def loss(self) -> Bytes:
        """The same map."""
        return self.clipped[0]

    @cached_property
    def detail(self) -> tuple[Bytes, float]:
        """As `Evidence.detail`."""
        ask = self.found.ask
        contrast = self._tallies[2] / (float(ask.unit) * (2 * ask.reach + 1) ** 2)
        return locked(ask.detail.reshape(self.frame.shape)), float(contrast)

    @cached_property
    def loss_counts(self) -> Counts:
        """As `Evidence.loss_counts`."""
        return Counts(self._counts[:4].sum(axis=0), self.area)

    @cached_property
    def detail_counts(self) -> Counts:
        """As `Evidence.detail_counts`."""
        return Counts(self._counts[4:].sum(axis=0), self.area)

    @cached_property
    def crushed_steps(self) -> float:
        """As `Evidence.crushed_steps`."""
        return float(self._tallies[1])

    @cached_property
    def levels(self) -> Levels:  # type: ignore[override]
        """As `Evidence.levels`, percentiles within 1e-4 of themselves."""
        ask = self.found.ask
        return levels_from(self.found.counted.levels, ask.brightest, ask.level, ask.active)

    @cached_property
    def mean_level(self) -> float:
        """As `Evidence.mean_level`."""
        return float(self.found.ask.everywhere.sum()) / (self.frame.shape[0] * self.frame.shape[1])

    @cached_property
    def lift(self) -> tuple[Numbers, Numbers]:
        """As `Evidence.lift`."""
        return self.found.ask.means[0], self.found.ask.means[1]

    @cached_property
    def glances(self) -> Numbers:
        """As `Evidence.glances`."""
        asked, _, own, reference, held, settled = self.found.ask.means
        return np.stack([reference, asked, own, held, settled])

    @cached_property
    def highlights_kept(self) -> tuple[float, float]:
        """As `Evidence.highlights_kept`."""
        return float(self._tallies[3]), float(self._tallies[4])

    def starved(self, mask: Bytes, bits: int) -> Starved:
        """As `Evidence.starved`, for masks of active pixels that the backlight clips."""
        sums = np.zeros(3)
        pixels = sums_where(mask, np.uint8(bits), self.found.ask.starved, sums)
        return Starved(pixels, *sums.tolist())

    def turned_down(self, left: float) -> tuple[float, float]:  # noqa: ARG002
        """As `Evidence.turned_down`."""
        pixels, steps = self._tallies[5:7].tolist()
        return pixels / self.area, steps / pixels if pixels else 0.0

    @cached_property
    def off(self) -> tuple[Map, tuple[Off, Off]]:
        """As `Evidence.off`, the map in half precision; percentiles within 3e-4 of themselves."""
        seen = self.found
        sums = seen.tint.tallies.sum(axis=0)
        both = [
            Off(float(sums[k, 0]) / self.area, _high(counts), *(sums[k, 1:] / self.area).tolist())
            for k, counts in enumerate(seen.counted.offs)
        ]
        whole = seen.tint.whole.view(np.float16).reshape(self.frame.shape)
        return locked(whole), (both[0], both[1])

    def _ask(self, pieces: int) -> kernels.Ask:
        """Everything but colour, asked of the pass."""
        height, width = self.frame.shape
        reach = self.detail_reach
        rows, columns = (_edges(spans) for spans in self.cells)
        limiter, gain = self.rendering.panel.limiter, self.rendering.gain
        free = 1.0 - self.rendering.panel.cell.compensation
        out, plain = shown_matrices(self.sketch)
        return kernels.Ask(
            out=out,
            reflected=np.float32(self.sketch.reflected),
            bits=CAUSE_BITS,
            asked_weights=locked(WEIGHTS @ plain),
            own_weights=locked(WEIGHTS @ out),
            steps=steps_table(),
            unit=np.float32(_unit(2 * reach + 1)),
            reach=reach,
            bounds=(SHADOW, HIGHLIGHT),
            margin=np.float32(ROUNDING_STEPS),
            cell_rows=rows,
            cell_columns=columns,
            tiles=tiles(columns, reach),
            means=np.zeros((6, rows.size - 1, columns.size - 1)),
            moving=int(self.sketch.later is not None),
            unknown=np.float32(limiter.unknown(gain)),
            follows=np.float32(free),
            powers=power_of(free),
            left=np.float32(limiter.unknown(gain)),
            active=self.bounds,
            causes=_CAUSES,
            loss_codes=_LOSSES,
            detail_codes=_DETAILS,
            black=np.float32(steps_from_light(0.0)),
            dark=np.float32(steps_from_light(self.rendering.reflected)),
            loss=_map(self.sketch, "loss", (height * width,), np.uint8),
            starved=_map(self.sketch, "starved", (3, height * width), np.float32),
            detail=_map(self.sketch, "detail", (height * width,), np.uint8),
            counts=np.zeros((pieces, 8, CODES), np.int64),
            tallies=np.zeros((height, 7)),
            brightest=np.zeros(height, np.float32),
            level=np.zeros(height),
            everywhere=np.zeros(height),
        )

    def _tint(self) -> kernels.Tint:
        height, width = self.frame.shape
        lms, mix = itp_matrices()
        return kernels.Tint(
            wanted=1,
            lms=lms,
            mix=mix,
            margin=np.float32(ROUNDING_STEPS),
            darkest=np.float32(DARKEST),
            tallies=np.zeros((height, 2, 3)),
            whole=_map(self.sketch, "whole", (height * width,), np.uint16),
        )


_CAUSES = locked(codes_of(*CEILINGS, *FLOORS, Cause.FLOOR, Cause.FLOOR | Cause.WIDE_OPEN))
_LOSSES = locked(codes_of(*CLIPPED_BY, *CRUSHED_BY))
_DETAILS = locked(codes_of(*Detail))


_NO_TINT = kernels.Tint(
    wanted=0,
    lms=locked(np.zeros((3, 3), np.float32)),
    mix=locked(np.zeros((3, 3), np.float32)),
    margin=np.float32(0.0),
    darkest=np.float32(0.0),
    tallies=np.zeros((1, 2, 3)),
    whole=np.zeros(1, np.uint16),
)


def _run(
    sketch: Sketch, work: Workspace, ask: kernels.Ask, tint: kernels.Tint, pieces: int
) -> Histograms:
    height, width = sketch.frame.shape
    return work.each_with_scratch(
        ask.reach,
        lambda scratch, b: kernels.question_pass(
            scratch,
            *b,
            height,
            width,
            sketch.source,
            sketch.tone,
            sketch.cell,
            sketch.lamps,
            sketch.later or sketch.lamps,
            WEIGHTS,
            ask,
            tint,
        ),
        bands(ask.cell_rows.size - 1, pieces),
        counting=True,
    )


def _unit(box: int) -> float:
    """Integers a step: as many as let the sum over a box stay within 31 bits, a power of two."""
    return float(2.0 ** np.floor(np.log2((2**31 - 1) / (MOST_STEPS * box * box))))


def _edges(spans: NDArray[np.intp]) -> NDArray[np.int64]:
    return locked(np.append(spans[0], spans[1, -1]).astype(np.int64))


def _map(sketch: Sketch, name: str, shape: tuple[int, ...], kind: type[np.generic]) -> NDArray[Any]:
    """Room for a map: the caller's own workspace keeps it, else it is this evidence's alone."""
    keeper = sketch.work
    if keeper is None or keeper.closed:
        return np.empty(shape, kind)
    return keeper.buffer(name, shape, kind)


def _high(counts: NDArray[np.int64]) -> float:
    """95th percentile of ΔE_ITP, the middle of its slice; below the first slice is none."""
    below = np.cumsum(counts)
    index = int(np.searchsorted(below, np.ceil(HIGH / 100 * below[-1])))
    share = ((index & ((1 << kernels.OFF_SPLIT) - 1)) + 0.5) / (1 << kernels.OFF_SPLIT)
    steps = 2.0 ** (kernels.OFF_LOW + (index >> kernels.OFF_SPLIT)) * (1 + share)
    return float(steps) if index else 0.0
