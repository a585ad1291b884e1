"""`emulate scene`: an invented scene or clip as a file, for who has none of their own yet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from emulate.commands.accepted import file_to_write, from_to, scene_names
from emulate.commands.terminal import columns, progress, say
from emulate.errors import RequestError

STILLS, FILMS = (".exr", ".png"), (".mkv", ".mp4")


def scene_and_clip_names() -> list[str]:
    """Names of the invented scenes and clips."""
    from emulate.demo_frames import CLIPS

    return [*scene_names(), *CLIPS]


def scene(
    name: Annotated[
        str | None,
        typer.Argument(
            help="Scene or clip; unsaid: all are listed.", autocompletion=scene_and_clip_names
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            help="File: .exr or .png of a scene, .mkv or .mp4 of a clip.",
            metavar="FILE",
            callback=file_to_write,
        ),
    ] = None,
    rows: Annotated[
        int | None,
        typer.Option(
            help="Height; unsaid: 1080 of a scene, 540 of a clip.", callback=from_to(90, 4320)
        ),
    ] = None,
    peak: Annotated[
        float,
        typer.Option(
            help="Mastering peak it is graded for, cd/m².", callback=from_to(100, 10000, "cd/m²")
        ),
    ] = 4000.0,
) -> None:
    """Write an invented scene or clip as a file; or list them."""
    from emulate.demo_frames import question

    names = scene_and_clip_names()
    if name is None and out is None:
        columns(("name", "what it asks of a panel"), [(each, question(each)) for each in names])
        return
    if name not in names:
        raise RequestError(f"scene {name or 'unsaid'}: accepted is one of {', '.join(names)}")
    size: dict[str, Any] = {} if rows is None else {"rows": rows}
    with progress(1, name) as begin:
        begin(f"making {name}")
        file = _written(name, out, peak=peak, **size)
    say(f"{file}: {question(name)}")


def _written(name: str, out: Path | None, **asked: Any) -> Path:
    """A clip as HDR10, code for code; a scene as light in cd/m², or as PQ that says its master."""
    from emulate import write_clip, write_exr, write_pq_png
    from emulate.demo_frames import CLIPS
    from emulate.demo_frames import clip as clip_named
    from emulate.demo_frames import scene as scene_named

    if name in CLIPS:
        file, film = _accepted(out, name, FILMS), clip_named(name, **asked)
        return write_clip(film, file, rate=film.rate, metadata=film.metadata, fast=True)
    file, still = _accepted(out, name, STILLS), scene_named(name, **asked)
    if file.suffix.lower() == ".exr":
        return write_exr(still.light, file)
    return write_pq_png(still.light, file, still.metadata)


def _accepted(out: Path | None, name: str, suffixes: tuple[str, ...]) -> Path:
    """The file to write. Raises RequestError where it is unsaid or of another kind."""
    if out is None or out.suffix.lower() not in suffixes:
        said = "no file to write" if out is None else str(out)
        raise RequestError(f"{said}: accepted for {name} is --out with {' or '.join(suffixes)}")
    return out
