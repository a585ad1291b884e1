"""Compiling: what a first picture would wait for longest, in a process of its own.

The first process renders and writes light; here the kernels of the findings are compiled, on a
frame of a few pixels whose arrays are of the types that any frame's are. Rooms are opened when they
are used: the second process is to begin early.
"""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING, Any

import numpy as np

from emulate.company import follow, join
from emulate.frames.frame import Frame
from emulate.fused.fits import fits
from emulate.panel.panel import Panel
from emulate.values import locked, numbers

if TYPE_CHECKING:
    from emulate.rendering import Rendering

TWIN, PLAIN = "twin", "plain"
SHAPE = (270, 480)  # px, for the twin: more than it has cells of 0.1°


def compile_aside(frame: Frame, panel: Panel) -> None:
    """Begins to compile what findings of this frame need, unless numba has kept it."""
    from emulate._kernels.findings import detail_codes
    from emulate._kernels.questions import question_pass

    of, last = (TWIN, question_pass) if fits(frame, panel) else (PLAIN, detail_codes)
    if not _kept(last):
        _hurry()
        join(__name__, of, meanwhile=_compile_rest)


def _kept(kernel: Any) -> bool:
    """Whether numba's cache holds the kernel as it is written now. Private: numba tells nobody."""
    cache = getattr(kernel, "_cache", None)  # none where nothing is compiled (NUMBA_DISABLE_JIT)
    return cache is None or bool(cache._cache_file._load_index())


def _hurry() -> None:
    """numba makes some millions of objects and throws few away: looking for them took 7 %."""
    from emulate._kernels.compiling import KNOWN

    gc.set_threshold(200_000)
    if KNOWN:
        from emulate._kernels.parts import flags_at_hand

        flags_at_hand()


def compile_findings(of: str) -> None:
    """Measures a grey frame, by the twin or plainly."""
    from emulate.findings.measure import measure

    frame, panel = Frame.from_light(np.full((*SHAPE, 3), 10.0)), Panel("grey", 100.0)
    measure(frame, (_sketch if of == TWIN else _plain)(frame, panel))


def _compile_rest() -> None:
    """What the first process would do after the wait, and may as well do before."""
    from emulate._kernels.things import sums_where
    from emulate.findings.dimmed import mark_small
    from emulate.findings.evidence import Loss
    from emulate.pictures.style import look

    with look():  # opens matplotlib
        pass
    codes = np.full((4, 4), Loss.CLIPPED_ZONE, np.uint8)
    mark_small(locked(codes), (0, 4, 0, 4), 1.0, marked := np.zeros_like(codes))
    sums_where(marked, np.uint8(Loss.DIMMED), np.zeros((3, 16), np.float32), np.zeros(3))


def _sketch(frame: Frame, panel: Panel) -> Rendering:
    """As `render` leaves it, without a look at the frame."""
    from emulate.fused import sketch as twin
    from emulate.fused.source import source_of
    from emulate.fused.workspace import Workspace
    from emulate.panel.cell import seen_from
    from emulate.rendering import of_sketch

    view, lit = seen_from(0.0, panel.cell, panel.angles), numbers([[1.0]])
    cell = twin._cell_of(panel, view, frame.shape)
    sketch = twin.Sketch(frame, panel, view, source_of(frame), twin._NO_TONE, cell)
    with Workspace(1) as work:
        sketch = sketch.lit(lit, lit, 1.0, 0.0, work)
    return of_sketch(sketch, **_rest(panel))


def _plain(frame: Frame, panel: Panel) -> Rendering:
    """As `render_plainly` leaves it."""
    from emulate.rendering import Rendering

    lit, why = np.full(frame.shape, 100.0, np.float32), np.zeros(frame.shape, np.uint8)
    light = frame.light
    return Rendering(light=light, asked=light, backlight=lit, why=why, **_rest(panel))


def _rest(panel: Panel) -> dict[str, Any]:
    from emulate.panel.curves import identity
    from emulate.rendering import NOTHING_BEFORE

    return {
        "drive": numbers([[1.0]]),
        "gain": 1.0,
        "reflected": 0.0,
        "curve": identity(),
        "panel": panel,
        "state": NOTHING_BEFORE,
    }


if __name__ == "__main__":
    follow()
    _hurry()
    compile_findings(sys.argv[1])
    os._exit(0)  # numba takes a third of a second to go
