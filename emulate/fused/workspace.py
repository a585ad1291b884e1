"""A place to work in: threads, and the memory that frames of a clip share one after another."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from queue import SimpleQueue
from threading import Lock
from types import TracebackType
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import DTypeLike, NDArray

from emulate._kernels import row
from emulate._kernels.passes import LEVEL_OCTAVES, LEVEL_SPLIT, Scratch
from emulate._kernels.questions import MAPS, OFF_OCTAVES, OFF_SPLIT
from emulate._kernels.registers import LINE
from emulate.errors import RequestError
from emulate.values import Pixels

T = TypeVar("T")


PIECES_EACH = 3


class Workspace:
    """Threads and buffers that the caller owns and may hand to one `render` after another.

    threads: None takes one for each processor. keeps: the light of each frame will be asked for, so
    what the first pass learns of it is kept. What a rendering or its findings hold in buffers of
    a workspace is overwritten by the next frame that is rendered in it; without a workspace each
    frame has memory of its own. Two callers at once take turns. Use it in a `with` block, or
    `close` it.
    """

    def __init__(self, threads: int | None = None, *, keeps: bool = False) -> None:
        if threads is not None and threads < 1:
            raise RequestError(f"threads = {threads}: accepted is 1 or more, or None")
        self.threads = threads or len(os.sched_getaffinity(0))
        self._pool = ThreadPoolExecutor(self.threads) if self.threads > 1 else None
        self._buffers: dict[str, NDArray[Any]] = {}
        self._scratch: dict[int, list[Scratch]] = {}
        self._turn = Lock()
        self.closed = False
        self.keeps = keeps

    @property
    def pieces(self) -> int:
        """Into how many bands a frame is cut: a few a thread, since others may keep one busy."""
        return PIECES_EACH * self.threads

    def each(self, work: Callable[[T], object], pieces: Iterable[T]) -> None:
        """Does the work on each piece, on all threads; the first that fails is raised."""
        if self._pool is None:
            for piece in pieces:
                work(piece)
        else:
            for _ in self._pool.map(work, pieces):
                pass

    def each_with_scratch(
        self,
        reach: int,
        work: Callable[[Scratch, T], object],
        pieces: Iterable[T],
        *,
        counting: bool = False,
    ) -> Histograms:
        """The same, each thread with a scratch of its own for boxes of `reach` pixels each way.

        counting: clears the histograms before, and returns them with those of all threads added.
        """
        with self._turn:
            free = self._free(reach)
            for scratch in self._scratch[reach] if counting else ():
                scratch.levels[:] = 0
                scratch.offs[:] = 0

            def with_scratch(piece: T) -> None:
                scratch = free.get()
                try:
                    work(scratch, piece)
                finally:
                    free.put(scratch)

            self.each(with_scratch, pieces)
            done = self._scratch[reach] if counting else self._scratch[reach][:0]
            return Histograms(
                np.sum([each.levels.sum(axis=0) for each in done], axis=0, dtype=np.int64),
                np.sum([each.offs for each in done], axis=0, dtype=np.int64),
            )

    def buffer(self, name: str, shape: tuple[int, ...], kind: DTypeLike) -> NDArray[Any]:
        """An array kept by name for as long as shape and kind stay the same; not cleared."""
        kept = self._buffers.get(name)
        if kept is None or kept.shape != shape or kept.dtype != np.dtype(kind):
            kept = self._buffers[name] = on_a_line(shape, kind)
        return kept

    def light(self, shape: tuple[int, int]) -> Pixels:
        """Room for a picture's light (h, w, 3)."""
        return self.buffer("light", (*shape, 3), np.float32)

    def close(self) -> None:
        """Ends the threads and lets go of the memory; what was rendered here may still be drawn."""
        self.closed = True
        if self._pool is not None:
            self._pool.shutdown()
        self._buffers.clear()
        self._scratch.clear()

    def __enter__(self) -> Workspace:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    def _free(self, reach: int) -> SimpleQueue[Scratch]:
        if reach not in self._scratch:
            self._scratch[reach] = [_scratch(reach) for _ in range(self.threads)]
        free: SimpleQueue[Scratch] = SimpleQueue()
        for scratch in self._scratch[reach]:
            free.put(scratch)
        return free


class Histograms(NamedTuple):
    """What all threads counted in one run: levels of m (bins,), and both ΔE_ITP (2, bins)."""

    levels: NDArray[np.int64]
    offs: NDArray[np.int64]


@contextmanager
def working(work: Workspace | None) -> Iterator[Workspace]:
    """A caller's own workspace while it is open, or one for as long as it is needed."""
    if work is not None and not work.closed:
        yield work
    else:
        with Workspace() as place:
            yield place


def _scratch(reach: int) -> Scratch:
    box, long = 2 * reach + 1, row.SLOT + 2 * reach + 2
    return Scratch(
        floats=_room(row.SLOTS * row.SLOT),
        beside=_room(3 * row.SLOT),
        why=_room(row.SLOT, kind=np.int32),
        cells=_room(6, row.SLOT),
        ring=_room(MAPS, box, row.SLOT, kind=np.int32),
        light=_room(3, box, row.SLOT),
        columns=_room(MAPS, row.SLOT, kind=np.int32),
        luminance=_room(row.SLOT, kind=np.int64),
        totals=_room(MAPS, long, kind=np.int32),
        light_totals=_room(long, kind=np.int64),
        contrast=_room(MAPS, row.SLOT, kind=np.int32),
        losses=_room(row.SLOT, kind=np.int32),
        levels=_room(2, LEVEL_OCTAVES << LEVEL_SPLIT, kind=np.uint32),
        offs=_room(2, OFF_OCTAVES << OFF_SPLIT, kind=np.uint32),
    )


def _room(*shape: int, kind: type[np.generic] = np.float32) -> NDArray[Any]:
    """Zeros that begin where a line does: a register that straddles two takes twice as long."""
    out = on_a_line(shape, kind)
    out[...] = 0
    return out


def on_a_line(shape: tuple[int, ...], kind: DTypeLike = np.float32) -> NDArray[Any]:
    """An array that begins where a cache line does, not cleared."""
    size = int(np.prod(shape)) * np.dtype(kind).itemsize
    wide = np.empty(size + LINE, np.uint8)
    start = -wide.ctypes.data % LINE
    return wide[start : start + size].view(kind).reshape(shape)
