"""`emulate spectrum`: primaries, white and gamut from the spectra of a panel's colours."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from emulate.commands.accepted import file_to_write, panel_files
from emulate.commands.telling import tell_table
from emulate.commands.terminal import columns, say


def spectrum(
    file: Annotated[
        Path, typer.Argument(help="CSV with columns wavelength_nm, red, green, blue, white.")
    ],
    panel: Annotated[
        Path | None,
        typer.Option(
            "--panel",
            "-p",
            help="Panel file that gets the primaries.",
            metavar="FILE",
            autocompletion=panel_files,
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            help="Panel file to write with them.",
            metavar="FILE",
            callback=file_to_write,
        ),
    ] = None,
) -> None:
    """Say which primaries, white and gamut measured spectra give."""
    from dataclasses import replace

    from emulate import find_spectral, load_panel, load_spectra, save_panel
    from emulate.findings.accuracy.spectral import primaries_from_spectra

    if (panel is None) != (out is None):
        raise typer.BadParameter(
            "accepted is --panel with --out: a file, and where to write it anew"
        )
    spectra = load_spectra(file)
    primaries, findings = primaries_from_spectra(spectra), find_spectral(spectra)
    corners = [(name, getattr(primaries, name)) for name in ("red", "green", "blue", "white")]
    columns(("colour", "x", "y"), [(name, f"{x:.4f}", f"{y:.4f}") for name, (x, y) in corners])
    tell_table(findings)
    if panel is not None and out is not None:
        say(f"Wrote {save_panel(replace(load_panel(panel), primaries=primaries), out)}.")
