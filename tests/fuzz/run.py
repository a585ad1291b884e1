"""Mutation runs: `python -m tests.fuzz.run --until 15:18 --seed 1 --out record.json`.

Files are spoiled and read one after another in a process of its own, which may have 4 GiB of
address space and 10 s a file. What ends in anything but a result or an EmulateError is kept.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from datetime import datetime
from pathlib import Path

import numpy as np

from emulate.errors import EmulateError
from tests.fuzz.mutations import finished, mutated
from tests.fuzz.readers import READERS, honest_journal
from tests.fuzz.seeds import seeds

ADDRESS_SPACE = 4 * 2**30  # bytes
SECONDS = 10  # a file
SHARES = {"clip": 1, "avif": 2}  # of a round of 4 files a kind, for readers that are slow


def spoiled(kind: str, files: dict[str, list[bytes]], number: int, seed: int) -> bytes:
    """Input `number` of a kind: the same for the same seed."""
    rng = np.random.default_rng([seed, number, *kind.encode()])
    own = files[kind]
    first, second = own[int(rng.integers(len(own)))], own[int(rng.integers(len(own)))]
    data = mutated(first, second, rng)
    if kind == "png" and rng.random() < 0.7:
        return bytes(finished(bytearray(data), b"", rng))
    return honest_journal(data) if kind == "journal" and rng.random() < 0.7 else data


def read(kind: str, data: bytes, folder: Path) -> str:
    """'read', 'refused', or the traceback of what must not be."""
    suffix, reader = READERS[kind]
    path = folder / f"spoiled{suffix}"
    path.write_bytes(data)
    try:
        reader(path)
    except EmulateError as error:
        text = str(error)
        return "refused" if text and len(text) < 4000 else f"a sentence of {len(text)} characters"
    except BaseException:
        return traceback.format_exc()
    return "read"


def child(
    files: dict[str, list[bytes]], seed: int, first: int, end: int, until: float, pipe: int
) -> None:
    """Rounds from `first` on, told of line by line; ended by the system where a file ends it."""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    warnings.simplefilter("error", RuntimeWarning)
    jobs = [kind for kind in READERS for _ in range(SHARES.get(kind, 4))]
    with os.fdopen(pipe, "w") as tell, tempfile.TemporaryDirectory() as folder:
        number = first
        while time.time() < until and number < end:
            kind = jobs[number % len(jobs)]
            print(json.dumps(["begin", number, kind]), file=tell, flush=True)
            signal.alarm(SECONDS)
            began = time.perf_counter()
            outcome = read(kind, spoiled(kind, files, number, seed), Path(folder))
            signal.alarm(0)
            took = time.perf_counter() - began
            print(json.dumps(["end", number, outcome, took]), file=tell, flush=True)
            number += 1


def run(seed: int, until: float, out: Path, most: int = 2**62) -> dict:
    """All rounds; a process that was ended is followed by another from the next file on."""
    with tempfile.TemporaryDirectory() as folder:
        files = seeds(Path(folder))
    counts: Counter[str] = Counter()
    record = {"seed": seed, "seconds": 0.0, "counts": counts, "slowest": {}, "bad": []}
    began, next_number, now = time.time(), 0, ""
    while time.time() < until and next_number < most:
        reading, writing = os.pipe()
        process = os.fork()
        if process == 0:
            os.close(reading)
            with open(os.devnull, "w") as quiet:  # noqa: PTH123 - a device
                os.dup2(quiet.fileno(), 2)
                child(files, seed, next_number, most, until, writing)
            os._exit(0)
        os.close(writing)
        open_number = None
        with os.fdopen(reading) as told:
            for line in told:
                word, number, *rest = json.loads(line)
                next_number = number + 1
                if word == "begin":
                    open_number, now = number, rest[0]
                    continue
                open_number = None
                _note(record, now, number, *rest)
        _, status = os.waitpid(process, 0)
        if open_number is not None:
            _note(record, now, open_number, f"ended by signal {os.WTERMSIG(status)}", SECONDS)
        record["seconds"] = time.time() - began
        out.write_text(json.dumps(record, indent=1))
    return record


def _note(record: dict, kind: str, number: int, outcome: str, took: float) -> None:
    known = outcome if outcome in ("read", "refused") else "bad"
    record["counts"][f"{kind} {known}"] += 1
    record["slowest"][kind] = max(record["slowest"].get(kind, 0.0), round(took, 3))
    if known == "bad":
        record["bad"].append([kind, number, outcome])
        print(f"{kind} {number}: {outcome[-1500:]}", file=sys.stderr, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--until", required=True, help="HH:MM of today, or seconds from now")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("fuzz.json"))
    asked = parser.parse_args()
    with contextlib.suppress(ProcessLookupError):
        os.nice(15)
    record = run(asked.seed, _moment(asked.until), asked.out)
    print(sum(record["counts"].values()), "files,", len(record["bad"]), "bad", file=sys.stderr)


def _moment(text: str) -> float:
    if ":" not in text:
        return time.time() + float(text)
    hour, minute = map(int, text.split(":"))
    return datetime.now().replace(hour=hour, minute=minute, second=0).timestamp()


if __name__ == "__main__":
    main()
