"""Material: frames and clips read as the options of a command say."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from emulate.commands.terminal import one_of

if TYPE_CHECKING:
    from emulate.frames.frame import Frame


def frame_of(
    path: Path,
    *,
    scale: float | None,
    absolute: bool,
    transfer: str | None,
    gamut: str | None,
    range_: str | None,
    at: float | None,
    index: int | None,
    bars: bool = False,
    mastered: float | None = None,
) -> Frame:
    """The frame in a file, inside black bars where asked; what is None, the file says itself.

    Raises as `load_frame` does.
    """
    from emulate import load_frame, with_bars

    asked = said(transfer, gamut, range_, mastered)
    frame = load_frame(path, at_s=at, index=index, scale=scale, absolute=absolute, **asked)
    return with_bars(frame) if bars else frame


def said(
    transfer: str | None, gamut: str | None, range_: str | None, mastered: float | None
) -> dict[str, Any]:
    """What the caller says of a signal over the file, as `load_frame` and `open_clip` take it."""
    full = None if range_ is None else one_of("--range", range_, {"full": True, "narrow": False})
    return {"transfer": transfer, "gamut": gamut, "full_range": full, "mastered": mastered}
