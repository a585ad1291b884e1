"""How many pixels of the active picture carry each code of a map of bits."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

CODES = 128  # maps of findings use seven bits at most


class Counts(NamedTuple):
    """by_code (CODES,): pixels of each code; pixels: of the active picture."""

    by_code: NDArray[np.int64]
    pixels: int

    def of(self, some: int) -> int:
        """Pixels whose code has one of the bits `some`."""
        return self.of_both(some, 0, 0)

    def of_both(self, some: int, within: int, outside: int) -> int:
        """Pixels whose code has one of the bits `some`, all of `within` and none of `outside`."""
        codes = np.arange(self.by_code.size)
        wanted = (codes & int(some) != 0) & (codes & int(within) == int(within))
        return int(self.by_code[wanted & (codes & int(outside) == 0)].sum())

    def share(self, some: int) -> float:
        """Share of the active picture whose code has one of the bits `some`."""
        return self.of(some) / self.pixels


def counted(codes: NDArray[np.uint8]) -> Counts:
    """Counts of a map (h, w) of the active picture."""
    from emulate._kernels.findings import code_counts

    by_row = np.zeros((codes.shape[0], CODES), np.int64)
    code_counts(codes, by_row)
    return Counts(by_row.sum(axis=0), codes.size)
