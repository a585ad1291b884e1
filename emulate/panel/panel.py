"""The panel on file: its effects put together, in the order light takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from emulate.display import Displayed
from emulate.errors import Caveat
from emulate.panel.cell import Angles, Cell
from emulate.panel.limiter import Limiter
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.surface import Surface
from emulate.panel.timing import Timing
from emulate.panel.tone import Tone
from emulate.panel.tracking import Tracking
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones


@dataclass(frozen=True, eq=False)
class Panel(Displayed):
    """A set on file, format emulate-panel/1; an effect left out is an identity.

    open_cdm2 [L_open]: white with every zone at full drive and the limiter off, cd/m².
    fit: what `fit_panel` knew of its numbers (intervals, covariance, noise), as in the file.
    """

    name: str
    open_cdm2: float
    notes: str = ""
    tone: Tone = field(default_factory=Tone)
    primaries: Primaries = field(default_factory=Primaries)
    tracking: Tracking = field(default_factory=Tracking)
    zones: Zones | SelfEmissive = field(default_factory=SelfEmissive)
    spread: Spread = field(default_factory=Spread)
    limiter: Limiter = field(default_factory=Limiter)
    cell: Cell = field(default_factory=Cell)
    angles: Angles = field(default_factory=Angles)
    uniformity: Uniformity = field(default_factory=Uniformity)
    surface: Surface = field(default_factory=Surface)
    timing: Timing = field(default_factory=Timing)
    fit: Mapping[str, Any] = field(default_factory=dict)
    caveats: tuple[Caveat, ...] = ()
