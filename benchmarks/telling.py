"""What was measured, told: a table, a csv, a figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

from benchmarks.timing import Line
from emulate.outputs import whole_file
from emulate.pictures.style import DASHES, FAINT, INK, PAGE, RULE, SERIES, look


def table(lines: Sequence[Line]) -> Iterator[str]:
    """The figures, each beside the others' of the same run: ratios over 1 say that we are faster,
    and the last column how many copies fit into our time."""
    yield f"{'what':<20}{'size':<7}{'zones':>6}{'threads':>8}{'ours ms':>9}{'fps':>8}" + "".join(
        f"{f'× {by}':>9}" for by in ("plain", "tidy", "decode")) + f"{'copies':>8}"  # fmt: skip
    for line in lines:
        if line.by != "ours":
            continue
        beside = {by: _seconds_of(lines, line, by) for by in ("plain", "tidy", "decode")}
        ratios = "".join(
            f"{other / line.seconds:>9.2f}" if other else f"{'':>9}" for other in beside.values()
        )
        copy = _seconds_of(lines, line, "copy")
        yield (
            f"{line.what:<20}{line.size:<7}{line.zones:>6}{line.threads:>8}"
            f"{1e3 * line.seconds:>9.1f}{1 / line.seconds:>8.1f}{ratios}"
            + (f"{line.seconds / copy:>8.1f}" if copy else "")
        ).rstrip()
    yield ""
    yield from (
        f"{line.by:<8}{line.what:<20}{line.size:<7}"
        f"{line.threads} threads {1e3 * line.seconds:>10.1f} ms"
        for line in lines
        if line.by != "ours"
    )


def _seconds_of(lines: Sequence[Line], line: Line, by: str) -> float | None:
    """Of another's way to the same; copies are by threads, the others have one."""
    what = "light" if by == "copy" and line.what != "clip" else line.what
    threads = line.threads if by == "copy" or line.what == "clip" else 1
    return next(
        (
            each.seconds
            for each in lines
            if (each.what, each.by, each.size, each.threads) == (what, by, line.size, threads)
            and line.zones == each.zones
        ),
        None,
    )


def csv_of(lines: Sequence[Line]) -> str:
    """Every figure, one a line."""
    names = [each.name for each in fields(Line)]
    rows = [names, *([str(getattr(line, name)) for name in names] for line in lines)]
    return "".join(",".join(row) + "\n" for row in rows)


def draw(lines: Sequence[Line], ends: Sequence[float], zoned: str, into: Path) -> None:
    """Cost against pixels, against zones, and against frames of a clip, side by side."""
    from matplotlib.figure import Figure

    with look():
        figure = Figure(figsize=(12, 4.2), layout="constrained", facecolor=PAGE)
        axes = figure.subplots(1, 3)
        for index, what in enumerate(("light", "luminance findings", "all findings")):
            style = {"color": SERIES[index], "linestyle": DASHES[index], "marker": "o"}
            by_size = [line for line in lines if _is(line, what) and line.zones == 96]
            firsts = {line.pixels: line for line in reversed(by_size)}  # timed beside other sizes
            alike = [firsts[pixels] for pixels in sorted(firsts)]
            axes[0].loglog(
                [line.pixels / 1e6 for line in alike],
                [1e3 * line.seconds for line in alike],
                label=what,
                **style,
            )
            # The last of each count: those that were timed turn by turn with the other counts.
            by_zones = {line.zones: line for line in lines if _is(line, what, zoned)}
            if len(by_zones) > 1:
                axes[1].semilogx(
                    list(by_zones), [1e3 * each.seconds for each in by_zones.values()], **style
                )
        axes[2].plot(range(1, len(ends) + 1), ends, color=SERIES[0])
        _labelled(axes, zoned, _values(lines, zoned))
        for suffix, rest in (("svg", {"metadata": {"Date": None}}), ("png", {"dpi": 150})):
            with whole_file(into / f"cost.{suffix}") as scratch:
                figure.savefig(scratch, **rest)


def _is(line: Line, what: str, size: str | None = None) -> bool:
    return (line.what, line.by, line.threads) == (what, "ours", 2) and size in (None, line.size)


def _values(lines: Sequence[Line], zoned: str) -> tuple[list[float], list[int]]:
    """Millions of pixels, and zones, that there are figures of."""
    ours = [line for line in lines if _is(line, "light")]
    pixels = sorted({line.pixels / 1e6 for line in ours})
    return pixels, sorted({line.zones for line in ours if line.size == zoned})


def _labelled(axes: Any, zoned: str, values: tuple[list[float], list[int]]) -> None:
    from matplotlib.ticker import LogLocator, NullLocator

    pixels, zones = values
    titles = ("Cost against pixels", "against zones", "against frames")
    bottoms = ("million pixels", f"zones, at {zoned}", "frames of a clip, decoding included")
    for each, title, bottom in zip(axes, titles, bottoms, strict=True):
        each.set_title(title, loc="left", color=INK)
        each.set_xlabel(bottom, color=FAINT)
        each.set_facecolor(PAGE)
        each.set_ylim(bottom=None if each is axes[0] else 0, top=1.1 * each.get_ylim()[1])
        each.grid(color=RULE)
        each.spines[["top", "right"]].set_visible(False)
    axes[0].set_ylabel("ms a picture, two threads", color=FAINT)
    axes[1].set_ylabel("ms a picture, two threads", color=FAINT)
    axes[2].set_ylabel("s since the start", color=FAINT)
    axes[0].set_xticks(pixels, [f"{each:.3g}" for each in pixels])
    axes[1].set_xticks(zones, [str(each) for each in zones])
    for each in (axes[0].xaxis, axes[1].xaxis, axes[0].yaxis):
        each.set_minor_locator(NullLocator())
    axes[0].yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes[0].yaxis.set_major_formatter("{x:g}")
    axes[0].legend(frameon=False)
