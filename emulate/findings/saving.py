"""Findings on file, format `emulate-findings/1`: JSON, the same bytes for the same findings.

    {"format": "emulate-findings/1", "frame": name, "panel": name, "basis": sentence,
     "caveats": [{"about", "text"}], "findings": {dotted name: {"value", "unit", "sentence",
     "definition", "interval"}}}

A value of null is undetermined; an interval of null was not asked for. Maps are not kept.
"""

from __future__ import annotations

import json
import os
from functools import cache
from math import isnan, nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

from emulate.errors import Caveat, FindingsError
from emulate.findings.finding import Finding, Findings
from emulate.outputs import write_text

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

FORMAT = "emulate-findings/1"
LARGEST_BYTES = 64 * 2**20  # a file of ours has some 50 kB; more than this is not one


def save_findings(findings: Findings, path: str | os.PathLike[str]) -> Path:
    """Writes findings as JSON, whole or not at all. Raises OutputError where it cannot."""
    return write_text(path, text_of(findings))


def load_findings(path: str | os.PathLike[str]) -> Findings:
    """Findings from a file of `save_findings`, without maps.

    Raises FindingsError where the file is missing, is no JSON, or has a key missing, unknown or of
    another type.
    """
    document = _checked(_parsed(Path(path)), path)
    return Findings(
        {name: _finding(entry) for name, entry in document["findings"].items()},
        tuple(Caveat(entry["about"], entry["text"]) for entry in document["caveats"]),
        frame=document["frame"],
        panel=document["panel"],
        basis=document["basis"],
    )


def text_of(findings: Findings) -> str:
    """The JSON text of findings, as it is saved."""
    document = {
        "format": FORMAT,
        "frame": findings.frame,
        "panel": findings.panel,
        "basis": findings.basis,
        "caveats": [{"about": each.about, "text": each.text} for each in findings.caveats],
        "findings": {name: _entry(found) for name, found in findings.items()},
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _entry(found: Finding) -> dict[str, Any]:
    return {
        "value": None if isnan(found.value) else found.value,
        "unit": found.unit,
        "sentence": found.sentence,
        "definition": found.definition,
        "interval": found.interval,
    }


def _finding(entry: dict[str, Any]) -> Finding:
    value = nan if entry["value"] is None else entry["value"]
    return Finding(**{**entry, "value": value})


def _parsed(path: Path) -> Any:
    try:
        if path.exists() and not (path.is_file() or path.is_dir()):
            raise FindingsError(f"{path}: a pipe or device; accepted is a file of {FORMAT}")
        if path.stat().st_size > LARGEST_BYTES:
            raise FindingsError(f"{path}: over 64 MiB; accepted is a file of {FORMAT}")
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise FindingsError(f"{path}: cannot be read ({error.strerror or error})") from error
    except RecursionError as error:
        raise FindingsError(f"{path}: nested too deep; accepted is {FORMAT}") from error
    except ValueError as error:
        raise FindingsError(f"{path}: no JSON ({error}); accepted is {FORMAT}") from error


def _checked(document: Any, path: str | os.PathLike[str]) -> dict[str, Any]:
    from pydantic import ValidationError

    try:
        return _document_model().model_validate(document).model_dump()
    except ValidationError as error:
        raise FindingsError(f"{path}, {_complaint(error)}; accepted is {FORMAT}") from error


def _complaint(error: ValidationError) -> str:
    first = error.errors()[0]
    key = ".".join(str(part) for part in first["loc"]) or "top level"
    return f"key {key}: {first['msg'][0].lower()}{first['msg'][1:]}"


@cache
def _document_model() -> type[BaseModel]:
    """What a file must hold; built with the first file read, so that pydantic opens only then."""
    from typing import Annotated, Literal

    from pydantic import BaseModel, ConfigDict, Field

    from emulate.findings.finding import Unit

    class Strict(BaseModel):
        model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

    class Doubt(Strict):
        about: str
        text: str

    class Entry(Strict):
        value: float | None
        unit: Unit
        sentence: str
        definition: str
        # JSON knows no tuples: a strict one would refuse the list that it was written as.
        interval: Annotated[tuple[float, float], Field(strict=False)] | None

    class Document(Strict):
        format: Literal["emulate-findings/1"]
        frame: str
        panel: str
        basis: str
        caveats: list[Doubt]
        findings: dict[str, Entry]

    return Document
