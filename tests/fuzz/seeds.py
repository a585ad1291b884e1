# ruff: noqa: ARG001 - one signature for all that stand in a list
"""Whole files of every kind, small, that mutations start from. Made by libraries or by hand."""

from __future__ import annotations

import json
import struct
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import OpenEXR
import tifffile

import emulate
from emulate.errors import Caveat
from emulate.films.entries import Checkpoint, End, Row
from emulate.films.journal import open_journal
from emulate.findings.results import Comparison, save_results
from emulate.rendering import State
from tests.rooms.moving import flat_planes, write_moving
from tests.rooms.test_readings import CGATS
from tests.rooms.test_still_files import PQ, chunk, coded, png, radiance
from tests.rooms.test_still_files import rgb as exr_channels

DEMO = Path(__file__).parents[2] / "demo_frames"
HEADING = {"clip": "a clip", "panel": "a panel"}


def seeds(folder: Path) -> dict[str, list[bytes]]:
    """Whole files by kind, as bytes; the folder is for making them in."""
    rng = np.random.default_rng(7)
    makers = [_png, _exr, _tiff, _radiance, _avif, _clips, _texts, _saved]
    made: dict[str, list[bytes]] = {}
    for make in makers:
        made |= make(folder, rng)
    return made


def _png(folder, rng):
    deep = rng.integers(0, 65536, (5, 7, 3), dtype=np.uint16)
    flat = rng.integers(0, 256, (5, 7, 1), dtype=np.uint8)
    levels = chunk(b"mDCV", struct.pack(">8H2I", *range(1, 9), 10**7, 50))
    levels += chunk(b"cLLI", struct.pack(">2I", 10**7, 10**6))
    xy = chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
    palette = chunk(b"PLTE", bytes(range(96)) * 8)
    return {
        "png": [
            png(deep, PQ, levels, filters=4),
            png(deep, chunk(b"gAMA", struct.pack(">I", 45455)), xy, filters=1),
            png(flat, palette, chunk(b"iCCP", b"name\0\0x"), colour_type=3),
        ]
    }


def _exr(folder, rng):
    values = rng.random((20, 24, 3)).astype(np.float32)
    found = []
    for number, kind in enumerate(("NO", "ZIP", "PIZ", "PXR24", "RLE")):
        path = folder / f"{number}.exr"
        header = {
            "compression": getattr(OpenEXR, f"{kind}_COMPRESSION"),
            "type": OpenEXR.scanlineimage,
        }
        OpenEXR.File(header, exr_channels(values)).write(str(path))
        found.append(path.read_bytes())
    path = folder / "parts.exr"
    part = OpenEXR.Part({"type": OpenEXR.scanlineimage}, exr_channels(values), "left")
    other = OpenEXR.Part({"type": OpenEXR.scanlineimage}, {"Z": values[..., 0].copy()}, "depth")
    OpenEXR.File([part, other]).write(str(path))
    return {"exr": [*found, path.read_bytes()]}


def _tiff(folder, rng):
    codes = rng.integers(0, 65536, (12, 16, 3), dtype=np.uint16)
    forms = [
        (codes, {"photometric": "rgb"}),
        (codes, {"photometric": "rgb", "compression": "zlib", "predictor": True}),
        (codes.astype(np.float32), {"photometric": "rgb", "tile": (16, 16)}),
        (codes[..., 0].astype(np.float16), {"photometric": "minisblack", "bigtiff": True}),
    ]
    for number, (values, options) in enumerate(forms):
        tifffile.imwrite(folder / f"{number}.tif", values, **options)
    return {"tiff": [(folder / f"{number}.tif").read_bytes() for number in range(len(forms))]}


def _radiance(folder, rng):
    pixels = np.full((6, 11, 4), 130, np.uint8)
    packed = b"".join(
        bytes([2, 2, 0, 11]) + b"".join(bytes([128 + 11, 130]) for _ in range(4)) for _ in range(6)
    )
    extra = ("EXPOSURE=0.5", "COLORCORR=1 1 0.9", "PRIMARIES=.64 .33 .3 .6 .15 .06 .3127 .329")
    return {
        "radiance": [
            radiance(pixels.tobytes(), "-Y 6 +X 11"),
            radiance(packed, "-Y 6 +X 11", *extra),
            radiance(pixels[0, :1].tobytes() + b"\1\1\1\x0a", "+X 1 -Y 11"),
        ]
    }


def _avif(folder, rng):
    path, _ = coded(folder, rng)
    return {"avif": [path.read_bytes()]}


def _clips(folder, rng):
    found = []
    forms = [
        ("libx265", "yuv420p10le", "a.mp4", {"x265-params": "log-level=none"}),
        ("ffv1", "yuv420p10le", "b.mkv", {}),
        ("prores_ks", "yuv422p10le", "c.mov", {}),
        ("libvpx-vp9", "yuv420p", "d.webm", {"cpu-used": "8"}),
        ("libx265", "yuv420p10le", "e.ts", {"x265-params": "log-level=none"}),
    ]
    for encoder, pixels, name, options in forms:
        planes = [flat_planes(pixels, i) for i in range(6)]
        try:
            av.codec.Codec(encoder, "w")
        except av.codec.codec.UnknownCodecError:
            continue
        write_moving(folder / name, encoder, pixels, planes, options=options, rate=Fraction(24))
        found.append((folder / name).read_bytes())
    return {"clip": found}


def _texts(folder, rng):
    sheet = (DEMO / "readings" / "sheet.csv").read_text().splitlines()
    trace = (DEMO / "readings" / "step.csv").read_text().splitlines()
    return {
        "sheet": ["\n".join(sheet[:40]).encode()],
        "csv": [
            b"signal,x,y,Y [cd/m2]\n0.5,0.3127,0.329,92.3\n1,0.3127,0.329,612.5\n0,,,\n",
            "# unit: fL\nR;G;B;X;Y;Z\n100;100;100;570,3;600,0;653,4\n".encode("utf-16"),
            b"code10_narrow\tarea_percent\tY [nit]\n940\t10\t600\n64\t10\t0.01\n",
        ],
        "cgats": [CGATS.encode()],
        "trace": ["\n".join(trace[:60]).encode()],
        "spectra": [b"\n".join((DEMO / "spectra.csv").read_bytes().splitlines()[:80])],
        "panel": [path.read_bytes() for path in sorted((DEMO / "panels").glob("*.toml"))],
    }


def _saved(folder, rng):
    found = emulate.Finding(0.1, "share", "Ten hundredths.", "The share.", (0.0, 0.2))
    findings = emulate.Findings(
        {"halo.area": found}, (Caveat("a", "b"),), frame="f", panel="p", basis="s"
    )
    emulate.save_findings(findings, folder / "findings.json")
    save_results((Comparison("t", ("a", "b"), ()),), folder)
    state = State(np.ones((2, 3)), 1.0, 100.0, 0.5)
    with open_journal(folder / "journal", HEADING) as journal:
        journal.add(Row(0, 0.0, True, np.array([1.0, np.nan])))
        journal.add(Checkpoint(1, 1, state))
        journal.add(End())
    listed = json.loads((folder / "results.json").read_text())
    still = {"kind": "still", "scene": "s", "panel": "p", "findings": "f", "panel_file": "p"}
    folder_entry = {"kind": "folder", "folder": "."}
    odd = {**listed, "entries": [still, folder_entry, *listed["entries"]]}
    return {
        "findings": [(folder / "findings.json").read_bytes()],
        "results": [(folder / "results.json").read_bytes(), json.dumps(odd).encode()],
        "journal": [(folder / "journal").read_bytes()],
    }
