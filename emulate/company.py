"""Company: a second process that compiles beside the first, into the same cache of numba's.

numba compiles on one thread of a process, whatever it has. Where a command has opened the door
(`company`), `join` starts a process and `arrived` waits for it; library calls start none. It ends
with the command, and with a first process that was killed: it reads from a pipe that nobody writes.
What it does not get done, the first does itself.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Thread

PATIENCE = 60.0  # s: three times what it takes; a process that hangs is not waited for


def _nothing() -> None: ...


_open = False
_meanwhile: Callable[[], object] = _nothing
_second: subprocess.Popen[bytes] | None = None


@contextmanager
def company() -> Iterator[None]:
    """While this is open, `join` may start a process; none is left when it ends."""
    global _open, _meanwhile
    _open = True
    try:
        yield
    finally:
        _open = False
        if _second is not None:
            _second.kill()
        _meanwhile = _nothing
        arrived()


def join(module: str, *words: str, meanwhile: Callable[[], object]) -> None:
    """Starts `module` as a script, once, where the door is open and a processor is free for it.

    meanwhile: what the first does before it waits.
    """
    global _second, _meanwhile
    if not _open or _second is not None or len(os.sched_getaffinity(0)) < 2:
        return
    with suppress(OSError):  # without it the first picture takes longer
        _second = subprocess.Popen(
            [sys.executable, "-P", "-m", module, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path))},
            start_new_session=True,  # Ctrl-C is for the first
        )
        _meanwhile = meanwhile


def arrived() -> None:
    """Waits until the second process, if there is one, has ended."""
    global _second, _meanwhile
    second, meanwhile = _second, _meanwhile  # two threads may ask at once
    _meanwhile = _nothing
    if second is not None:
        meanwhile()
        try:
            second.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            second.kill()
            second.wait()
        assert second.stdin is not None
        second.stdin.close()
        _second = None


def follow() -> None:
    """For the second process: ends with the first."""
    Thread(target=_end_with_the_first, daemon=True).start()


def _end_with_the_first() -> None:
    sys.stdin.buffer.read()
    os._exit(0)
