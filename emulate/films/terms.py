"""Terms: how a film is looked at, the same for every frame of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.panel.curves import Curve
from emulate.panel.policy import Policy
from emulate.sight import Viewer


@dataclass(frozen=True, eq=False)
class Terms:
    """policy: which tone curve acts, None = the panel's own habit. angle [degree] off axis;
    room_lux [lux]; viewer."""

    policy: str | Policy | Curve | None = None
    angle: float = 0.0
    room_lux: float = 0.0
    viewer: Viewer = field(default_factory=Viewer)
