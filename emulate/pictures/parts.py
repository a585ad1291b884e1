"""Parts: what a page needs of one still, kept beside its findings in a results folder."""

from __future__ import annotations

from pathlib import Path

from emulate.findings.finding import Findings
from emulate.findings.results import Closeup, Layer, Still
from emulate.frames.compact import webp_bytes
from emulate.frames.frame import Frame
from emulate.frames.writing import HALF_PEAK, write_exr
from emulate.outputs import folder as made_folder
from emulate.outputs import write_bytes
from emulate.panel.file import save_panel
from emulate.pictures.closeup import LARGEST, Spot, part_of, worst_spot
from emulate.pictures.layers import overlays
from emulate.pictures.wipe import WIDTH, exposures, page_light, page_size
from emulate.rendering import Rendering
from emulate.values import Pixels

PARTS = "page"  # folder of the parts
FINDINGS = "findings.json"
PANEL = "panel.toml"


def write_parts(
    frame: Frame,
    rendering: Rendering,
    findings: Findings,
    folder: Path,
    *,
    question: str = "",
    width: int = WIDTH,
) -> Still:
    """Writes the parts into `folder`/page, and the entry for its list.

    Both pictures as light at the size of a page (half EXR: eleven bits, eight times finer than an
    8-bit code; float where light passes what half holds), the layers of loss, the worst spot, and
    the panel's file. findings: with maps, as `measure` gives them; their own file is FINDINGS.
    Raises OutputError where it cannot be written.
    """
    parts = made_folder(folder / PARTS)
    save_panel(rendering.panel, parts / PANEL)
    _write(page_light(frame.light, width), parts / "reference.exr")
    _write(page_light(rendering.light, width), parts / "shown.exr")
    return Still(
        scene=frame.name,
        panel=rendering.panel.name,
        findings=FINDINGS,
        panel_file=f"{PARTS}/{PANEL}",
        reference=f"{PARTS}/reference.exr",
        shown=f"{PARTS}/shown.exr",
        exposures=exposures(frame, rendering),
        layers=_layers(findings, page_size(frame.shape, width), parts),
        closeup=_closeup(frame, rendering, worst_spot(frame, rendering, findings), parts),
        question=question,
    )


def _write(light: Pixels, path: Path) -> None:
    """Half where half can hold it: a sun in a scene-linear file is brighter than that."""
    write_exr(light, path, half=bool(light.max() <= HALF_PEAK))


def _layers(findings: Findings, size: tuple[int, int], parts: Path) -> tuple[Layer, ...]:
    made = overlays(findings, size)
    for each in made:
        write_bytes(parts / f"{each.name}.webp", webp_bytes(each.codes))
    return tuple(
        Layer(each.name, each.title, f"{PARTS}/{each.name}.webp", each.causes) for each in made
    )


def _closeup(frame: Frame, rendering: Rendering, spot: Spot, parts: Path) -> Closeup:
    for name, light in (("reference", frame.light), ("shown", rendering.light)):
        near = page_light(part_of(light, spot.box), LARGEST)
        _write(near, parts / f"spot_{name}.exr")
    return Closeup(
        f"{PARTS}/spot_reference.exr",
        f"{PARTS}/spot_shown.exr",
        spot.box,
        frame.shape,
        spot.white,
        spot.sentence,
    )
