"""Functions and modules stay small; every name that others use says what it is."""

import ast

import numpy as np

from tests.house.plan import modules, name_of, parsed, room_of

FUNCTION_LINES = 30  # at the ninth decile
MODULE_LINES = 400
KERNEL_LINES = 600
KERNELS = {"_kernels", "cuda"}  # rooms of loops over pixels


def _functions() -> dict[str, int]:
    """Function -> lines of its body, its docstring apart."""
    found = {}
    for file in modules():
        for node in ast.walk(parsed(file)):
            if isinstance(node, ast.FunctionDef) and room_of(name_of(file)) not in KERNELS:
                body = node.body[1:] if ast.get_docstring(node) else node.body
                lines = body[-1].end_lineno - body[0].lineno + 1 if body else 0
                found[f"{name_of(file)}.{node.name}:{node.lineno}"] = lines
    return found


def test_functions_are_short(record_property) -> None:
    lengths = _functions()
    middle, ninth = np.percentile(list(lengths.values()), (50, 90))
    record_property("function_lines", f"median {middle:g}, ninth decile {ninth:g}")
    longest = sorted(lengths, key=lengths.__getitem__)[-5:]
    assert ninth <= FUNCTION_LINES, f"ninth decile {ninth:g} lines; longest {longest}"
    assert middle <= 10, f"median {middle:g} lines"


def test_modules_are_short() -> None:
    for file in modules():
        lines = len(file.read_text("utf-8").splitlines())
        limit = KERNEL_LINES if room_of(name_of(file)) in KERNELS else MODULE_LINES
        assert lines <= limit, f"{name_of(file)} has {lines} lines; accepted is {limit}"


def test_modules_and_public_functions_say_what_they_are() -> None:
    for file in modules():
        tree = parsed(file)
        assert ast.get_docstring(tree), f"{name_of(file)} has no docstring"
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                assert ast.get_docstring(node), f"{name_of(file)}.{node.name} has no docstring"
