"""Terminal: text, tables and progress, and what an option may say; door to rich."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from emulate.films.scan import Progress
    from emulate.showing import Tell


def plain(text: str) -> str:
    """One line without control characters, whatever a file is called."""
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text)


def say(text: str) -> None:
    """One paragraph on standard output."""
    _console().print(plain(text), soft_wrap=True)


def columns(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
    """Columns on standard output, wrapped to the width of the terminal."""
    from rich.table import Table
    from rich.text import Text

    lines = Table(box=None, pad_edge=False)
    for index, title in enumerate(head):
        lines.add_column(title, overflow="fold", no_wrap=index == 0)
    for row in rows:
        lines.add_row(*(Text("\n".join(map(plain, cell.split("\n")))) for cell in row))
    _console().print(lines)


@contextmanager
def progress(total: int, what: str) -> Iterator[Tell]:
    """A bar on standard error that says what begins; a line each where that is no terminal."""
    console = _console(stderr=True)
    if not console.is_terminal:
        yield lambda begun: console.print(plain(begun), soft_wrap=True)
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    text = TextColumn("{task.description}", markup=False)
    with Progress(text, BarColumn(), TimeElapsedColumn(), console=console, transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda begun: bar.update(task, description=plain(begun), advance=1)


@contextmanager
def going_on(out: Path) -> Iterator[None]:
    """Says, where it is stopped, that nothing is lost."""
    try:
        yield
    except KeyboardInterrupt:
        say(f"What was learned is kept in {out}: the same command goes on from there.")
        raise


@contextmanager
def frames_done(what: str) -> Iterator[tuple[Callable[[Progress], None], Tell]]:
    """A bar on standard error with the time left, told from the last minute's pace.

    Frames that a journal knew do not count as pace. A line every hundred frames where that is no
    terminal.
    """
    console = _console(stderr=True)

    def say(words: str) -> None:
        console.print(plain(words), soft_wrap=True)

    def line(now: Progress) -> None:
        if now.done % 100 == 0 or now.done == now.known:
            say(f"{now.done} of {now.total or '?'} frames")

    if not console.is_terminal:
        yield line, say
        return
    from rich import progress

    columns = (
        progress.TextColumn("{task.description}", markup=False),
        progress.BarColumn(),
        progress.MofNCompleteColumn(),
        progress.TimeElapsedColumn(),
        progress.TextColumn("left"),
        progress.TimeRemainingColumn(),
    )
    with progress.Progress(
        *columns, console=console, transient=True, speed_estimate_period=60
    ) as bar:
        task = bar.add_task(plain(what), total=None)

        def step(now: Progress) -> None:
            if now.done == now.known:
                bar.reset(task, total=now.total, completed=now.done)
            else:
                bar.update(task, completed=now.done)

        yield step, lambda begun: bar.update(task, description=plain(begun))


def _console(*, stderr: bool = False) -> Console:
    """A console that takes text as text: no markup, no colour codes for names or numbers."""
    from rich.console import Console

    return Console(stderr=stderr, markup=False, highlight=False, emoji=False)


def one_of(option: str, given: str, accepted: dict[str, Any]) -> Any:
    """What an option stands for. Raises BadParameter with what is accepted."""
    if given not in accepted:
        raise typer.BadParameter(f"{option} {given}: accepted is {' or '.join(accepted)}")
    return accepted[given]
