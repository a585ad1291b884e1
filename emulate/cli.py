"""Commands: the only room that parses arguments, prints or exits; door to typer and rich."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from emulate.errors import EmulateError

if TYPE_CHECKING:
    from rich.console import Console

    from emulate.findings.finding import Findings
    from emulate.showing import Tell

MENDABLE = 2  # exit status for what the user can mend, as shells and typer have it
_Usage: Any = typer.BadParameter.__mro__[2]  # ClickException, which typer itself does not name
STOPPED = 130  # exit status after Ctrl-C: 128 + SIGINT, POSIX shells

app = typer.Typer(
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="What a display would show of an HDR frame, and what is lost on the way.",
    epilog="Every command has its own --help with an example.",
)

Out = Annotated[Path, typer.Option("--out", "-o", help="Folder for what is made.", metavar="DIR")]
PanelFile = Annotated[
    Path, typer.Option("--panel", "-p", help="Panel file, emulate-panel/1.", metavar="FILE")
]
Policy = Annotated[
    str | None,
    typer.Option(help="Tone curve: fixed, by_metadata or by_frame, or built as fixed:bt2390:4000."),
]
Angle = Annotated[float, typer.Option(help="Viewing angle off the axis, degrees.")]
RoomLux = Annotated[float, typer.Option(help="Light of the room on the screen, lux.")]
Distance = Annotated[float, typer.Option(help="Viewing distance in picture heights.")]
Age = Annotated[float, typer.Option(help="Age of the viewer, years: older eyes glare more.")]
SdrWhite = Annotated[float, typer.Option(help="cd/m² shown as white in light_sdr.png.")]
Scale = Annotated[
    float | None, typer.Option(help="cd/m² that 1.0 stands for in a linear file; 203 if unsaid.")
]
Absolute = Annotated[bool, typer.Option("--absolute", help="1.0 of a linear file is 1 cd/m².")]
Transfer = Annotated[str | None, typer.Option(help="pq, hlg, sdr or linear, over what it says.")]
Gamut = Annotated[str | None, typer.Option(help="bt2020, p3 or bt709, over what the file says.")]
Range = Annotated[str | None, typer.Option("--range", help="full or narrow, over what it says.")]
At = Annotated[float | None, typer.Option(help="Time of the frame in a clip, seconds.")]
Index = Annotated[int | None, typer.Option(help="Number of the frame in a clip, from 0.")]


@app.command(epilog="Example: emulate demo --out demo")
def demo(
    out: Out = Path("demo"),
    size: Annotated[
        str, typer.Option(help="full: 1920×1080; small: 960×540, in a third of the time.")
    ] = "full",
    only: Annotated[
        list[str] | None, typer.Option("--scene", help="Only this scene; may be given again.")
    ] = None,
) -> None:
    """Show the invented scenes on the invented panels: pictures and findings in a folder."""
    from emulate import load_panel
    from emulate.demo_frames import SCENES, panel_files, scene
    from emulate.showing import show

    rows = _one_of("--size", size, {"full": 1080, "small": 540})
    panels = {file.stem: load_panel(file) for file in panel_files()}
    found: dict[str, Findings] = {}
    scenes = [_one_of("--scene", name, {each: each for each in SCENES}) for name in only or SCENES]
    for name in scenes:
        with _progress(len(panels), name) as begin:
            frame = scene(name, rows=rows)
            for stem, on_file in panels.items():
                begin(f"{name} on {on_file.name}")
                found[stem] = show(frame, on_file, out / name / stem, light=False)
        _print_demo(name, found)
    first = out / scenes[min(1, len(scenes) - 1)] / next(iter(panels)) / "pair.png"
    _say(
        f"Open {first} first: reference and panel side by side. Beside it loss.png says where and "
        f"why, halo.png how far the glow reaches; so for every scene and panel in {out}."
    )


@app.command(epilog="Example: emulate picture frame.exr --panel mine.toml --out seen --scale 100")
def picture(
    frame: Annotated[Path, typer.Argument(help="EXR, PNG, TIFF, Radiance, AVIF, or a clip.")],
    panel: PanelFile,
    out: Out,
    scale: Scale = None,
    absolute: Absolute = False,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    at: At = None,
    index: Index = None,
    policy: Policy = None,
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
    sdr_white: SdrWhite = 203.0,
) -> None:
    """Show one HDR frame on a panel on file: what it would show, and what is lost."""
    from emulate import load_frame, load_panel
    from emulate.showing import Conditions, show
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    conditions = Conditions(policy, angle, room_lux, viewer, _white(sdr_white))
    narrow = None if range_ is None else _one_of("--range", range_, {"full": True, "narrow": False})
    with _progress(6, "reading") as begin:
        on_file = load_panel(panel)
        said: dict[str, Any] = {"transfer": transfer, "gamut": gamut, "full_range": narrow}
        light = load_frame(frame, scale=scale, absolute=absolute, at_s=at, index=index, **said)
        findings = show(light, on_file, out, conditions, tell=begin)
    _print_findings(findings)
    _say(
        f"Open {out / 'pair.png'} first; loss.png says where and why. light_pq.png is for an HDR "
        f"screen, light_sdr.png for any other, light.exr and findings.json for your own tools."
    )


@app.command(epilog="Example: emulate panel mine.toml")
def panel(file: Annotated[Path, typer.Argument(help="Panel file, emulate-panel/1.")]) -> None:
    """Check a panel file and say what it holds."""
    from emulate import load_panel
    from emulate.panel.facts import facts

    _table(("what", "value"), facts(load_panel(file)))


def main() -> NoReturn:
    """Runs a command; what the user can mend is one line on standard error and status 2."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # names that are not UTF-8
    try:
        status = typer.main.get_command(app).main(prog_name="emulate", standalone_mode=False)
    except EmulateError as error:
        _refuse(str(error))
    except _Usage as error:
        _refuse(f"{error.format_message()} (emulate --help lists what is accepted)")
    except (KeyboardInterrupt, typer.Abort):
        _refuse("stopped", STOPPED)
    except BrokenPipeError:  # the reader of a pipe has gone: nothing is left to say
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    if status == STOPPED:  # typer makes this of Ctrl-C, without a word
        _refuse("stopped", STOPPED)
    sys.exit(status or 0)


