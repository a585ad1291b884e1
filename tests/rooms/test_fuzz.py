"""Spoiled files, hostile names and places: one clear sentence, no crash, no hang, no half file.

A small fixed share of what `tests/fuzz` runs at length. What is accepted of a reader (a result or
an EmulateError, within 10 s and 4 GiB) is our own demand: common practice, no source.
"""

from __future__ import annotations

import json
import os
import signal
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile

import emulate
from emulate.errors import EmulateError, MaterialError, OutputError, ReadingError
from emulate.outputs import whole_file, write_bytes
from tests.fuzz.readers import READERS
from tests.fuzz.seeds import seeds
from tests.rooms.test_still_files import PQ, png

ROOT = Path(__file__).parents[2]
FILES = 220  # spoiled files in the fixed share
READ = {  # kinds whose files may be opened by any name
    "png": emulate.load_frame,
    "tiff": emulate.load_frame,
    "clip": emulate.open_clip,
    "csv": emulate.load_readings,
    "panel": emulate.load_panel,
    "findings": emulate.load_findings,
}


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    return seeds(tmp_path_factory.mktemp("seeds"))


def test_a_fixed_share_of_spoiled_files(tmp_path):
    """In a process of its own, as the long runs are."""
    out = tmp_path / "record.json"
    code = (
        "import sys, time; from pathlib import Path; from tests.fuzz.run import run; "
        f"run(20, time.time() + 60, Path(sys.argv[1]), most={FILES})"
    )
    command = [sys.executable, "-c", code, str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=100)
    assert done.returncode == 0, done.stderr
    record = json.loads(out.read_text())
    assert record["bad"] == []
    assert sum(record["counts"].values()) == FILES
    assert {key.split()[0] for key in record["counts"]} == set(READERS)


def test_the_harness_notices_what_must_not_be(tmp_path, monkeypatch):
    from tests.fuzz.run import read

    def broken(_):
        raise ZeroDivisionError

    monkeypatch.setitem(READERS, "csv", (".csv", broken))
    assert "ZeroDivisionError" in read("csv", b"", tmp_path)


@pytest.mark.parametrize("kind", READ)
@pytest.mark.parametrize("stem", ["-x", "--help", "new\nline", "a:b", "pipe:0", "%04d"])
def test_odd_names_are_names(whole, tmp_path, monkeypatch, kind, stem):
    monkeypatch.chdir(tmp_path)
    path = Path(stem + READERS[kind][0])
    path.write_bytes(whole[kind][0])
    READ[kind](str(path))
    Path("link" + path.suffix).symlink_to(path)
    READ[kind]("link" + path.suffix)


@pytest.mark.parametrize("kind", READ)
def test_names_that_are_no_file(whole, tmp_path, monkeypatch, kind):
    monkeypatch.chdir(tmp_path)
    suffix = READERS[kind][0]
    Path("loop" + suffix).symlink_to("loop" + suffix)
    os.mkfifo("pipe" + suffix)
    for name in (
        "x" * 300 + suffix,
        "a\0b" + suffix,
        "loop" + suffix,
        "pipe" + suffix,
        "/dev/zero",
    ):
        with pytest.raises(EmulateError) as caught:
            READ[kind](name)
        assert len(str(caught.value)) <= 2000
    odd = os.fsdecode(b"\xff\xfe" + suffix.encode())
    Path(odd).write_bytes(whole[kind][0])
    READ[kind](odd)


def test_an_exr_by_a_name_that_is_not_utf8_is_told_so(whole, tmp_path):
    path = tmp_path / os.fsdecode(b"\xff\xfe.exr")  # OpenEXR takes text alone
    path.write_bytes(whole["exr"][0])
    with pytest.raises(MaterialError, match="its name is not UTF-8"):
        emulate.load_frame(path)


def test_a_clip_is_never_an_address():
    with pytest.raises(MaterialError, match="no such file"):
        emulate.open_clip("http://127.0.0.1:9/x.mp4")


