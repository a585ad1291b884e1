"""Toml: plain values as canonical TOML text, and as a refusal shows them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, time
from typing import Any

import numpy as np

from emulate.errors import PanelError

SHOWN = 60  # characters of a refused value


def text_of(document: Mapping[str, Any], where: str) -> str:
    """The document as TOML. Raises PanelError where it holds what TOML has no words for."""
    try:
        text = "\n".join(_lines(document)) + "\n"
        text.encode()
    except (TypeError, UnicodeEncodeError) as error:
        accepted = "numbers, text, truth values, dates, lists and tables of them"
        raise PanelError(f"{where}: {error}; accepted is {accepted}") from None
    return text


def shown(value: Any) -> str:
    """A refused value, short enough for one line."""
    try:
        text = _value(plain(value)).replace("\n", "")
    except TypeError:
        text = repr(value)
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 1]}…"


def plain(value: Any) -> Any:
    """numpy numbers and arrays, tuples and mappings as what TOML knows."""
    if isinstance(value, np.generic | np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    return value


def _lines(table: Mapping[str, Any], path: str = "") -> list[str]:
    """A table's own keys, then the tables in it."""
    below = {key: value for key, value in table.items() if _is_table(value)}
    lines = [f"{_key(key)} = {_value(v)}" for key, v in table.items() if key not in below]
    for key, value in below.items():
        inner = f"{path}.{_key(key)}".removeprefix(".")
        tables = value if isinstance(value, list) else [value]
        head = f"[[{inner}]]" if isinstance(value, list) else f"[{inner}]"
        for one in tables:
            lines += ["", head, *_lines(one, inner)]
    return lines


def _is_table(value: Any) -> bool:
    tables = isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
    return isinstance(value, dict) or bool(tables)


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else _value(key)


def _value(value: Any) -> str:
    """A value as TOML writes it; rows of a grid on lines of their own."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_key(key)} = {_value(inner)}' for key, inner in value.items())}}}"
    if isinstance(value, list):
        rows = [_value(inner) for inner in value]
        if len(value) > 1 and all(isinstance(inner, list) for inner in value):
            return "[\n" + "".join(f"  {row},\n" for row in rows) + "]"
        return f"[{', '.join(rows)}]"
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int | float):
        return repr(value)
    raise TypeError(f"{value!r} cannot be written")