def _refuse(sentence: str, status: int = MENDABLE) -> NoReturn:
    print(f"emulate: {_plain(sentence)}", file=sys.stderr)
    sys.exit(status)


def _plain(text: str) -> str:
    """One line without control characters, whatever a file is called."""
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text)


def _say(text: str) -> None:
    _console().print(_plain(text), soft_wrap=True)


def _console(*, stderr: bool = False) -> Console:
    """A console that takes text as text: no markup, no colour codes for names or numbers."""
    from rich.console import Console

    return Console(stderr=stderr, markup=False, highlight=False, emoji=False)


@contextmanager
def _progress(total: int, what: str) -> Iterator[Tell]:
    """A bar on standard error that says what begins; a line each where that is no terminal."""
    console = _console(stderr=True)
    if not console.is_terminal:
        yield lambda begun: console.print(_plain(begun), soft_wrap=True)
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    text = TextColumn("{task.description}", markup=False)
    with Progress(text, BarColumn(), TimeElapsedColumn(), console=console, transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda begun: bar.update(task, description=_plain(begun), advance=1)


def _one_of(option: str, given: str, accepted: dict[str, Any]) -> Any:
    if given not in accepted:
        raise typer.BadParameter(f"{option} {given}: accepted is {' or '.join(accepted)}")
    return accepted[given]


def _white(given: float) -> float:
    if not 0 < given <= 10000:
        raise typer.BadParameter(f"--sdr-white {given:g}: accepted is above 0 to 10000 cd/m²")
    return given


def _print_findings(findings: Findings) -> None:
    """Every finding with its sentence, then what all of them stand on and what to doubt."""
    from emulate.findings.formatting import table
    from emulate.findings.measure import headline

    for sentence in headline(findings):
        _say(sentence)
    _table(
        ("finding", "value", "in words"),
        [(row.name, row.value, row.sentence) for row in table(findings)],
    )
    _say(findings.basis)
    for caveat in findings.caveats:
        _say(f"Doubt: {caveat}")


def _print_demo(name: str, seen: dict[str, Findings]) -> None:
    """One scene: its question, and the three sentences of each panel."""
    from emulate.demo_frames import question
    from emulate.findings.measure import headline

    _say(question(name))
    rows = [
        (stem, findings.panel, "\n".join(headline(findings))) for stem, findings in seen.items()
    ]
    _table(("panel file", "name", "what is lost"), rows)


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
    from rich.table import Table
    from rich.text import Text

    lines = Table(box=None, pad_edge=False)
    for index, title in enumerate(head):
        lines.add_column(title, overflow="fold", no_wrap=index == 0)
    for row in rows:
        lines.add_row(*(Text("\n".join(map(_plain, cell.split("\n")))) for cell in row))
    _console().print(lines)
