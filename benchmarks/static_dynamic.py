"""A fixed tone curve against one made for each frame, on two masters of every demo scene.

Prints the table of the README, in Markdown: fine detail lost, in per cent of what is visible, under
a fixed curve made for 4000 cd/m² and under the same kind of curve made for the frame.

    python benchmarks/static_dynamic.py
"""

from __future__ import annotations

from emulate import Comparison, Panel, compare, load_panel
from emulate.demo_frames import SCENES, panel_files, scene
from emulate.films.comparison import REGIONS
from emulate.findings.formatting import digits_text

ROWS = 540  # 960×540
PEAKS = (1000.0, 4000.0)  # cd/m², mastering peaks
FAMILIES = {"BT.2390": "bt2390", "ST 2094-10": "st2094_10"}
PANEL = "self_emissive"  # light pixel by pixel: nothing but the curve and the limiter acts


def panel() -> Panel:
    """The panel of the table."""
    return load_panel(next(file for file in panel_files() if file.stem == PANEL))


def both_curves(name: str, peak: float, built: str) -> Comparison:
    """One master of a scene under the fixed curve and under the frame's own."""
    policies = [f"fixed:{built}:4000", f"by_frame:{built}"]
    return compare(scene(name, peak=peak, rows=ROWS), [panel()], policies)


def row(name: str, peak: float) -> str:
    """One line of the table; in bold what differs visibly."""
    cells = [cell for built in FAMILIES.values() for cell in _cells(both_curves(name, peak, built))]
    return f"| {name.replace('_', ' ')} | {peak:g} | {' | '.join(cells)} |"


def head() -> str:
    """The first two lines of the table."""
    names = [f"{family}: {region}" for family in FAMILIES for region in REGIONS.values()]
    return f"| scene | cd/m² | {' | '.join(names)} |\n|---|---|{'---|' * len(names)}"


def _cells(found: Comparison) -> list[str]:
    visible = {line.name for line in found.lines}
    return [_cell(found, f"detail.{region}.lost", visible) for region in REGIONS]


def _cell(found: Comparison, name: str, visible: set[str]) -> str:
    fixed, dynamic = (case.findings[name].value * 100 for case in found.cases)
    text = f"{_written(fixed)} → {_written(dynamic)}"
    return f"**{text}**" if name in visible else text


def _written(share: float) -> str:
    return "0" if share < 0.05 else digits_text(share)


if __name__ == "__main__":
    print(head())
    for each in SCENES:
        for master in PEAKS:
            print(row(each, master), flush=True)
