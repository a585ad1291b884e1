"""Each outside library has one door."""

import ast
import sys

import pytest

from tests.house.plan import imports, modules, name_of, parsed, room_of

DOORS = {  # library -> the rooms that may open it
    "llvmlite": {"_kernels"},
    "numba": {"_kernels", "cuda"},
    "colour": {"colorimetry"},
    "matplotlib": {"pictures"},
    "av": {"frames"},
    "OpenEXR": {"frames"},
    "Imath": {"frames"},
    "tifffile": {"frames"},
    "imageio": {"frames"},
    "typer": {"cli", "commands"},
    "click": {"cli"},
    "rich": {"cli", "commands"},
    "jinja2": {"report"},
    "pydantic": {"panel", "findings", "readings"},
    "pydantic_core": {"panel", "findings", "readings"},
    "tomlkit": {"panel"},
    "distributed": {"films"},
    "dask": {"films"},
}
EVERYWHERE = {"numpy", "scipy"}
ONLY_THERE = {"print", "input", "exit", "quit"}


@pytest.mark.parametrize("file", modules(), ids=name_of)
def test_a_library_comes_in_by_its_own_door(file) -> None:
    room = room_of(name_of(file))
    for module in imports(file):
        library = module.split(".")[0]
        if library == "emulate" or library in sys.stdlib_module_names or library in EVERYWHERE:
            continue
        assert library in DOORS, f"{name_of(file)} imports {library}, which has no door"
        assert room in DOORS[library], f"{name_of(file)} imports {library}, door {DOORS[library]}"


@pytest.mark.parametrize("file", modules(), ids=name_of)
def test_only_the_commands_print_or_exit(file) -> None:
    if room_of(name_of(file)) in {"cli", "commands"}:
        return
    called = {
        node.func.id
        for node in ast.walk(parsed(file))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & ONLY_THERE, f"{name_of(file)} calls {called & ONLY_THERE}"
    assert "argparse" not in set(imports(file))


def test_pyplot_is_never_opened_by_us() -> None:
    opened = [name_of(file) for file in modules() if "matplotlib.pyplot" in set(imports(file))]
    assert not opened
