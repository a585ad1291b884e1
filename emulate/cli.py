"""Commands: the only room that parses arguments, prints or exits; door to typer and rich."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from emulate.errors import EmulateError

if TYPE_CHECKING:
    from rich.console import Console

    from emulate.films.film import ClipFindings
    from emulate.films.scan import Progress
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
    from emulate.demo_frames import SCENES, panel_files, question, scene
    from emulate.findings.results import Folder, save_results
    from emulate.pictures.wipe import MANY_WIDTH
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
                asked = {"question": question(name), "page_width": MANY_WIDTH}
                found[stem] = show(frame, on_file, out / name / stem, light=False, **asked)
        _print_demo(name, found)
    save_results(tuple(Folder(f"{name}/{stem}") for name in scenes for stem in panels), out)
    first = out / scenes[min(1, len(scenes) - 1)] / next(iter(panels)) / "pair.png"
    _say(
        f"Open {first} first: reference and panel side by side. Beside it loss.png says where and "
        f"why, halo.png how far the glow reaches; so for every scene and panel in {out}. "
        f"emulate page {out} --out page.html puts it all on one page."
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


@app.command(epilog="Example: emulate film clip.mp4 --panel mine.toml --out seen --end 60")
def film(
    clip: Annotated[Path, typer.Argument(help="Video, or a folder or pattern of numbered stills.")],
    panel: PanelFile,
    out: Out,
    start: Annotated[float | None, typer.Option(help="Seconds into the clip to begin at.")] = None,
    end: Annotated[float | None, typer.Option(help="Seconds into the clip to stop before.")] = None,
    every: Annotated[int, typer.Option(help="Take every n-th frame only.")] = 1,
    rate: Annotated[float | None, typer.Option(help="Frames a second of stills.")] = None,
    scale: Scale = None,
    absolute: Absolute = False,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    policy: Policy = None,
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
    worst: Annotated[int, typer.Option(help="Moments listed and drawn of each loss.")] = 3,
    apart: Annotated[float, typer.Option(help="Seconds between moments of one loss.")] = 2.0,
    resume: Annotated[
        bool,
        typer.Option("--resume/--anew", help="Go on where a stopped run ended, or begin anew."),
    ] = True,
) -> None:
    """Show a clip on a panel on file, frame after frame: what is lost, when it is worst."""
    from emulate import load_panel, open_clip
    from emulate.filming import film as filmed
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    narrow = None if range_ is None else _one_of("--range", range_, {"full": True, "narrow": False})
    on_file = load_panel(panel)
    said: dict[str, Any] = {"transfer": transfer, "gamut": gamut, "full_range": narrow}
    light = {"scale": scale, "absolute": absolute, **said}
    opened = open_clip(clip, start_s=start, end_s=end, every=every, rate=rate, **light)
    with _frames_done(opened.name) as (on_progress, tell):
        found = filmed(
            opened,
            on_file,
            out,
            policy=policy,
            viewer=viewer,
            angle=angle,
            room_lux=room_lux,
            worst=worst,
            apart_s=apart,
            anew=not resume,
            on_progress=on_progress,
            tell=tell,
        )
    _print_film(found, out)


@app.command(epilog="Example: emulate panel mine.toml")
def panel(file: Annotated[Path, typer.Argument(help="Panel file, emulate-panel/1.")]) -> None:
    """Check a panel file and say what it holds."""
    from emulate import load_panel
    from emulate.panel.facts import facts

    _table(("what", "value"), facts(load_panel(file)))


@app.command(epilog="Example: emulate page demo --out page.html")
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

    with _progress(1, "page") as begin:
        made = write_report(results, out, title=title or None, tell=begin)
    _say(f"Open {made} in a browser: {made.stat().st_size / 1e6:.1f} MB, all in one file.")


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


@contextmanager
def _frames_done(what: str) -> Iterator[tuple[Callable[[Progress], None], Tell]]:
    """A bar on standard error with the time left, told from the last minute's pace.

    Frames that a journal knew do not count as pace. A line every hundred frames where that is no
    terminal.
    """
    console = _console(stderr=True)

    def say(words: str) -> None:
        console.print(_plain(words), soft_wrap=True)

    def line(now: Progress) -> None:
        if now.done % 100 == 0 or now.done == now.known:
            say(f"{now.done} of {now.total or '?'} frames")

    if not console.is_terminal:
        yield line, say
        return
    from rich import progress

    columns = (
        progress.TextColumn("{task.description}", markup=False),
        progress.BarColumn(),
        progress.MofNCompleteColumn(),
        progress.TimeElapsedColumn(),
        progress.TextColumn("left"),
        progress.TimeRemainingColumn(),
    )
    with progress.Progress(
        *columns, console=console, transient=True, speed_estimate_period=60
    ) as bar:
        task = bar.add_task(_plain(what), total=None)

        def step(now: Progress) -> None:
            if now.done == now.known:
                bar.reset(task, total=now.total, completed=now.done)
            else:
                bar.update(task, completed=now.done)

        yield step, lambda begun: bar.update(task, description=_plain(begun))


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


def _print_film(found: ClipFindings, out: Path) -> None:
    """What is lost on average and at most, where it is worst, and what to open."""
    from emulate.films.summary import TOLD
    from emulate.films.terms import timecode
    from emulate.findings.formatting import value_text

    for name in TOLD:
        _say(found.film[name].sentence)
    _table(
        ("loss", "rank", "at", "value", "of"),
        [
            (m.loss, str(m.rank), timecode(m.time_s), value_text(m.value, m.unit), m.name)
            for m in found.moments
        ],
    )
    if len(found.cuts):
        _say(f"Scene cuts: {', '.join(timecode(cut) for cut in found.cuts)}.")
    for damage in found.damage:
        span = f"{timecode(damage.start_s)} to {timecode(damage.end_s)}"
        _say(f"Not read: {span}, {damage.text}.")
    _say(found.film.basis)
    for caveat in found.caveats:
        _say(f"Doubt: {caveat}")
    _say(
        f"Open {out / 'film.png'} first: every loss against time. The worst moments are drawn in "
        f"{out / 'stills'} and listed in moments.csv; frames.csv has a row a frame, cuts.csv a row "
        f"a scene, findings.json the sum of it."
    )


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
