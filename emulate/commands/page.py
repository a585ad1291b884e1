"""`emulate page`: results on one page for viewers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from emulate.commands.terminal import progress, say


def page(
    results: Annotated[
        list[Path], typer.Argument(help="Folder that demo, picture or film has filled.")
    ],
    out: Annotated[Path, typer.Option("--out", "-o", help="The page.", metavar="FILE")] = Path(
        "page.html"
    ),
    title: Annotated[str, typer.Option(help="Its title.")] = "",
) -> None:
    """Put results on one page for viewers: a single file that opens anywhere, offline."""
    from emulate import write_report

    with progress(1, "page") as begin:
        made = write_report(results, out, title=title or None, tell=begin)
    say(f"Open {made} in a browser: {made.stat().st_size / 1e6:.1f} MB, all in one file.")
