"""The evidence of a frame that a graphics card holds: findings of luminance in one pass there.

What the pass does not keep (colour, percentiles, the light of small things) is answered from the
pictures, as `Evidence` does.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from emulate.cuda.sketch import CardSketch
from emulate.findings.counts import Counts
from emulate.findings.evidence import (
    CLIPPED_BY,
    CRUSHED_BY,
    HIGHLIGHT,
    ROUNDING_STEPS,
    SHADOW,
    Bytes,
    Detail,
    Evidence,
)
from emulate.values import Numbers, locked

if TYPE_CHECKING:
    from emulate.cuda.card import Found
    from emulate.cuda.picture import Terms


def terms() -> Terms:
    """How findings are told, as the card takes it."""
    from emulate.cuda.picture import Codes, Terms

    codes = Codes(*map(int, (*CLIPPED_BY, *CRUSHED_BY, *Detail)))
    return Terms(codes, SHADOW, HIGHLIGHT, ROUNDING_STEPS)


class OnCard(Evidence):
    """Evidence from one pass on the card that made the rendering."""

    @cached_property
    def found(self) -> Found:
        """What the pass left."""
        sketch = self.rendering.sketch
        assert isinstance(sketch, CardSketch)
        assert sketch.card is not None
        assert sketch.on_card is not None
        return sketch.card.found(sketch.on_card, self.viewer, terms())

    @property
    def _area(self) -> int:
        top, bottom, left, right = self.bounds
        return (bottom - top) * (right - left)

    @cached_property
    def clipped(self) -> tuple[Bytes, float]:
        """As `Evidence.clipped`; the map holds what is crushed too."""
        return locked(self.found.loss), self.found.clipped

    @cached_property
    def crushed(self) -> Bytes:
        """The same map."""
        return self.clipped[0]

    @cached_property
    def detail(self) -> tuple[Bytes, float]:
        """As `Evidence.detail`."""
        return locked(self.found.detail), self.found.contrast

    @cached_property
    def loss_counts(self) -> Counts:
        """As `Evidence.loss_counts`."""
        return Counts(self.found.loss_counts, self._area)

    @cached_property
    def detail_counts(self) -> Counts:
        """As `Evidence.detail_counts`."""
        return Counts(self.found.detail_counts, self._area)

    @cached_property
    def crushed_steps(self) -> float:
        """As `Evidence.crushed_steps`."""
        return self.found.crushed

    @cached_property
    def lift(self) -> tuple[Numbers, Numbers]:
        """As `Evidence.lift`."""
        return self.found.means[1], self.found.means[2]

    @cached_property
    def glances(self) -> Numbers:
        """As `Evidence.glances`; from the pictures where the zones have not arrived."""
        if not np.array_equal(self.rendering.gain * self.rendering.called, self.rendering.drive):
            return super().glances
        reference, asked, _, own, held = self.found.means
        return np.stack([reference, asked, own, held, own])

    @cached_property
    def highlights_kept(self) -> tuple[float, float]:
        """As `Evidence.highlights_kept`."""
        return self.found.asked, self.found.kept
