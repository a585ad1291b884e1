"""Work done one step ahead of whoever asks for it, in a thread of its own."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from queue import Empty, Full, Queue
from threading import Event, Thread
from typing import Any, TypeVar

T = TypeVar("T")

_PATIENCE = 0.05  # s between looks at whether the other side is still there; any small number does
_END = object()


def ahead(items: Iterable[T], depth: int = 2) -> Generator[T, None, None]:
    """The same items, made up to `depth` ahead of the reader, in the same order.

    What the maker raises is raised here, in its place. Closed early, the maker ends after the item
    in hand, and the close waits for it: nothing is left running.
    """
    queue: Queue[tuple[Any, BaseException | None]] = Queue(maxsize=depth)
    stop = Event()
    thread = Thread(target=_make, args=(items, queue, stop), name="frames ahead", daemon=True)
    thread.start()
    try:
        yield from _taken(queue, thread)
    finally:
        stop.set()
        thread.join()


def one_ahead(items: Generator[T, None, None]) -> Generator[T, None, None]:
    """The same items: while one is in use the next is made, and no third one is there.

    Raises and closes as `ahead` does.
    """
    with closing(items), ThreadPoolExecutor(1, "one ahead") as pool:
        coming = pool.submit(next, items, _END)
        while (item := coming.result()) is not _END:
            coming = pool.submit(next, items, _END)
            yield item  # type: ignore[misc]
            del item


def _taken(queue: Queue[tuple[Any, BaseException | None]], thread: Thread) -> Iterator[Any]:
    while True:
        try:
            item, error = queue.get(timeout=1.0)
        except Empty:
            if thread.is_alive():
                continue
            raise RuntimeError("the maker of frames ended without a word") from None
        if error is not None:
            raise error
        if item is _END:
            return
        yield item
        del item


def _make(
    items: Iterable[Any], queue: Queue[tuple[Any, BaseException | None]], stop: Event
) -> None:
    iterator = iter(items)
    try:
        for item in iterator:
            if not _put(queue, (item, None), stop):
                return
            del item
        _put(queue, (_END, None), stop)
    except BaseException as error:  # handed over whole, raised where the frames are read
        _put(queue, (None, error), stop)
    finally:
        close = getattr(iterator, "close", None)
        if close is not None:
            close()


def _put(
    queue: Queue[tuple[Any, BaseException | None]],
    entry: tuple[Any, BaseException | None],
    stop: Event,
) -> bool:
    while not stop.is_set():
        try:
            queue.put(entry, timeout=_PATIENCE)
        except Full:
            continue
        return True
    return False
