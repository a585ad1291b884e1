"""The front door: a sorted list of names, each importable, the same for people and for mypy."""

import ast
import subprocess
import sys
import tomllib

import pytest

import emulate
from tests.house.plan import FRONT_DOOR, PACKAGE, ROOT, SCENES, parsed

HEAVY = {"numpy", "scipy", "numba", "colour", "matplotlib", "av", "OpenEXR", "tifffile", "imageio",
         "pydantic", "tomlkit", "typer", "rich", "jinja2", "distributed"}  # fmt: skip


def test_names_are_sorted_and_open() -> None:
    assert list(emulate._ROOMS) == sorted(emulate._ROOMS)
    assert emulate.__all__ == sorted(emulate.__all__)
    for name in emulate.__all__:
        assert getattr(emulate, name) is not None
        assert getattr(emulate, name).__doc__, f"{name} does not say what it is"


def test_the_list_for_type_checkers_is_the_same() -> None:
    block = next(node for node in parsed(FRONT_DOOR).body if isinstance(node, ast.If))
    written = [(each.names[0].asname, each.module, each.names[0].name) for each in block.body]
    assert sorted(written) == [(name, room, name) for name, room in emulate._ROOMS.items()]


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no_such_name"):
        emulate.no_such_name  # noqa: B018


def _opened_by(statement: str) -> set[str]:
    """Libraries open in a fresh process after a statement; site-packages may preload some."""
    code = (
        f"import sys; before = set(sys.modules); {statement}; print(*(set(sys.modules) - before))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return {module.split(".")[0] for module in done.stdout.split()}


def test_import_emulate_opens_no_library() -> None:
    assert not _opened_by("import emulate") & HEAVY


def test_the_commands_open_no_library_but_their_own() -> None:
    opened = _opened_by("import emulate.cli; emulate.cli.typer.main.get_command(emulate.cli.app)")
    assert not opened & HEAVY - {"typer", "rich"}


def test_every_folder_is_installed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    folders = {".".join(file.parent.relative_to(ROOT).parts) for file in PACKAGE.rglob("*.py")}
    assert set(project["tool"]["setuptools"]["packages"]) == folders | {"emulate.demo_frames"}
    assert (SCENES / "panels").is_dir()
