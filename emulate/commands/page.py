"""`emulate page`: results on one page for viewers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from emulate.commands.accepted import file_to_write
from emulate.commands.terminal import progress, say


def page(
    results: Annotated[
        list[Path],
        typer.Argument(help="Folder that demo, picture, film, compare or whatif has filled."),
    ],
    out: Annotated[
        Path,
        typer.Option("--out", "-o", help="The page.", metavar="FILE", callback=file_to_write),
    ] = Path("page.html"),
    title: Annotated[str, typer.Option(help="Its title.")] = "",
) -> None:
    """Put results on one page: a file that opens anywhere, offline."""
    from emulate import write_report

    with progress(1, "page") as begin:
        made = write_report(results, out, title=title or None, tell=begin)
    say(f"Open {made} in a browser: {made.stat().st_size / 1e6:.1f} MB, all in one file.")
