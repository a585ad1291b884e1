"""Coverage-guided runs: `python -m tests.fuzz.guided KIND -max_total_time=60`, with atheris.

atheris is no part of the project's own environment: `pip install emulate[fuzz]`. Options of
libFuzzer follow the kind. A file that ends in anything but a result or an EmulateError stops it.
"""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["emulate"], exclude=["emulate._kernels"]):
    import emulate.frames.png
    import emulate.frames.radiance
    from emulate.errors import EmulateError
    from tests.fuzz.mutations import finished
    from tests.fuzz.readers import READERS, honest_journal
    from tests.fuzz.seeds import seeds

    for name in emulate.__all__:
        getattr(emulate, name)


def main() -> None:
    kind, *options = sys.argv[1:]
    suffix, reader = READERS[kind]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        corpus = place / "corpus"
        corpus.mkdir()
        for number, data in enumerate(seeds(place)[kind]):
            (corpus / str(number)).write_bytes(data)
        work = place / "work"
        work.mkdir()
        path = work / f"spoiled{suffix}"

        def one(data: bytes) -> None:
            if kind == "png":
                data = bytes(finished(bytearray(data), b"", None))
            path.write_bytes(honest_journal(data) if kind == "journal" else data)
            with contextlib.suppress(EmulateError):
                reader(path)

        limits = [
            "-timeout=10",
            "-rss_limit_mb=4096",
            "-max_len=8192",
            f"-artifact_prefix={tempfile.gettempdir()}/",
        ]
        atheris.Setup([sys.argv[0], *limits, *options, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
