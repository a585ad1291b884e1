"""When the twin may stand in for the plain recipe."""

from __future__ import annotations

from emulate.frames.frame import Frame
from emulate.fused.source import holds_signal
from emulate.fused.tables import HIGHEST, OFF, tracking_of
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones

LARGEST_GRAIN = 128  # px, of cells that a tile holds many of


def fits(frame: Frame, panel: Panel) -> bool:
    """Whether the twin is within its bounds of the plain recipe for this frame and panel.

    Tracking that turns sharper than its table does not fit, nor more zones than pixels, nor grain
    of many pixels, nor light in arrays that is brighter than the tables go.
    """
    zones = panel.zones
    if tracking_of(panel.tracking).off > OFF:
        return False
    if not holds_signal(frame) and frame.brightest >= HIGHEST:
        return False
    if not isinstance(zones, Zones):
        return True
    rows, columns = frame.shape
    return zones.rows <= rows and zones.columns <= columns and zones.grain_px <= LARGEST_GRAIN
