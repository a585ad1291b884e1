"""`emulate compare`: the same content over panels, settings and tone curves."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from emulate.commands.accepted import panel_files, words
from emulate.commands.material import frame_of, said
from emulate.commands.options import (
    Absolute,
    Age,
    Angle,
    At,
    Bars,
    Distance,
    End,
    Every,
    Gamut,
    Index,
    Mastered,
    Out,
    Range,
    RoomLux,
    Scale,
    Start,
    Transfer,
)
from emulate.commands.telling import tell_basis, tell_standing
from emulate.commands.terminal import columns, progress, say

if TYPE_CHECKING:
    from emulate.films.comparison import Comparison
    from emulate.frames.clip import Clip

Panels = Annotated[
    list[Path],
    typer.Option(
        "--panel",
        "-p",
        help="Panel file; may be given again.",
        metavar="FILE",
        autocompletion=panel_files,
    ),
]
Policies = Annotated[
    list[str] | None,
    typer.Option(
        "--policy",
        help="Tone curve as `picture` has it; may be given again.",
        autocompletion=words("fixed", "by_metadata", "by_frame"),
    ),
]


def compare(
    content: Annotated[Path, typer.Argument(help="A still, a video, or a folder of stills.")],
    panel: Panels,
    out: Out,
    policy: Policies = None,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    at: At = None,
    index: Index = None,
    bars: Bars = False,
    start: Start = None,
    end: End = None,
    every: Every = 1,
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
) -> None:
    """Compare panels, settings and tone curves on a frame or clip.

    A setting is a panel file of its own. With --at or --index one frame of a clip is compared,
    without them the whole of it.
    """
    from emulate import load_panel
    from emulate.comparing import compare_into
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    on_file = [load_panel(file) for file in panel]
    signal: dict[str, Any] = {"transfer": transfer, "gamut": gamut, "range_": range_}
    signal["mastered"] = mastered
    if _is_still(content) or at is not None or index is not None:
        place: dict[str, Any] = {"at": at, "index": index, "bars": bars}
        seen = frame_of(content, scale=scale, absolute=absolute, **place, **signal)
    elif bars:
        raise typer.BadParameter("accepted is --bars of a still, or of a frame by --at or --index")
    else:
        seen = _clip_of(content, start, end, every, scale, absolute, **signal)  # type: ignore[assignment]
    terms = {"viewer": viewer, "angle": angle, "room_lux": room_lux}
    asked = policy or [None]  # type: ignore[list-item]
    with progress(len(on_file) * len(asked) + 1, "comparing") as begin:
        found = compare_into(seen, on_file, asked, out, tell=begin, **terms)  # type: ignore[arg-type]
    opened = (
        f"Open {out / 'differences.png'} first; curves.png has the tone curves together, "
        f"side_by_side.png the pictures, comparison.json every finding of every case."
    )
    tell_standing(*on_file)
    tell_comparison(found, opened)


def _is_still(path: Path) -> bool:
    from emulate.frames.sequence import STILLS, is_sequence

    return path.suffix.lower() in STILLS and not is_sequence(path)


def _clip_of(
    path: Path,
    start: float | None,
    end: float | None,
    every: int,
    scale: float | None,
    absolute: bool,
    transfer: str | None,
    gamut: str | None,
    range_: str | None,
    mastered: float | None,
) -> Clip:
    from emulate import open_clip

    asked = said(transfer, gamut, range_, mastered)
    part: dict[str, Any] = {"start_s": start, "end_s": end, "every": every}
    return open_clip(path, scale=scale, absolute=absolute, **part, **asked)


def tell_comparison(found: Comparison, opened: str) -> None:
    """The sentence, every difference that counts, and what to open."""
    from emulate.pictures.compare import LETTERS, rule_text

    say(found.sentence)
    letters = LETTERS[: len(found.cases)]
    for letter, case in zip(letters, found.cases, strict=False):
        say(f"{letter}: {case.label} ({case.curve.text})")
    columns(
        ("finding", *letters),
        [(line.name, *_marked(line.texts, line.best)) for line in found.lines],
    )
    if not found.lines:
        say("Nothing differs by more than an eye can miss.")
    say(f"* does best. {rule_text(found)}")
    tell_basis(found.basis, found.caveats)
    say(opened)


def _marked(texts: tuple[str, ...], best: int | None) -> list[str]:
    return [f"{text} *" if best is not None and text == texts[best] else text for text in texts]
