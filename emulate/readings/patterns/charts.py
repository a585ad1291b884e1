"""Charts of 24 and 140 patches, one patch a slide, chart white at a stated light.

The published averages come from colour-science (xyY under the D50-like illuminant of ICC profiles,
measured after November 2014); they are adapted to D65 by CAT02 and shown as BT.2020 light.
"""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np

from emulate.colorimetry import D65, colour_science, rgb_from_xyz, xyz_from_xyy
from emulate.readings.patterns.colours import colour_patch
from emulate.readings.patterns.place import Shape
from emulate.readings.stimulus import Kind, Stimulus
from emulate.values import Numbers

CHARTS: dict[Kind, str] = {  # how colour-science calls them
    "chart24": "ColorChecker24 - After November 2014",
    "chart140": "ColorCheckerSG - After November 2014",
}
CHART_WHITE = 100.0  # cd/m² that reflectance 1 stands for, ours


def chart(kind: Kind, shape: Shape, peak: float, white: float = CHART_WHITE) -> list[Stimulus]:
    """Every patch of a chart in a window of 10 % of the area; `white` [cd/m²]: reflectance 1."""
    return [
        colour_patch(kind, f"{kind}_{name}", white * light, shape, peak)
        for name, light in chart_light(kind).items()
    ]


@lru_cache(maxsize=2)
def chart_light(kind: Kind) -> dict[str, Numbers]:
    """BT.2020 light (3,) of each patch by name, reflectance 1 at 1; negative light is 0."""
    colour = colour_science()
    data = colour.CCS_COLOURCHECKERS[CHARTS[kind]]
    xyz = xyz_from_xyy(np.array(list(data.data.values())))
    source, target = (_white(xy) for xy in (data.illuminant, D65))
    adapted = colour.chromatic_adaptation(xyz, source, target)
    names = [re.sub(r"[^A-Za-z0-9]+", "_", name).strip("_") for name in data.data]
    light = np.maximum(rgb_from_xyz(adapted), 0.0)
    return dict(zip(names, light, strict=True))


def _white(xy: tuple[float, float]) -> Numbers:
    return xyz_from_xyy([xy[0], xy[1], 1.0])
