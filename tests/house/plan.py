"""The house as its files say it is: rooms, what each imports, and the floors of DEVELOPERS.md."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "emulate"
SCENES = ROOT / "demo_frames"
FRONT_DOOR = PACKAGE / "__init__.py"


def modules() -> list[Path]:
    """Every module that is installed, the front door apart."""
    files = [*PACKAGE.rglob("*.py"), *SCENES.rglob("*.py")]
    return sorted(file for file in files if file != FRONT_DOOR)


def name_of(file: Path) -> str:
    """`emulate.panel.file`, as it is imported."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    if parts[0] == "demo_frames":
        parts = ("emulate", *parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    """`panel` for emulate.panel.file, `transfer` for emulate.transfer."""
    return module.split(".")[1]


@cache
def floors() -> dict[str, int]:
    """Room -> floor, read off the table in DEVELOPERS.md."""
    rows = re.findall(r"^\| (\d+) \|([^|]*)\|", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.M)
    return {
        room.rstrip("/"): int(floor)
        for floor, cell in rows
        for room in re.findall(r"`(.+?)`", cell)
    }


def parsed(file: Path) -> ast.Module:
    return ast.parse(file.read_text("utf-8"), str(file))


def imports(file: Path) -> Iterator[str]:
    """Every module that a file imports anywhere in it, inside functions and TYPE_CHECKING too.

    `from emulate import name` counts as the room that the front door opens for the name.
    """
    for node in ast.walk(parsed(file)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from _imported(file, node)


def _imported(file: Path, node: ast.ImportFrom) -> Iterator[str]:
    module = node.module or ""
    if node.level:
        package = name_of(file).split(".")
        depth = node.level - (file.name == "__init__.py")
        module = ".".join([*package[: len(package) - depth], *([module] if module else [])])
    if module == "emulate":
        import emulate

        yield from (emulate._ROOMS.get(alias.name, f"emulate.{alias.name}") for alias in node.names)
    else:
        yield module
