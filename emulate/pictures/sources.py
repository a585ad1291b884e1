"""Source lines: what a picture was made of, at its foot; and what findings say, in words."""

from __future__ import annotations

from emulate.errors import Caveat
from emulate.findings.finding import Findings
from emulate.frames.frame import Frame
from emulate.panel.panel import Panel
from emulate.pictures.page import shortened
from emulate.rendering import Rendering

SDR_NOTE = "Colours beyond BT.709 are shown at its edge."


def source(frame: Frame, rendering: Rendering, findings: Findings) -> str:
    """Frame, panel, viewer and room, with the number of doubts they stand under."""
    names = f"Frame: {shortened(frame.name)}. Panel: {shortened(rendering.panel.name)}."
    return " ".join(filter(None, [names, findings.basis, _doubts(findings.caveats)]))


def panel_source(panel: Panel) -> str:
    """The panel, with the number of doubts it stands under."""
    return " ".join(filter(None, [f"Panel: {shortened(panel.name)}.", _doubts(panel.caveats)]))


def readings_source(findings: Findings) -> str:
    """The panel as the reviewer called it, and the readings, with their doubts."""
    name = f"Panel: {shortened(findings.panel)}." if findings.panel else ""
    return " ".join(filter(None, [name, findings.basis, _doubts(findings.caveats)]))


def told(findings: Findings, *roots: str) -> str:
    """The sentences of all findings under some first names (`grey` for grey.shift)."""
    names = [name for name in findings if name.split(".")[0] in roots]
    return said(findings, *names)


def said(findings: Findings, *names: str) -> str:
    """The sentences of findings by name, one after another."""
    return " ".join(findings[name].sentence for name in names)


def _doubts(caveats: tuple[Caveat, ...]) -> str:
    count = len(caveats)
    if not count:
        return ""
    return f"{count} doubt{'s' * (count > 1)} listed with the findings."
