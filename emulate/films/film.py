"""A film's findings: a row a frame, and what they come to by scene and as a whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat, FindingsError
from emulate.films.entries import Checkpoint, Column, Columns, Entry, Row
from emulate.films.ranking import Moment, ranked
from emulate.films.summary import summed
from emulate.films.terms import Terms
from emulate.findings.finding import Findings, Unit
from emulate.frames.frame import Metadata
from emulate.frames.letterbox import Active
from emulate.frames.source import Damage
from emulate.values import Numbers, Value, locked


@dataclass(frozen=True, eq=False)
class Table(Value):
    """A row a frame: index (n,) in the source, time_s (n,), scene (n,) from 1, cut (n,), and values
    (n, columns), NaN where undetermined."""

    columns: tuple[Column, ...]
    index: NDArray[np.int64]
    time_s: Numbers
    cut: NDArray[np.bool]
    values: Numbers

    @property
    def scene(self) -> NDArray[np.int64]:
        """Number of each frame's scene, from 1."""
        return 1 + np.cumsum(self.cut)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    def unit_of(self, name: str) -> Unit:
        """Unit of one column."""
        return self.columns[self.names.index(name)].unit

    def __len__(self) -> int:
        return len(self.index)

    def __getitem__(self, name: str) -> Numbers:
        """One column (n,) by its name."""
        return np.asarray(self.values[:, self.names.index(name)])


@dataclass(frozen=True, eq=False)
class Scene:
    """A scene: its number from 1, where it starts and ends [s], its first and last frame, and what
    its frames come to."""

    number: int
    start_s: float
    end_s: float
    first: int
    last: int
    findings: Findings


@dataclass(frozen=True, eq=False)
class ClipFindings:
    """What a panel loses of a clip.

    film: findings over all frames; each is the mean, with `.worst` beside it. scenes: the same for
    each. table: a row a frame. moments: the worst of each loss. damage: stretches that could not be
    read. checkpoints: from where a frame can be rendered again. terms: how it was looked at.
    picture: rows and columns (top, bottom, left, right) inside bars.
    """

    clip: str
    panel: str
    film: Findings
    scenes: tuple[Scene, ...]
    moments: tuple[Moment, ...]
    table: Table
    damage: tuple[Damage, ...]
    checkpoints: tuple[Checkpoint, ...]
    terms: Terms
    picture: Active

    @property
    def cuts(self) -> Numbers:
        """When each scene but the first starts [s]."""
        return np.array([scene.start_s for scene in self.scenes[1:]])

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        return self.film.caveats


class Record:
    """Entries as they come in, each doubt once."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self.columns: Columns | None = None
        self.rows: list[Row] = []
        self.damage: list[Damage] = []
        self.doubts: dict[Caveat, None] = {}
        self.checkpoints: list[Checkpoint] = []
        for entry in entries:
            self.takes(entry)

    def takes(self, entry: Entry) -> bool:
        """Whether an entry is news; if so it is kept."""
        if isinstance(entry, Caveat) and entry in self.doubts:
            return False
        match entry:
            case Columns():
                self.columns = entry
            case Row():
                self.rows.append(entry)
            case Damage():
                self.damage.append(entry)
            case Caveat():
                self.doubts[entry] = None
            case Checkpoint():
                self.checkpoints.append(entry)
        return True


@dataclass(frozen=True)
class About:
    """What a record is of: clip and panel by name, what the stream claims, frames a second,
    where the picture lies inside bars, and how the worst moments are picked: how far apart [s], and
    how many of each loss."""

    clip: str
    panel: str
    metadata: Metadata
    rate: float
    picture: Active
    apart_s: float
    worst: int
    caveats: tuple[Caveat, ...] = ()


def findings_of(record: Record, about: About, terms: Terms) -> ClipFindings:
    """What the rows of a record come to. Raises FindingsError where it has none."""
    if record.columns is None or not record.rows:
        raise FindingsError(f"{about.clip}: no frame was measured; accepted is one at least")
    table = _table(record.columns, record.rows)
    doubts = (*about.caveats, *record.doubts, *_damaged(about.clip, record.damage))

    def come_to(part: Table) -> Findings:
        found = summed(part.columns, part.time_s, part.values, about.metadata)
        return Findings(found, doubts, {}, about.clip, about.panel, record.columns.basis)  # type: ignore[union-attr]

    return ClipFindings(
        clip=about.clip,
        panel=about.panel,
        film=come_to(table),
        scenes=tuple(
            _scene(number, part, about, come_to(part)) for number, part in _by_scene(table)
        ),
        moments=ranked(table, about.apart_s, about.worst),
        table=table,
        damage=tuple(record.damage),
        checkpoints=tuple(record.checkpoints),
        terms=terms,
        picture=about.picture,
    )


def _table(columns: Columns, rows: list[Row]) -> Table:
    return Table(
        columns.columns,
        np.array([row.index for row in rows]),
        np.array([row.time_s for row in rows]),
        np.array([row.cut for row in rows]),
        np.stack([row.values for row in rows]),
    )


def _by_scene(table: Table) -> list[tuple[int, Table]]:
    scene = table.scene
    parts = []
    for number in range(1, int(scene[-1]) + 1):
        there = scene == number
        arrays = (each[there] for each in (table.index, table.time_s, table.cut, table.values))
        parts.append((number, Table(table.columns, *map(locked, arrays))))
    return parts


def _scene(number: int, part: Table, about: About, findings: Findings) -> Scene:
    end = float(part.time_s[-1]) + 1 / about.rate
    return Scene(
        number, float(part.time_s[0]), end, int(part.index[0]), int(part.index[-1]), findings
    )


def _damaged(clip: str, damage: list[Damage]) -> list[Caveat]:
    return [Caveat(clip, f"{each}; it is left out") for each in damage]
