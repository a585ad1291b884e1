"""A finding: one question answered with a value, a unit, a sentence and its definition."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from emulate.errors import Caveat
from emulate.values import Pixels


@dataclass(frozen=True)
class Finding:
    """value in unit; sentence: what a viewer would say; definition: how it was measured.

    interval: the 95 % interval that the panel's uncertainty gives the value, where it was asked.
    """

    value: float
    unit: str
    sentence: str
    definition: str
    interval: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Findings(Mapping[str, Finding]):
    """Findings by dotted name (`halo.area`), with the caveats they stand under.

    maps: where each loss is, by name: (h, w) or cells (rows, columns) float32 or uint8, for the
    pictures. frame and panel: the names of what was measured.
    """

    by_name: Mapping[str, Finding]
    caveats: tuple[Caveat, ...] = ()
    maps: Mapping[str, Pixels] | None = None
    frame: str = ""
    panel: str = ""

    def __getitem__(self, name: str) -> Finding:
        return self.by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_name)

    def __len__(self) -> int:
        return len(self.by_name)
