"""Zones: how bright each zone is driven for the picture above it (physics §5.1, 5.2, 5.4).

Every light source answers the same questions: what drive it aims at, what load that is to the
limiter, how the drive moves there, and how much a closed cell lets by.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.errors import RequestError
from emulate.panel.pace import moved
from emulate.values import Numbers, Pixels


@dataclass(frozen=True)
class Zones:
    """A grid of zones and how it is driven; symbols of physics §5 in brackets.

    rows [R], columns [C]; grain_px [n]; peak_weight [a]; gamma [γ]; cut; floor [u_min]; reach [w];
    attack_s and decay_s [τ], latency_frames, resets_at_cuts: how it moves in time.
    """

    rows: int
    columns: int
    grain_px: int = 4
    peak_weight: float = 1.0
    gamma: float = 1.0
    cut: float = 0.0
    floor: float = 0.0
    reach: float = 0.0
    attack_s: float = 0.0
    decay_s: float = 0.0
    latency_frames: int = 0
    resets_at_cuts: bool = True

    def target(self, asked: Pixels, open_cdm2: float) -> Numbers:
        """Drive [v] (rows, columns) that light asked (h, w, 3) [cd/m²] calls for, settled.

        Raises RequestError where the picture has fewer pixels than zones in either direction.
        """
        return self.called_for(statistics(asked, open_cdm2, self))

    def seen(self, asked: Pixels, open_cdm2: float) -> Statistics:
        """What the zones see of light asked (h, w, 3) [cd/m²]; RequestError as `target`."""
        return statistics(asked, open_cdm2, self)

    def called_for(self, seen: Statistics) -> Numbers:
        """Drive [v] (rows, columns) that what the zones see calls for, settled."""
        return reached(driven(seen, self), self.reach)

    def load(self, seen: Statistics, target: Numbers) -> float:  # noqa: ARG002
        """Load on the limiter, 0..1: the mean drive called for (physics §5.5)."""
        return float(target.mean())

    def moved(self, drive: Numbers, target: Numbers, since_s: float) -> Numbers:
        """Drive since_s later, on its way to target (rows, columns)."""
        return moved(drive, target, since_s, self.attack_s, self.decay_s)

    def leak(self, contrast: float) -> float:
        """Share of the light that a closed cell of this contrast lets by [1/CR]."""
        return 1.0 / contrast


@dataclass(frozen=True)
class SelfEmissive:
    """No zones: every pixel is its own light, and the load is the picture's mean (physics §5.5)."""

    latency_frames: ClassVar[int] = 0
    resets_at_cuts: ClassVar[bool] = False  # a limiter of power does not know what a scene is

    def target(self, asked: Pixels, open_cdm2: float) -> Numbers:  # noqa: ARG002
        """Full drive (1, 1): the light is in the pixels."""
        return np.ones((1, 1))

    def seen(self, asked: Pixels, open_cdm2: float) -> Statistics:
        """The mean of all channels of light asked (h, w, 3) [cd/m²] over white's."""
        from emulate._kernels.zones import row_sums

        sums = np.empty(asked.shape[0])
        row_sums(asked, sums)
        fill = min(float(sums.sum()) / (asked.size * open_cdm2), 1.0)
        return Statistics(np.ones((1, 1)), np.ones((1, 1)), fill)

    def called_for(self, seen: Statistics) -> Numbers:  # noqa: ARG002
        """Full drive (1, 1): the light is in the pixels."""
        return np.ones((1, 1))

    def load(self, seen: Statistics, target: Numbers) -> float:  # noqa: ARG002
        """Load on the limiter, 0..1: the mean of all channels over white's."""
        return seen.fill

    def moved(self, drive: Numbers, target: Numbers, since_s: float) -> Numbers:  # noqa: ARG002
        """Full drive, always."""
        return target

    def leak(self, contrast: float) -> float:  # noqa: ARG002
        """Nothing: a pixel that is off makes no light (physics §6)."""
        return 0.0


Source = Zones | SelfEmissive


class Statistics(NamedTuple):
    """peak [peak_z] and mean [mean_z] of g over each zone (rows, columns), 0..1.

    fill: the mean of all channels over white's, which only a panel without zones looks at.
    """

    peak: Numbers
    mean: Numbers
    fill: float = 0.0


def statistics(asked: Pixels, open_cdm2: float, zones: Zones) -> Statistics:
    """What each zone sees of light asked (h, w, 3) [cd/m²]; RequestError as `Zones.target`."""
    from emulate._kernels.zones import zone_statistics

    height, width, _ = asked.shape
    _refuse_more_zones_than_pixels(zones, height, width)
    peak, mean = np.empty((zones.rows, zones.columns)), np.empty((zones.rows, zones.columns))
    edges = zone_edges(zones.rows, height), zone_edges(zones.columns, width)
    zone_statistics(asked, open_cdm2, *edges, zones.grain_px, peak, mean)
    return Statistics(np.minimum(peak, 1.0), np.minimum(mean, 1.0))


def zone_edges(count: int, extent: int) -> NDArray[np.int64]:
    """First pixel of each of `count` zones over `extent` pixels, and the end (count + 1,)."""
    return np.arange(count + 1, dtype=np.int64) * extent // count


def driven(seen: Statistics, zones: Zones) -> Numbers:
    """Drive [u] (rows, columns) of each zone for itself alone (physics §5.2)."""
    share = zones.peak_weight * seen.peak + (1 - zones.peak_weight) * seen.mean
    return np.where(share <= zones.cut, 0.0, np.maximum(zones.floor, share**zones.gamma))


def reached(drive: Numbers, reach: float) -> Numbers:
    """Drive [v] (..., rows, columns): each zone at least `reach` times its brightest neighbour."""
    rows, columns = drive.shape[-2:]
    around = np.pad(drive, [(0, 0)] * (drive.ndim - 2) + [(1, 1)] * 2)
    nine = [around[..., r : r + rows, c : c + columns] for r in range(3) for c in range(3)]
    return np.asarray(np.maximum(drive, reach * np.max(nine, axis=0)))


def _refuse_more_zones_than_pixels(zones: Zones, height: int, width: int) -> None:
    if zones.rows > height or zones.columns > width:
        raise RequestError(
            f"panel zones {zones.columns} × {zones.rows} on a picture of {width} × {height} px: "
            "accepted is at most one zone a pixel, in either direction"
        )
