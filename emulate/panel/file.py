"""File: panels read from TOML, written to it, and refused by key path (format emulate-panel/1).

What `layout.File` accepts is the one account of what a panel can be: files and panels built in
Python are checked by the same rules. The text is canonical: the same panel gives the same bytes.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_args

import numpy as np

from emulate.errors import Caveat, PanelError, place
from emulate.outputs import write_text
from emulate.panel.cell import Angles, Cell
from emulate.panel.fit.doubts import doubts_in
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.surface import Surface
from emulate.panel.timing import Timing
from emulate.panel.toml import plain, shown, text_of
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.tracking import Tracking
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones
from emulate.values import numbers

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

    from emulate.panel import layout

LARGEST_BYTES = 8 * 2**20  # about a million numbers, five seconds to read: a fine map of a screen
T = TypeVar("T")
_TOML = "accepted is TOML 1.0"
_READINGS = (
    "{0}: looks like readings; accepted is a panel file (.toml), which emulate fit {0} -o "
    "mine.toml makes of them"
)
_DEEP = re.compile(  # tomllib takes the square of a dotted key's parts; ours have two
    r"""(?<![\w-])(?:(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){64}"""
)


def load_panel(path: str | os.PathLike[str]) -> Panel:
    """The panel in a file. Raises PanelError, with the key's path and what is accepted, for any
    file that is not one of at most 8 MiB."""
    return panel_from_text(_read(Path(path)), str(path))


def save_panel(panel: Panel, path: str | os.PathLike[str]) -> Path:
    """The panel's canonical text in a file, whole or not at all.

    Raises PanelError for a panel that cannot exist, OutputError where it cannot be written.
    """
    text = text_from_panel(panel)
    if len(text.encode()) > LARGEST_BYTES:
        raise PanelError(
            f"{path}: {len(text.encode())} bytes; accepted is at most {LARGEST_BYTES}, such as a "
            "uniformity.grid of fewer rows and columns"
        )
    return write_text(path, text)


def panel_from_text(text: str, where: str = "panel") -> Panel:
    """The panel that TOML text describes; `where` names it in errors. Raises PanelError."""
    if _DEEP.search(text):
        raise PanelError(f"{where}: a key of over 64 parts; {_TOML}")
    try:
        document = tomllib.loads(text)
    except RecursionError:
        raise PanelError(f"{where}: brackets nested too deep; {_TOML}") from None
    except ValueError as error:
        told = _READINGS.format(where) if _is_table(text) else _syntax(error, where)
        raise PanelError(told) from None
    return panel_from_document(document, where)


def text_from_panel(panel: Panel) -> str:
    """Canonical TOML: effects that are identities left out, keys in the order light takes, numbers
    as short as reads back the same. Raises PanelError for a panel that cannot exist."""
    read = panel_from_document(document_from_panel(panel), panel.name)
    return text_of(document_from_panel(read), panel.name)


def checked(panel: Panel) -> Panel:
    """The panel, if it can exist, by the rules of a file. Raises PanelError if not."""
    again = panel_from_document(document_from_panel(panel), panel.name)
    new = tuple(doubt for doubt in again.caveats if doubt not in panel.caveats)
    return replace(again, caveats=panel.caveats + new)


def panel_from_document(document: Mapping[str, Any], where: str = "panel") -> Panel:
    """The panel of a parsed file; `where` names it in errors. Raises PanelError."""
    from pydantic import ValidationError

    from emulate.panel import layout

    if document.get("format") != layout.FORMAT:
        raise PanelError(f"{where}: {_wrong_format(document)}")
    try:
        file = layout.File.model_validate(document)
    except ValidationError as error:
        raise PanelError(f"{where}: {_sentence(error, layout.File)}") from None
    return _panel(file)


def document_from_panel(panel: Panel) -> dict[str, Any]:
    """The panel as plain numbers, texts and lists, ready for TOML; nothing is checked."""
    from emulate.panel.layout import FORMAT

    document: dict[str, Any] = {"format": FORMAT, "name": panel.name, "notes": panel.notes}
    document["light"] = {"open_cdm2": panel.open_cdm2}
    tables = {
        "tone": _tone_table(panel.tone),
        "primaries": _unless_same(panel.primaries, Primaries()),
        "tracking": _unless_same(panel.tracking, Tracking()),
        "zones": {} if isinstance(panel.zones, SelfEmissive) else asdict(panel.zones),
        "spread": _unless_same(panel.spread, Spread()),
        "limiter": _unless_same(panel.limiter, Limiter()),
        "cell": _without_infinity(_unless_same(panel.cell, Cell())),
        "angles": _without_infinity(_unless_same(panel.angles, Angles())),
        "uniformity": _unless_same(panel.uniformity, Uniformity()),
        "surface": _unless_same(panel.surface, Surface()),
        "timing": {name: each for name, each in plain(vars(panel.timing)).items() if each},
        "fit": panel.fit,
    }
    document |= {name: table for name, table in tables.items() if table}
    if not panel.notes:
        del document["notes"]
    written: dict[str, Any] = plain(document)
    return written


def _read(path: Path) -> str:
    try:
        if not path.exists():
            raise PanelError(f"{path}: no such file; accepted is a panel file (.toml)")
        if not path.is_file():
            raise PanelError(f"{path}: not a file; accepted is a panel file (.toml)")
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise PanelError(f"{path}: too large; accepted is at most {LARGEST_BYTES} bytes")
        return data.decode("utf-8-sig")
    except OSError as error:
        raise PanelError(f"{path}: cannot be read ({error.strerror or error})") from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise PanelError(f"{place(path, line)}: not UTF-8; accepted is TOML in UTF-8") from None


def _is_table(text: str) -> bool:
    """Whether text that is no TOML begins, its remarks left out, as a table of readings does."""
    lines = (line.strip() for line in text.splitlines())
    first = next((line for line in lines if line and not line.startswith("#")), "")
    return "=" not in first and bool(re.match(r"\w[^,;\t]*[,;\t]", first))


def _syntax(error: ValueError, where: str) -> str:
    """What the TOML reader says, and where."""
    said = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", str(error), re.DOTALL)
    if said is None:
        known = isinstance(error, tomllib.TOMLDecodeError)
        return f"{where}: {str(error) if known else 'a number of too many digits'}; {_TOML}"
    what, line, column = said.groups()
    return f"{place(where, int(line), column)}: {what[:1].lower() + what[1:]}; {_TOML}"


def _wrong_format(document: Mapping[str, Any]) -> str:
    from emulate.panel.layout import FORMAT

    if "format" not in document:
        return f'format is missing; accepted is format = "{FORMAT}" at the top'
    return f'format = {shown(document["format"])}; accepted is "{FORMAT}"'


def _sentence(error: ValidationError, file: type[BaseModel]) -> str:
    """The first refusal as one sentence; unknown keys come first, they explain what is missing."""
    refusals = error.errors(include_url=False)
    unknown = [refused for refused in refusals if refused["type"] == "extra_forbidden"]
    first = (unknown or refusals)[0]
    loc, kind, context = first["loc"], first["type"], first.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown(loc, file)
    if kind == "refusal":
        key, path = context["key"], _path(loc)
        return f"{path}.{key}{context['sentence']}" if path and key else path + first["msg"]
    accepted = f"accepted is {_accepted(loc, file)}"
    if kind == "missing":
        return f"{_path(loc)} is missing; {accepted}"
    if kind == "order":
        path = _path((*loc, context["index"]))
        return f"{path} = {context['value']!r} after {context['before']!r}; {accepted}"
    return f"{_path(loc)} = {shown(first['input'])}; {accepted}"


def _unknown(loc: Sequence[int | str], file: type[BaseModel]) -> str:
    table = file
    for part in loc[:-1]:
        table = _inner(table, part)
    known = list(table.model_fields)
    near = get_close_matches(str(loc[-1]), known, n=1, cutoff=0.5)
    guess = f" (is it {near[0]}?)" if near else ""
    return f"{_path(loc)} is not a key{guess}; accepted is {', '.join(known)}"


def _accepted(loc: Sequence[int | str], file: type[BaseModel]) -> str:
    """The description of the innermost named key on the way."""
    table, text = file, ""
    for part in loc:
        if isinstance(part, str) and part in table.model_fields:
            text = table.model_fields[part].description or ""
            table = _inner(table, part)
    return text


def _inner(table: type[BaseModel], part: int | str) -> type[BaseModel]:
    """The table under a key, or the same where the key holds none (or `part` is an index)."""
    if not isinstance(part, str) or part not in table.model_fields:
        return table
    return _table_in(table.model_fields[part].annotation) or table


def _table_in(annotation: Any) -> type[BaseModel] | None:
    if hasattr(annotation, "model_fields"):
        return annotation  # type: ignore[no-any-return]
    return next((found for arg in get_args(annotation) if (found := _table_in(arg))), None)


def _path(loc: Sequence[int | str]) -> str:
    """`tone.curve#1.signal#3`: keys by name, places in a list counted from 1."""
    parts = [f"#{part + 1}" if isinstance(part, int) else f".{part}" for part in loc]
    return "".join(parts).removeprefix(".")


def _panel(file: layout.File) -> Panel:
    panel = Panel(
        name=file.name,
        open_cdm2=float(file.light.open_cdm2),
        notes=file.notes,
        tone=_or(file.tone, _tone, Tone()),
        primaries=_or(file.primaries, _primaries, Primaries()),
        tracking=_or(file.tracking, lambda t: Tracking(**_arrays(t)), Tracking()),
        zones=Zones(**file.zones.model_dump()) if file.zones else SelfEmissive(),
        spread=_or(file.spread, lambda t: Spread(**_arrays(t)), Spread()),
        limiter=_or(file.limiter, lambda t: Limiter(**_arrays(t)), Limiter()),
        cell=_or(file.cell, lambda t: Cell(t.contrast or np.inf, t.compensation), Cell()),
        angles=_or(file.angles, _angles, Angles()),
        uniformity=_or(file.uniformity, lambda t: Uniformity(numbers(t.grid)), Uniformity()),
        surface=_or(file.surface, lambda t: Surface(t.reflectance), Surface()),
        timing=_or(file.timing, _timing, Timing()),
        fit=file.fit,
    )
    return replace(panel, caveats=_doubts(panel))


def _or(table: Any, made: Callable[[Any], T], identity: T) -> T:
    return identity if table is None else made(table)


def _arrays(table: BaseModel) -> dict[str, Any]:
    return {name: numbers(value) if isinstance(value, list) else value for name, value in table}


def _primaries(table: layout.PrimariesTable) -> Primaries:
    return Primaries(**{name: (float(x), float(y)) for name, (x, y) in table})


def _tone(table: layout.ToneTable) -> Tone:
    curves = tuple(ToneReading(**_arrays(curve)) for curve in table.curve)
    return Tone(table.acts_on, table.policy, curves)


def _angles(table: layout.AnglesTable) -> Angles:
    contrast = table.contrast or [np.inf] * len(table.degree)
    return Angles(numbers(table.degree), numbers(contrast), numbers(table.gain))


def _timing(table: layout.TimingTable) -> Timing:
    return Timing(numbers(table.refresh_hz), numbers(table.input_lag_ms or []))


def _doubts(panel: Panel) -> tuple[Caveat, ...]:
    """What a panel may hold and a reader should doubt."""
    doubts = []
    brightest = max((float(curve.light[-1]) for curve in panel.tone.curves), default=0.0)
    if brightest > panel.open_cdm2:
        text = f"read up to {brightest:g}, above light.open_cdm2 = {panel.open_cdm2:g}: cut there"
        doubts.append(Caveat("tone.curve", text))
    seen = panel.angles
    if seen.degree.size and seen.degree[0] == 0 and seen.contrast[0] != panel.cell.contrast:
        text = f"{seen.contrast[0]:g} at 0°, and cell.contrast = {panel.cell.contrast:g}"
        doubts.append(Caveat("angles.contrast", f"{text}: the former acts"))
    return (*doubts, *doubts_in(panel.fit))


def _tone_table(tone: Tone) -> dict[str, Any]:
    if not tone.curves and (tone.acts_on, tone.policy) == ("max_rgb", "fixed"):
        return {}
    table: dict[str, Any] = {"acts_on": tone.acts_on, "policy": tone.policy}
    if tone.curves:
        table["curve"] = [vars(curve) for curve in tone.curves]
    return table


def _unless_same(effect: Any, identity: Any) -> dict[str, Any]:
    """The effect's keys, none where it is the identity."""
    table, same = plain(vars(effect)), plain(vars(identity))
    return {} if table == same else table


def _without_infinity(table: dict[str, Any]) -> dict[str, Any]:
    """No leakage is no contrast."""
    infinite = table.get("contrast") in (np.inf, [np.inf] * len(table.get("degree", [0])))
    return {key: value for key, value in table.items() if key != "contrast" or not infinite}
