"""A finding: one question answered with a value, a unit, a sentence and its definition."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from emulate.display import Displayed
from emulate.errors import Caveat

Unit = Literal[
    "share", "steps", "cd/m²", "degree", "count", "ΔE 2000", "Δu′v′", "ms", "px", "times", "sigmas"
]
Map = NDArray[Any]


@dataclass(frozen=True)
class Finding:
    """value in unit; sentence: what a viewer would say; definition: how it was measured.

    A value that the frame leaves undetermined is NaN, and the sentence says why.
    interval: the 95 % interval that the panel's uncertainty gives the value, where it was asked.
    """

    value: float
    unit: Unit
    sentence: str
    definition: str
    interval: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Findings(Mapping[str, Finding], Displayed):
    """Findings by dotted name (`halo.area`), with the caveats they stand under.

    maps: where each loss is, for the pictures. `loss` (h, w) uint8, bits of `Loss`; `detail` (h, w)
    uint8, bits of `Detail`; `halo_steps` and `halo_lift` [cd/m²] (cells down, cells across)
    float32; `colour` (h, w) float16, ΔE_ITP.
    frame and panel: the names of what was measured. basis: what holds for all of the findings
    (where the viewer sits, the room, what the file's light was taken to mean).
    """

    by_name: Mapping[str, Finding]
    caveats: tuple[Caveat, ...] = ()
    maps: Mapping[str, Map] = field(default_factory=dict)
    frame: str = ""
    panel: str = ""
    basis: str = ""

    def __getitem__(self, name: str) -> Finding:
        return self.by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_name)

    def __len__(self) -> int:
        return len(self.by_name)


@dataclass(frozen=True)
class Difference:
    """One finding of two: the values of both, and the second less the first."""

    name: str
    unit: Unit
    first: float
    second: float

    @property
    def change(self) -> float:
        return self.second - self.first


def differences(first: Findings, second: Findings) -> tuple[Difference, ...]:
    """Every finding that both hold, determined in both, and that is not the same in both."""
    pairs = [
        Difference(name, found.unit, found.value, second[name].value)
        for name, found in first.items()
        if name in second
    ]
    return tuple(pair for pair in pairs if np.isfinite(pair.change) and pair.change != 0)