def test_bombs_are_refused_before_memory_is_asked_for(tmp_path):
    side = 2**20
    tiff = tmp_path / "a.tif"
    tifffile.imwrite(tiff, np.zeros((4, 4, 3), np.uint16), photometric="rgb")
    data = bytearray(tiff.read_bytes())
    for tag in (256, 257):  # ImageWidth, ImageLength, TIFF 6.0 section 8
        at = next(i for i in range(8, len(data)) if data[i : i + 2] == struct.pack("<H", tag))
        data[at + 2 : at + 12] = struct.pack("<HII", 4, 1, side)
    tiff.write_bytes(data)
    with pytest.raises(MaterialError, match="pixels; accepted are"):
        emulate.load_frame(tiff)
    panel = tmp_path / "a.toml"
    panel.write_text('format = "emulate-panel/1"\na' + ".a" * 100_000 + " = 1\n")
    with pytest.raises(EmulateError, match="a key of over 64 parts"):
        emulate.load_panel(panel)
    sheet = tmp_path / "a.csv"
    sheet.write_text("Y [nit]," + "a," * 5000 + "\n")
    with pytest.raises(ReadingError, match="5002 columns; accepted are 1000"):
        emulate.load_readings(sheet)
    tall = tmp_path / "a.hdr"
    tall.write_bytes(b"#?RADIANCE\nFORMAT=32-bit_rle_rgbe\n\n-Y 99999999 +X 1\n1234")
    with pytest.raises(MaterialError, match="truncated: 99999999 scanlines in"):
        emulate.load_frame(tall)


def test_an_inflated_png_stops_at_what_it_announces(tmp_path):
    path = tmp_path / "a.png"
    data = png(np.zeros((2, 2, 3), np.uint16), PQ)
    bomb = zlib.compress(bytes(2**24))
    at = data.index(b"IDAT")
    chunk = b"IDAT" + bomb
    end = at + 4 + int.from_bytes(data[at - 4 : at], "big") + 4
    sealed = struct.pack(">I", len(bomb)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    path.write_bytes(data[: at - 4] + sealed + data[end:])
    assert emulate.load_frame(path).shape == (2, 2)


WRITER = """
import sys, time
from pathlib import Path
from emulate.outputs import whole_file
with whole_file(sys.argv[1]) as scratch:
    with scratch.open("wb") as file:
        file.write(b"new" * 1000)
        file.flush()
        print("half way", flush=True)
        time.sleep(60)
"""


@pytest.mark.parametrize("old", [None, b"old"])
def test_a_writer_killed_half_way_leaves_no_partial_file(tmp_path, old):
    target = tmp_path / "out.json"
    if old is not None:
        target.write_bytes(old)
    command = [sys.executable, "-c", WRITER, str(target)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == b"half way\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert (target.read_bytes() if target.exists() else None) == old
    write_bytes(target, b"later")
    assert target.read_bytes() == b"later"


FULL = """
import resource, signal, sys
from pathlib import Path
import numpy as np
import emulate
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
light = np.random.default_rng(1).random((64, 64, 3)).astype(np.float32)
for write, name in [(emulate.write_exr, "a.exr"), (emulate.write_pq_png, "a.png")]:
    try:
        write(light, Path(sys.argv[1]) / name)
    except emulate.EmulateError as error:
        print(type(error).__name__)
"""


def test_a_full_disk_is_told_and_leaves_nothing(tmp_path):
    """A file may grow to 4 KiB: writing fails half way, as on a full disk (setrlimit(2))."""
    command = [sys.executable, "-c", FULL, str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout.split() == ["OutputError"] * 2, done.stdout + done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written(tmp_path):
    """Where root may write anywhere, a file in the folder's place stands for one read-only."""
    locked = tmp_path / "locked"
    locked.mkdir()
    locked.chmod(0o500)
    place = locked / "a.json" if os.geteuid() else Path("/proc/a.json")
    with pytest.raises(OutputError, match="cannot be written"):
        write_bytes(place, b"x")
    with pytest.raises(OutputError, match="cannot be written"), whole_file("/proc/b.json"):
        pass


@pytest.mark.parametrize("name", ["-x.json", "new\nline.json", "ü" * 120 + ".json", "a:b.json"])
def test_odd_names_can_be_written(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    write_bytes(name, b"x")
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_names_that_cannot_be_written(tmp_path):
    for name in ("x" * 300, "a\0b"):
        with pytest.raises(OutputError, match="cannot be written"):
            write_bytes(tmp_path / name, b"x")
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_not_utf8_can_be_written(tmp_path):
    path = tmp_path / os.fsdecode(b"\xff\xfe.json")
    assert write_bytes(path, b"x").read_bytes() == b"x"


def test_a_link_is_replaced_not_followed(tmp_path):
    (tmp_path / "kept.json").write_bytes(b"kept")
    (tmp_path / "link.json").symlink_to("kept.json")
    write_bytes(tmp_path / "link.json", b"new")
    assert (tmp_path / "kept.json").read_bytes() == b"kept"
    assert (tmp_path / "link.json").read_bytes() == b"new"
