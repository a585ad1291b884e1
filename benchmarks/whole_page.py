"""The page of the whole demo: how large it is, and how long it takes (budget 15 MB, a minute).

    emulate demo --out demo && python benchmarks/whole_page.py demo

Time is for a process that has everything open and compiled, as a second page of a run is.
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

from emulate import write_report

MOST_BYTES, MOST_S = 15e6, 60.0


def main(results: str) -> int:
    """Prints both and says whether they hold; status 1 where they do not."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "page.html"
        write_report(results, path)
        began, busy = perf_counter(), process_time()
        write_report(results, path)
        took, busy, size = perf_counter() - began, process_time() - busy, path.stat().st_size
    print(f"{size / 1e6:.1f} MB of {MOST_BYTES / 1e6:.0f}, {took:.1f} s of {MOST_S:.0f}, "
          f"{busy:.1f} s of them at work")  # fmt: skip
    return int(size > MOST_BYTES or took > MOST_S)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "demo"))
