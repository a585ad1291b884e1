"""A results folder, format `emulate-results/1`: what was made, so that a page can be made of it.

`results.json` lists entries, each of a kind: a still on a panel, a film on a panel, a comparison of
two, what one change to a panel would take, a panel, or another folder with a list of its own. Files
are named relative to the list and lie in its folder or below.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NamedTuple

from emulate.errors import FindingsError
from emulate.findings.finding import Unit
from emulate.outputs import write_text

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

FORMAT: Literal["emulate-results/1"] = "emulate-results/1"
NAME = "results.json"
LARGEST_BYTES = 64 * 2**20  # a list of ours has some 10 kB; more than this is not one
DEEPEST = 8  # folders in folders; ours have two


class Checked:
    """Parent of what a list holds: no key that is not named."""

    __pydantic_config__: ClassVar[Any] = {"extra": "forbid", "allow_inf_nan": False}


@dataclass(frozen=True)
class Cause(Checked):
    """One colour of a layer: the key of its colour, words, and the finding that counts it."""

    key: str
    words: str
    finding: str


@dataclass(frozen=True)
class Layer(Checked):
    """A map to lie over the reference: a picture with alpha, and what its colours mean."""

    name: str
    title: str
    file: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True)
class Closeup(Checked):
    """The worst spot, both pictures as light. box: top, left, height, width in px of the frame,
    whose rows and columns are `of`. white [cd/m²]: of the exposure that shows the spot."""

    reference: str
    shown: str
    box: tuple[int, int, int, int]
    of: tuple[int, int]
    white: float
    sentence: str


@dataclass(frozen=True)
class Exposures(Checked):
    """What exposures a still asks for: (region, white [cd/m²]), darkest first; and the share of
    either picture above each of the `whites` that an exposure can have."""

    wanted: tuple[tuple[str, float], ...]
    whites: tuple[float, ...]
    above_reference: tuple[float, ...]
    above_shown: tuple[float, ...]


@dataclass(frozen=True)
class Still(Checked):
    """A frame on a panel. reference and shown: EXR of light [cd/m²] at the size of a page."""

    scene: str
    panel: str
    findings: str
    panel_file: str
    reference: str
    shown: str
    exposures: Exposures
    layers: tuple[Layer, ...] = ()
    closeup: Closeup | None = None
    question: str = ""
    kind: Literal["still"] = "still"


@dataclass(frozen=True)
class Illustration(Checked):
    """A picture with its title and the finding it shows, in words."""

    file: str
    title: str
    alt: str


@dataclass(frozen=True)
class Film(Checked):
    """A clip on a panel. video: mp4; loop: animated PNG; either may be empty. caution: what to say
    before it moves. findings: a file of emulate-findings/1 over the whole clip."""

    scene: str
    panel: str
    findings: str
    video: str = ""
    loop: str = ""
    alt: str = ""
    caution: str = ""
    question: str = ""
    illustrations: tuple[Illustration, ...] = ()
    kind: Literal["film"] = "film"


@dataclass(frozen=True)
class Claim(Checked):
    """One thing compared: its value in each case (null: undetermined), and what may be said of it.

    best: which case does best, by its place; null where that is no matter of better or worse.
    interval: of the second less the first of two, 95 %, where it was asked for.
    """

    name: str
    unit: Unit
    values: tuple[float | None, ...]
    definition: str
    sentence: str = ""
    best: int | None = None
    interval: tuple[float, float] | None = None


@dataclass(frozen=True)
class Comparison(Checked):
    """One content in several cases, claim by claim. sentence: what it comes to. findings: files of
    emulate-findings/1, one a case, or none."""

    title: str
    cases: tuple[str, ...]
    claims: tuple[Claim, ...]
    sentence: str = ""
    basis: str = ""
    illustrations: tuple[Illustration, ...] = ()
    findings: tuple[str, ...] = ()
    kind: Literal["comparison"] = "comparison"


@dataclass(frozen=True)
class Asked(Checked):
    """What one change to a panel would take. findings: a file of emulate-findings/1."""

    scene: str
    panel: str
    findings: str
    illustrations: tuple[Illustration, ...] = ()
    kind: Literal["whatif"] = "whatif"


@dataclass(frozen=True)
class Table(Checked):
    """Rows of text under a head, with the sentence that says what they show."""

    title: str
    sentence: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class PanelEntry(Checked):
    """A panel on file. trust: how far its numbers can be relied on, as fitted."""

    panel: str
    panel_file: str
    trust: tuple[Table, ...] = ()
    illustrations: tuple[Illustration, ...] = ()
    kind: Literal["panel"] = "panel"


@dataclass(frozen=True)
class Folder(Checked):
    """Another results folder, below this one."""

    folder: str
    kind: Literal["folder"] = "folder"


Entry = Still | Film | Comparison | Asked | PanelEntry
Listed = Entry | Folder


@dataclass(frozen=True)
class Results(Checked):
    """The list itself."""

    format: Literal["emulate-results/1"]
    entries: tuple[Listed, ...]


class Made(NamedTuple):
    """An entry and the folder that its files are named from."""

    entry: Entry
    folder: Path

    def file(self, name: str) -> Path:
        """A file of the entry. Raises FindingsError where it is missing or lies elsewhere."""
        path = inside(self.folder, name)
        if not is_file(path):
            raise FindingsError(f"{path}: no such file; {self.folder / NAME} names it")
        return path


def save_results(entries: tuple[Listed, ...], folder: str | os.PathLike[str]) -> Path:
    """Writes the list of a results folder. Raises OutputError where it cannot be written."""
    document = asdict(Results(FORMAT, entries))
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    return write_text(Path(folder) / NAME, text + "\n")


def load_results(folder: str | os.PathLike[str]) -> tuple[Made, ...]:
    """Every entry of a results folder, in the order of its list; or, where it has no list, of the
    folders below it that have one, by name.

    Raises FindingsError where there is none, or one cannot be understood.
    """
    place = Path(folder)
    if is_file(place / NAME):
        return tuple(_walked(place, DEEPEST))
    below = sorted(each for each in _below(place) if is_file(each))
    if not below:
        raise FindingsError(
            f"{folder}: no {NAME} here or below; accepted is a folder that `emulate demo`, "
            "`picture`, `film`, `compare` or `whatif` has filled"
        )
    return tuple(made for each in below for made in _walked(each.parent, DEEPEST))


def inside(folder: Path, name: str) -> Path:
    """A file below `folder`. Raises FindingsError for a name that leads out of it."""
    parts = PurePosixPath(name)
    if not name or parts.is_absolute() or ".." in parts.parts or "\\" in name or "\0" in name:
        raise FindingsError(f"{folder / NAME}: file {name!r}; accepted is a file in its folder")
    return folder / parts


def _below(place: Path) -> list[Path]:
    """Every list under a folder; a name that none can have holds none."""
    try:
        return list(place.rglob(NAME))
    except OSError:
        return []


def is_file(path: Path) -> bool:
    """Whether it is a file; a name too long for one is not."""
    try:
        return path.is_file()
    except OSError:
        return False


def _walked(folder: Path, depth: int) -> Iterator[Made]:
    if not depth:
        raise FindingsError(f"{folder}: folders in folders; accepted are {DEEPEST} of them")
    for entry in _read(folder / NAME).entries:
        if isinstance(entry, Folder):
            yield from _walked(inside(folder, entry.folder), depth - 1)
        else:
            yield Made(entry, folder)


def _read(path: Path) -> Results:
    from pydantic import ValidationError

    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise FindingsError(f"{path}: over 64 MiB; accepted is a list of {FORMAT}")
        document: Any = _document().model_validate_json(path.read_bytes())
    except OSError as error:
        raise FindingsError(f"{path}: cannot be read ({error.strerror or error})") from error
    except ValidationError as error:
        raise FindingsError(f"{path}, {_complaint(error)}; accepted is {FORMAT}") from error
    return Results(document.format, document.entries)


def _complaint(error: ValidationError) -> str:
    first = error.errors()[0]
    key = ".".join(str(part) for part in first["loc"]) or "top level"
    return f"key {key}: {first['msg'][0].lower()}{first['msg'][1:]}"


@cache
def _document() -> type[BaseModel]:
    """What a list must hold; built with the first one read, so that pydantic opens only then."""
    from typing import Annotated

    from pydantic import BaseModel, ConfigDict, Field

    class Document(BaseModel):
        model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
        format: Literal["emulate-results/1"]
        entries: tuple[Annotated[Listed, Field(discriminator="kind")], ...]

    return Document
