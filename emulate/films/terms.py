"""Terms: how a film is looked at, the same for every frame of it; and how a time is written."""

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


def timecode(time_s: float) -> str:
    """Hours, minutes, seconds and milliseconds, rounded: `00:01:03.250`."""
    milliseconds = round(time_s * 1000)
    minutes, milliseconds = divmod(milliseconds, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
