"""A film's findings on file: a table a frame, and what it comes to. Same findings, same bytes.

frames.csv     a row a frame: frame, time, scene, cut, and every finding, empty = undetermined
frames.json    the same in full, format `emulate-frames/1`, with units and definitions
findings.json  format `emulate-film/1`: the film, each scene, cuts, moments, damage, doubts
cuts.csv       a row a scene: from where to where
moments.csv    a row a moment: the worst of each loss, by rank
"""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterable
from math import isnan
from pathlib import Path
from typing import Any

from emulate.films.film import ClipFindings, Scene
from emulate.films.ranking import Moment
from emulate.findings.formatting import timecode
from emulate.findings.saving import text_of
from emulate.frames.source import Damage
from emulate.outputs import folder as made_folder
from emulate.outputs import write_text

FRAMES = "emulate-frames/1"
FILM = "emulate-film/1"


def save_film(found: ClipFindings, folder: str | os.PathLike[str]) -> list[Path]:
    """Writes all five files into a folder, which is made. Raises OutputError where it cannot."""
    place = made_folder(folder)
    texts = {
        "frames.csv": frames_csv(found),
        "frames.json": frames_json(found),
        "findings.json": findings_json(found),
        "cuts.csv": cuts_csv(found),
        "moments.csv": moments_csv(found),
    }
    return [write_text(place / name, text) for name, text in texts.items()]


def frames_csv(found: ClipFindings) -> str:
    """The table for a spreadsheet: values in six digits, empty where undetermined."""
    table = found.table
    head = ("frame", "time_s", "timecode", "scene", "cut", *table.names)
    fixed = zip(table.index, table.time_s, table.scene, table.cut, table.values, strict=True)
    rows = (
        (int(index), _six(time_s), timecode(time_s), int(scene), int(cut), *map(_six, values))
        for index, time_s, scene, cut, values in fixed
    )
    return _csv(head, rows)


def frames_json(found: ClipFindings) -> str:
    """The table in full: each number as the shortest decimal that reads back the same."""
    table = found.table
    fixed = [
        {"name": "frame", "unit": "count", "definition": "Number of the frame in its source."},
        {"name": "time_s", "unit": "s", "definition": "When the frame begins."},
        {"name": "scene", "unit": "count", "definition": "Number of its scene, from 1."},
        {"name": "cut", "unit": "count", "definition": "1 where a scene starts with it."},
    ]
    columns = [vars(column) for column in table.columns]
    before = zip(table.index, table.time_s, table.scene, table.cut, table.values, strict=True)
    rows = [
        [int(index), float(time_s), int(scene), int(cut), *map(_known, values.tolist())]
        for index, time_s, scene, cut, values in before
    ]
    head = {"format": FRAMES, "clip": found.clip, "panel": found.panel, "basis": found.film.basis}
    return _json({**head, "columns": fixed + columns}, "rows", rows)


def findings_json(found: ClipFindings) -> str:
    """The film and its scenes with their findings, and where to look."""
    film = json.loads(text_of(found.film))
    document = {
        "format": FILM,
        "clip": found.clip,
        "panel": found.panel,
        "basis": film["basis"],
        "caveats": film["caveats"],
        "frames": len(found.table),
        "film": film["findings"],
        "scenes": [_scene(scene) for scene in found.scenes],
        "cuts": [{"time_s": cut, "timecode": timecode(cut)} for cut in found.cuts.tolist()],
        "moments": [_moment(moment) for moment in found.moments],
        "damage": [_damage(each) for each in found.damage],
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def cuts_csv(found: ClipFindings) -> str:
    """A row a scene."""
    head = ("scene", "starts_s", "starts", "ends_s", "ends", "first_frame", "last_frame")
    rows = (
        (
            s.number,
            _six(s.start_s),
            timecode(s.start_s),
            _six(s.end_s),
            timecode(s.end_s),
            s.first,
            s.last,
        )
        for s in found.scenes
    )
    return _csv(head, rows)


def moments_csv(found: ClipFindings) -> str:
    """A row a moment."""
    head = ("loss", "rank", "time_s", "timecode", "frame", "finding", "value", "unit", "still")
    rows = (
        (
            *(m.loss, m.rank, _six(m.time_s), timecode(m.time_s), m.index, m.name),
            *(_six(m.value), m.unit, still_of(m.time_s)),
        )
        for m in found.moments
    )
    return _csv(head, rows)


def still_of(time_s: float) -> str:
    """File of the still at a time, where one is drawn: `00-00-03.250.png`."""
    return f"{timecode(time_s).replace(':', '-')}.png"


def _damage(damage: Damage) -> dict[str, Any]:
    """A damaged stretch by time and time-code."""
    return {
        "start_s": damage.start_s,
        "end_s": damage.end_s,
        "from": timecode(damage.start_s),
        "to": timecode(damage.end_s),
        "text": damage.text,
    }


def _scene(scene: Scene) -> dict[str, Any]:
    return {
        "scene": scene.number,
        "start_s": scene.start_s,
        "end_s": scene.end_s,
        "from": timecode(scene.start_s),
        "to": timecode(scene.end_s),
        "first_frame": scene.first,
        "last_frame": scene.last,
        "findings": {
            name: {"value": _known(each.value), "unit": each.unit, "sentence": each.sentence}
            for name, each in scene.findings.items()
        },
    }


def _moment(moment: Moment) -> dict[str, Any]:
    return {
        "loss": moment.loss,
        "rank": moment.rank,
        "frame": moment.index,
        "time_s": moment.time_s,
        "timecode": timecode(moment.time_s),
        "finding": moment.name,
        "value": moment.value,
        "unit": moment.unit,
    }


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def _six(value: float) -> str:
    """Six significant digits, empty for undetermined, the same text for the same number."""
    return "" if isnan(value) else f"{value:.6g}"


def _csv(head: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return text.getvalue()


def _json(head: dict[str, Any], name: str, rows: list[Any]) -> str:
    """A head as indented JSON, with one more key that holds a row a line."""
    lines = ",\n".join("  " + json.dumps(row, allow_nan=False) for row in rows)
    begun = json.dumps(head, indent=1, ensure_ascii=False, allow_nan=False)
    return f'{begun[:-2]},\n "{name}": [\n{lines}\n ]\n}}\n'
