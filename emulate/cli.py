"""Commands: the only room that parses arguments, prints or exits; door to typer and rich."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from emulate.commands.brightness import brightness
from emulate.commands.compare import compare
from emulate.commands.material import said
from emulate.commands.measuring import accuracy, check, fit, patterns
from emulate.commands.motion import motion
from emulate.commands.options import (
    Absolute,
    Age,
    Angle,
    At,
    Chroma,
    Distance,
    End,
    FrameFile,
    Gamut,
    Index,
    Intervals,
    Noise,
    Out,
    PanelFile,
    PanelFirst,
    Policy,
    Range,
    RoomLux,
    Scale,
    SdrWhite,
    Softness,
    Start,
    Subpixels,
    Transfer,
)
from emulate.commands.pan import pan
from emulate.commands.ranges import signal_range
from emulate.commands.seats import seats
from emulate.commands.session import show_session
from emulate.commands.sharpness import sharpness
from emulate.commands.spectrum import spectrum
from emulate.commands.telling import tell_film, tell_findings, tell_scene
from emulate.commands.terminal import (
    checked_white,
    columns,
    frames_done,
    going_on,
    one_of,
    plain,
    progress,
    say,
)
from emulate.commands.whatif import whatif
from emulate.errors import EmulateError

if TYPE_CHECKING:
    from emulate.findings.finding import Findings

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


@app.command(epilog="Example: emulate demo --out demo")
def demo(
    out: Out = Path("demo"),
    size: Annotated[
        str, typer.Option(help="full: 1920×1080; small: 960×540, in a third of the time.")
    ] = "full",
    only: Annotated[
        list[str] | None, typer.Option("--scene", help="Only this scene; may be given again.")
    ] = None,
    readings: Annotated[
        bool | None,
        typer.Option(help="Fit a panel to invented readings; unsaid: with all scenes."),
    ] = None,
) -> None:
    """Show the invented scenes on the invented panels: pictures and findings in a folder."""
    from emulate import load_panel
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


@app.command(epilog="Example: emulate picture frame.exr --panel mine.toml --out seen --scale 100")
def picture(
    frame: FrameFile,
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
    intervals: Intervals = None,
    chroma: Chroma = "444",
    softness: Softness = 0.0,
    noise: Noise = 0.0,
    subpixels: Subpixels = 1,
) -> None:
    """Show one HDR frame on a panel on file: what it would show, and what is lost."""
    from emulate import Processing, load_frame, load_panel
    from emulate.panel.fit.draws import is_fitted
    from emulate.showing import Conditions, show
    from emulate.sight import Viewer

    viewer, white = Viewer(distance_h=distance, age=age), checked_white(sdr_white)
    signal = said(transfer, gamut, range_)
    with progress(7, "reading") as begin:
        on_file = load_panel(panel)
        light = load_frame(frame, scale=scale, absolute=absolute, at_s=at, index=index, **signal)
        done = Processing(chroma, softness, noise, subpixels)  # type: ignore[arg-type]
        knows = is_fitted(on_file) and done == Processing()
        sure = knows if intervals is None else intervals
        conditions = Conditions(policy, angle, room_lux, viewer, white, sure, done)
        findings = show(light, on_file, out, conditions, tell=begin)
    tell_findings(findings)
    say(
        f"Open {out / 'pair.png'} first; loss.png says where and why. light_pq.png is for an HDR "
        f"screen, light_sdr.png for any other, light.exr and findings.json for your own tools."
    )


@app.command(epilog="Example: emulate film clip.mp4 --panel mine.toml --out seen --end 60")
def film(
    clip: Annotated[Path, typer.Argument(help="Video, or a folder or pattern of numbered stills.")],
    panel: PanelFile,
    out: Out,
    start: Start = None,
    end: End = None,
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
    signal = said(transfer, gamut, range_)
    on_file = load_panel(panel)
    part: dict[str, Any] = {"start_s": start, "end_s": end, "every": every, "rate": rate}
    opened = open_clip(clip, scale=scale, absolute=absolute, **part, **signal)
    with going_on(out), frames_done(opened.name) as (on_progress, tell):
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
    tell_film(found, out)


@app.command(epilog="Example: emulate panel mine.toml")
def panel(file: PanelFirst) -> None:
    """Check a panel file and say what it holds."""
    from emulate import load_panel
    from emulate.panel.facts import facts

    columns(("what", "value"), facts(load_panel(file)))


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

    with progress(1, "page") as begin:
        made = write_report(results, out, title=title or None, tell=begin)
    say(f"Open {made} in a browser: {made.stat().st_size / 1e6:.1f} MB, all in one file.")


app.command(
    epilog="Example: emulate compare frame.exr -p a.toml -p b.toml --policy fixed --policy "
    "by_frame --out seen"
)(compare)
app.command(epilog="Example: emulate patterns put_on_screen --size 3840x2160")(patterns)
app.command(epilog="Example: emulate fit put_on_screen/sheet.csv -o mine.toml")(fit)
app.command(epilog="Example: emulate check mine.toml put_on_screen/sheet.csv --out trusted")(check)
app.command(epilog="Example: emulate accuracy put_on_screen/sheet.csv --out measured")(accuracy)
app.command(epilog="Example: emulate motion --refresh 120 --hold 0.25 --out seen")(motion)
app.command(epilog="Example: emulate brightness film.exr sdr.png --panel mine.toml --out dim")(
    brightness
)
app.command(epilog="Example: emulate pan mine.toml --level 5 --level 20 --out dirt")(pan)
app.command(epilog="Example: emulate seats frame.exr --panel mine.toml --angle 0 --angle 45 -o s")(
    seats
)
app.command("range", epilog="Example: emulate range mine.toml --taken full")(signal_range)
app.command(epilog="Example: emulate sharpness --chroma 420 --softness 0.8 --out sharp")(sharpness)
app.command(epilog="Example: emulate spectrum spectra.csv --panel mine.toml --out new.toml")(
    spectrum
)
app.command(epilog="Example: emulate whatif frame.exr --panel mine.toml --out asked")(whatif)


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
    print(f"emulate: {plain(sentence)}", file=sys.stderr)
    sys.exit(status)
