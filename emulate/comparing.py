"""Comparing: one content over panels and tone curves, from its light to a folder."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from emulate.films.compare import Asked, compare
from emulate.films.comparison import Case, Comparison, save_comparison
from emulate.films.revisit import revisit
from emulate.films.summary import LABELS
from emulate.findings import results
from emulate.findings.saving import save_findings
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.outputs import folder as made_folder
from emulate.outputs import whole_folder
from emulate.panel.file import save_panel
from emulate.panel.panel import Panel
from emulate.pictures.compare import (
    draw_curves_together,
    draw_differences,
    draw_side_by_side,
    view_size,
)
from emulate.pictures.page import Picture, save_drawing
from emulate.pictures.parts import PARTS
from emulate.pictures.sampling import area_mean
from emulate.rendering import Rendering, render
from emulate.sight import Viewer
from emulate.values import Pixels

Tell = Callable[[str], None]


def compare_into(
    content: Frame | Clip,
    panels: Sequence[Panel],
    policies: Sequence[Asked],
    folder: str | os.PathLike[str],
    *,
    viewer: Viewer | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    tell: Tell = lambda _: None,
) -> Comparison:
    """Compares, and puts into `folder` comparison.json, differences.png, curves.png,
    side_by_side.png, and results.json with the parts that a page is made of: all of it, or nothing
    if something goes wrong.

    Of a clip the frame is drawn at which the cases differ most in fine detail. Raises as `compare`
    does, and OutputError where the folder cannot be written.
    """
    terms = {"viewer": viewer, "angle": angle, "room_lux": room_lux}
    found = compare(content, panels, policies, tell=tell, **terms)  # type: ignore[arg-type]
    with whole_folder(folder) as scratch:
        tell("drawing")
        save_comparison(found, scratch / "comparison.json")
        differences = save_drawing(draw_differences(found), scratch / "differences.png")
        light = _draw_light(content, found, (angle, room_lux), scratch)
        entry = _entry(found, [differences, *light], _case_files(found, scratch))
        results.save_results((entry, *_panel_entries(found, scratch)), scratch)
    return found


def _case_files(found: Comparison, folder: Path) -> list[str]:
    """Findings of each case, for a page; their files."""
    parts = made_folder(folder / PARTS)
    files = [parts / f"case_{number}.json" for number in range(1, len(found.cases) + 1)]
    for case, file in zip(found.cases, files, strict=True):
        save_findings(case.findings, file)
    return [f"{PARTS}/{file.name}" for file in files]


def _panel_entries(found: Comparison, folder: Path) -> list[results.PanelEntry]:
    """Each panel once, with its file."""
    panels = list({id(case.panel): case.panel for case in found.cases}.values())
    files = [f"{PARTS}/panel_{number}.toml" for number in range(1, len(panels) + 1)]
    for panel, file in zip(panels, files, strict=True):
        save_panel(panel, folder / file)
    return [results.PanelEntry(panel.name, file) for panel, file in zip(panels, files, strict=True)]


def _entry(found: Comparison, pictures: list[Picture], findings: list[str]) -> results.Comparison:
    """What a page needs of it."""
    told = found.cases[0].findings
    claims = [
        results.Claim(
            line.name,
            line.unit,
            tuple(value if np.isfinite(value) else None for value in line.values),
            told[line.name].definition,
            LABELS.get(line.name, ""),
            best=line.best,
        )
        for line in found.lines
    ]
    labels = tuple(case.label for case in found.cases)
    shown = [results.Illustration(each.path.name, each.title, each.alt) for each in pictures]
    return results.Comparison(
        f"{found.content}: {' or '.join(labels)}",
        labels,
        tuple(claims),
        found.sentence,
        found.basis,
        tuple(shown),
        tuple(findings),
    )


def _draw_light(
    content: Frame | Clip, found: Comparison, terms: tuple[float, float], folder: Path
) -> list[Picture]:
    """Curves and views, one case rendered at a time."""
    views: dict[str, Pixels] = {}
    made = []
    for case in found.cases:
        frame, rendering = _seen(content, found, case, *terms)
        if not views:
            drawing = draw_curves_together(frame, rendering, found)
            made.append(save_drawing(drawing, folder / "curves.png"))
        views[case.label] = area_mean(rendering.light, view_size(frame.shape))
        del rendering
    drawing = draw_side_by_side(frame, found, views)
    return [*made, save_drawing(drawing, folder / "side_by_side.png")]


def _seen(
    content: Frame | Clip, found: Comparison, case: Case, angle: float, room_lux: float
) -> tuple[Frame, Rendering]:
    """The frame to draw and what a case makes of it, in a clip from where it stood."""
    if isinstance(content, Frame):
        rendering = render(content, case.panel, policy=case.policy, angle=angle, room_lux=room_lux)
        return content, rendering
    films = [each.film for each in found.cases if each.film is not None]
    row = int(np.argmax(np.ptp([film.table["detail.area"] for film in films], axis=0)))
    film = case.film
    assert film is not None  # every case of a clip has one
    index = int(film.table.index[row])
    seen = next(iter(revisit(content, case.panel, film, [index])))
    return replace(seen.frame, name=f"{content.name}, frame {index}"), seen.rendering
