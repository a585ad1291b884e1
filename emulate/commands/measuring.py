"""Commands of a session with the meter: patterns, accuracy, fit, check."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from emulate.commands.accepted import above, folder_to_fill, from_to, words
from emulate.commands.options import OutOrNot, PanelFirst, PanelOut
from emulate.commands.telling import tell_accuracy, tell_fit, tell_trust, tell_verdict
from emulate.commands.terminal import one_of, progress, say
from emulate.readings.patterns.families import FAMILIES

if TYPE_CHECKING:
    from emulate.findings.trust import Trust
    from emulate.panel.panel import Panel
    from emulate.readings.readings import Readings

Files = Annotated[
    list[Path], typer.Argument(help="Filled sheet, meter files (CSV, CGATS), traces.")
]
Units = Annotated[
    str | None, typer.Option(help="Unit of light where a file does not say it: cd/m² or fL.")
]
ZoneGrid = Annotated[
    str | None,
    typer.Option("--zones", help="COLUMNSxROWS, or none; unsaid: counted from the crawling box."),
]
SCREENS = ("3840x2160", "1920x1080")


def patterns(
    out: Annotated[
        Path,
        typer.Argument(help="Folder for stills, clips, sheet and traces.", callback=folder_to_fill),
    ],
    size: Annotated[
        str,
        typer.Option(help="COLUMNSxROWS of the screen.", autocompletion=words(*SCREENS)),
    ] = SCREENS[0],
    peak: Annotated[
        list[int] | None,
        typer.Option(
            help="Mastering peak, cd/m²; may be given again.",
            callback=from_to(200, 10000, "cd/m²"),
        ),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--only",
            help=f"Only this family, of {', '.join(FAMILIES)}; may be given again.",
            autocompletion=words(*FAMILIES),
        ),
    ] = None,
    repeats: Annotated[
        int,
        typer.Option(help="Looks at each near black, window and box.", callback=from_to(1, 20)),
    ] = 2,
    stills: Annotated[bool, typer.Option(help="Write 48-bit PNG stills.")] = True,
    clips: Annotated[bool, typer.Option(help="Write HDR10 clips.")] = True,
    decimal: Annotated[
        str,
        typer.Option(help="point or comma, in the sheet.", autocompletion=words("point", "comma")),
    ] = "point",
) -> None:
    """Write what to put on screen, and the sheet for the meter."""
    from emulate import write_patterns

    across, down = _pair("--size", size)
    chosen: dict[str, Any] = {"families": only} if only else {}
    mark = one_of("--decimal", decimal, {"point": ".", "comma": ","})
    with progress(1, "patterns") as begin:
        written = write_patterns(
            out,
            shape=(down, across),
            peaks=peak or (1000, 4000, 10000),
            repeats=repeats,
            stills=stills,
            clip=clips,
            decimal=mark,
            progress=lambda what, done, total: _now_and_then(begin, what, done, total),
            **chosen,
        )
    for caution in written.cautions.splitlines():
        say(caution)
    say(
        f"Wrote {_counted(written.files)} in {out}. Fill {written.sheet} while the meter looks, "
        f"about {written.minutes:.0f} minutes; then emulate fit {written.sheet} -o mine.toml."
    )


def accuracy(readings: Files, out: OutOrNot = None, units: Units = None) -> None:
    """Say how accurate a panel is, from its readings alone."""
    from emulate import find_accuracy, load_readings, save_findings
    from emulate.outputs import whole_folder
    from emulate.pictures.accuracy import draw_accuracy

    found = find_accuracy(load_readings(readings, units=units))
    if out is not None:
        with progress(1, "drawing") as begin, whole_folder(out) as scratch:
            begin("drawing the tables")
            draw_accuracy(found, scratch)
            save_findings(found.findings, scratch / "accuracy.json")
    tell_accuracy(found)


def fit(
    readings: Files,
    out: PanelOut,
    name: Annotated[str, typer.Option(help="What the panel is called.")] = "",
    zones: ZoneGrid = None,
    noise: Annotated[
        float | None,
        typer.Option(
            help="Scatter of one look, %; unsaid: told by repeats.", callback=above(0, 50, "%")
        ),
    ] = None,
    units: Units = None,
) -> None:
    """Make a panel file of readings, and say how sure it is."""
    from emulate import fit_panel, load_readings, predictions, save_panel
    from emulate.findings.verdict import with_verdict

    with progress(3, "reading") as begin:
        session = load_readings(readings, units=units)
        begin(f"fitting {len(session)} readings")
        scatter = None if noise is None else noise / 100
        panel = fit_panel(session, name=name, zones=_grid(zones), noise=scatter)
        begin("showing the panel what the meter saw")
        closed = predictions(panel, session)
        save_panel(with_verdict(panel, closed), out)
    tell_verdict(closed, panel)
    tell_fit(panel, session)
    listed = " ".join(str(file) for file in readings)
    say(f"Next: emulate check {out} {listed}, then emulate picture FRAME --panel {out} -o seen.")


def check(
    panel: PanelFirst,
    readings: Files,
    out: OutOrNot = None,
    held_out: Annotated[
        bool, typer.Option(help="Also predict each group from a fit that never saw it.")
    ] = True,
    units: Units = None,
) -> None:
    """Set readings beside what a panel file predicts of them."""
    from emulate import load_panel, load_readings

    with progress(3, "reading") as begin:
        on_file, session = load_panel(panel), load_readings(readings, units=units)
        trusts = trusted(on_file, session, held_out, begin)
        if out is not None:
            write_trust(trusts, out)
    tell_verdict(trusts[0], on_file)
    tell_trust(trusts, every=out is None)
    if out is not None:
        say(f"Open {out / 'trust.png'} first; readings.csv has every reading and its prediction.")


def trusted(panel: Panel, readings: Readings, held_out: bool, begin: Any) -> Sequence[Trust]:
    """The closed loop, and the held-out loop where asked, with the zones of the panel."""
    from emulate.findings import trust
    from emulate.panel.zones import Zones

    begin("showing the panel what the meter saw")
    closed = trust.predictions(panel, readings)
    if not held_out:
        return (closed,)
    begin("fitting without each group")
    zones = panel.zones
    grid: Any = (zones.columns, zones.rows) if isinstance(zones, Zones) else "none"
    return closed, trust.held_out(readings, zones=grid)


def write_trust(trusts: Sequence[Trust], out: Path) -> None:
    """trust.png, readings.csv and trust.json in a folder, all or none."""
    from emulate import save_drawing, save_findings
    from emulate.findings.trusted import find_trust, rows_text
    from emulate.outputs import whole_folder, write_text
    from emulate.pictures.trust import draw_trust

    closed, held = trusts[0], trusts[1] if len(trusts) > 1 else None
    findings = find_trust(closed, held)
    with whole_folder(out) as scratch:
        save_drawing(draw_trust(closed, held, findings), scratch / "trust.png")
        write_text(scratch / "readings.csv", rows_text(trusts))
        save_findings(findings, scratch / "trust.json")


def _counted(files: Sequence[Path]) -> str:
    """`152 stills, 4 clips, 3 traces and the sheet`, what there is of them."""
    kinds = (("still", ".png", 0), ("clip", ".mp4", 0), ("trace", ".csv", 1))  # and the sheet, CSV
    counts = [(name, sum(f.suffix == end for f in files) - less) for name, end, less in kinds]
    told = [f"{count} {name}{'s' if count > 1 else ''}" for name, count in counts if count]
    return " and ".join(filter(None, [", ".join(told), "the sheet"]))


def _now_and_then(begin: Any, what: str, done: int, total: int) -> None:
    if done == total or done % 50 == 0:
        begin(f"{done} of {total} {what}")


def _pair(option: str, given: str) -> tuple[int, int]:
    across, _, down = given.lower().replace("×", "x").partition("x")
    if not (across.isdecimal() and down.isdecimal() and len(given) < 20):
        raise typer.BadParameter(f"{option} {given[:40]}: accepted is COLUMNSxROWS")
    return int(across), int(down)


def _grid(given: str | None) -> Any:
    return given if given in (None, "none") else _pair("--zones", str(given))
