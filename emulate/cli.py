"""Commands under one roof, and how what the user can mend is told; door to typer."""

from __future__ import annotations

import os
import sys
from typing import Any, NoReturn

import typer

from emulate.commands.brightness import brightness
from emulate.commands.compare import compare
from emulate.commands.demo import demo
from emulate.commands.film import film
from emulate.commands.measuring import accuracy, check, fit, patterns
from emulate.commands.motion import motion
from emulate.commands.page import page
from emulate.commands.pan import pan
from emulate.commands.panel import panel
from emulate.commands.picture import picture
from emulate.commands.ranges import signal_range
from emulate.commands.scene import scene
from emulate.commands.seats import seats
from emulate.commands.sharpness import sharpness
from emulate.commands.spectrum import spectrum
from emulate.commands.terminal import plain
from emulate.commands.whatif import whatif
from emulate.company import company
from emulate.errors import EmulateError

MENDABLE = 2  # exit status for what the user can mend, as shells and typer have it
STOPPED = 130  # exit status after Ctrl-C: 128 + SIGINT, POSIX shells
_Usage: Any = typer.BadParameter.__mro__[2]  # ClickException, which typer itself does not name
VERBS = (  # each with an example that its help ends with
    (demo, "emulate demo --out demo"),
    (scene, "emulate scene lamps_on_black_water --out frame.exr"),
    (picture, "emulate picture frame.exr --panel mine.toml --out seen --scale 100"),
    (film, "emulate film clip.mp4 --panel mine.toml --out seen --end 60"),
    (panel, "emulate panel mine.toml"),
    (page, "emulate page demo --out page.html"),
    (compare, "emulate compare frame.exr -p a.toml -p b.toml --policy by_frame --out seen"),
    (patterns, "emulate patterns put_on_screen --size 3840x2160"),
    (fit, "emulate fit put_on_screen/sheet.csv -o mine.toml"),
    (check, "emulate check mine.toml put_on_screen/sheet.csv --out trusted"),
    (accuracy, "emulate accuracy put_on_screen/sheet.csv --out measured"),
    (motion, "emulate motion frame.exr --refresh 120 --rate 24 --hold 0.25 --out moved"),
    (
        brightness,
        "emulate brightness frame.exr seen/light_sdr.png --panel mine.toml --setting 1 "
        "--setting 0.5 --out dimmed",
    ),
    (pan, "emulate pan mine.toml --level 20 --out dirt"),
    (
        seats,
        "emulate seats frame.exr --panel mine.toml --angle 0 --angle 45 --room-lux 0 "
        "--room-lux 100 --out seats",
    ),
    (signal_range, "emulate range mine.toml --taken full"),
    (sharpness, "emulate sharpness --chroma 420 --softness 0.8 --noise 2 --out sharp"),
    (spectrum, "emulate spectrum spectra.csv --panel mine.toml --out new.toml"),
    (whatif, "emulate whatif frame.exr --panel mine.toml --out asked"),
)

app = typer.Typer(
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="What a display would show of an HDR frame, and what is lost on the way.",
    epilog="Every command has its own --help with an example.",
)
for verb, example in VERBS:
    app.command(example.split()[1], epilog=f"Example: {example}")(verb)


def main() -> NoReturn:
    """Runs a command; what the user can mend is one line on standard error and status 2."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # names that are not UTF-8
    try:
        with company():
            status = typer.main.get_command(app).main(prog_name="emulate", standalone_mode=False)
    except EmulateError as error:
        _refuse(str(error))
    except _Usage as error:
        asked = getattr(getattr(error, "ctx", None), "command_path", "emulate")
        _refuse(f"{error.format_message()} ({asked} --help lists what is accepted)")
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
