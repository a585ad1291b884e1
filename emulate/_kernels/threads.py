"""Threads: small pictures by the hundred are quicker on one thread than on many.

Handing a small picture to several threads costs more than its work, and on a busy machine they wait
for one another most of the time. Results do not depend on how many there are.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from numba import get_num_threads, set_num_threads


@contextmanager
def on_one_thread() -> Iterator[None]:
    """Kernels called inside run on the caller's thread alone."""
    before = get_num_threads()
    set_num_threads(1)
    try:
        yield
    finally:
        set_num_threads(before)
