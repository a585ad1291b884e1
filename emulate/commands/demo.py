"""`emulate demo`: the invented scenes on the invented panels, and an invented session."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from emulate.commands.accepted import scene_names, words
from emulate.commands.options import Out
from emulate.commands.session import show_session
from emulate.commands.telling import tell_scene
from emulate.commands.terminal import one_of, progress, say

if TYPE_CHECKING:
    from emulate.findings.finding import Findings


def demo(
    out: Out = Path("demo"),
    size: Annotated[
        str,
        typer.Option(
            help="full: 1920×1080; small: 960×540, in a third of the time.",
            autocompletion=words("full", "small"),
        ),
    ] = "full",
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--scene", help="Only this scene; may be given again.", autocompletion=scene_names
        ),
    ] = None,
    readings: Annotated[
        bool | None,
        typer.Option(help="Fit a panel to invented readings; unsaid: with all scenes."),
    ] = None,
) -> None:
    """Show invented scenes on invented panels, into a folder."""
    from emulate import load_panel
    from emulate.compiling import compile_aside
    from emulate.demo_frames import SCENES, panel_files, question, scene
    from emulate.findings.results import Folder, save_results
    from emulate.pictures.wipe import MANY_WIDTH
    from emulate.showing import show

    rows = one_of("--size", size, {"full": 1080, "small": 540})
    panels = {file.stem: load_panel(file) for file in panel_files()}
    found: dict[str, Findings] = {}
    scenes = [one_of("--scene", name, {each: each for each in SCENES}) for name in only or SCENES]
    for name in scenes:
        with progress(len(panels), name) as begin:
            frame = scene(name, rows=rows)
            compile_aside(frame, next(iter(panels.values())))
            for stem, on_file in panels.items():
                begin(f"{name} on {on_file.name}")
                asked = {"question": question(name), "page_width": MANY_WIDTH}
                found[stem] = show(frame, on_file, out / name / stem, light=False, **asked)
        tell_scene(name, found)
    shown = [Folder(f"{name}/{stem}") for name in scenes for stem in panels]
    if only is None if readings is None else readings:
        fitted = show_session(out / "readings", rows, page_width=MANY_WIDTH)
        shown.append(Folder(fitted.relative_to(out).as_posix()))
    save_results(tuple(shown), out)
    first = out / scenes[min(1, len(scenes) - 1)] / next(iter(panels)) / "pair.png"
    say(
        f"Open {first} first: reference and panel side by side. Beside it loss.png says where and "
        f"why, halo.png how far the glow reaches; so for every scene and panel in {out}. "
        f"emulate page {out} --out page.html puts it all on one page."
    )
