"""What the columns of a meter's table mean, and in which unit they are."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from emulate.errors import Caveat, ReadingError, place
from emulate.readings.table import Table

FOOT_LAMBERT = 1 / (3.141592653589793 * 0.3048**2)  # cd/m²: 1/π candela per square foot, by its
# definition, with the international foot of 0.3048 m
UNITS = {
    "cd/m²": 1.0,
    "cd/m2": 1.0,
    "cd/m^2": 1.0,
    "cdm2": 1.0,
    "cd_m2": 1.0,
    "cd·m⁻²": 1.0,
    "cd m-2": 1.0,
    "nit": 1.0,
    "nits": 1.0,
    "fl": FOOT_LAMBERT,
    "ft-l": FOOT_LAMBERT,
    "ftl": FOOT_LAMBERT,
    "foot-lambert": FOOT_LAMBERT,
    "foot-lamberts": FOOT_LAMBERT,
    "footlambert": FOOT_LAMBERT,
    "footlamberts": FOOT_LAMBERT,
}
ACCEPTED_UNITS = "cd/m² (or nit), and fL, which is converted"

NAMES = {  # role: the names it goes by, lower case, without unit
    "stimulus": ("stimulus",),
    "pattern": ("pattern",),
    "measure": ("measure",),
    "repeat": ("repeat", "repeats"),
    "spot_x": ("spot_x",),
    "spot_y": ("spot_y",),
    "angle": ("angle_deg", "angle"),
    "room": ("room_lux",),
    "time": ("time", "time_s", "time_ms", "time_hms"),
    "switch_overs": ("switch_overs",),
    "luminance": ("luminance", "lum", "light", "l", "lv"),
    "signal": ("signal", "signal_pq", "pq"),
    "code10_narrow": ("code10_narrow", "code_10_narrow"),
    "code10_full": ("code10_full", "code_10_full"),
    "red": ("red", "r", "signal_r", "rgb_r"),
    "green": ("green", "g", "signal_g", "rgb_g"),
    "blue": ("blue", "b", "signal_b", "rgb_b"),
    "area": ("area_percent",),
    "peak": ("mastering_peak_cdm2", "mastering_peak"),
    "codes": ("level_code10",),
    "notes": ("notes", "note", "comment", "comments", "remark", "remarks", "sample_id", "index"),
}
_ROLES = {name: role for role, names in NAMES.items() for name in names}
_READ = [name for name, role in _ROLES.items() if role != "notes"]
MISSPELT = 0.85  # likeness of two words, 0 to 1, from which one is the other misspelt, ours
SHORTEST = 4  # letters of a name's beginning that stand for it, ours
_LETTERS = {"x": "x", "y": "y", "X": "X", "Y": "luminance", "Z": "Z"}


@dataclass(frozen=True)
class Layout:
    """at: column index by role; factor: cd/m² per unit of light; relative: light without unit."""

    at: Mapping[str, int]
    factor: float
    relative: bool = False
    time_factor: float | None = None
    caveats: tuple[Caveat, ...] = ()


def layout_of(table: Table, units: str | None = None, *, trace: bool = False) -> Layout:
    """The meaning of each column of a table.

    units: what light is in where neither header nor remark says so. In a trace the light may go
    without. Raises ReadingError for a name that is unknown but near a known one, a role given
    twice, colour in part, and light without a unit.
    """
    at: dict[str, int] = {}
    stated: dict[str, str] = {}
    caveats: list[Caveat] = []
    for index, name in enumerate(table.header):
        role, unit = _role(name)
        if role is None:
            caveats += _unread(table, index, name)
            continue
        if role in at:
            twice = f"{table.header[at[role]]!r} and {name!r} say the same"
            raise ReadingError(f"{_where(table, index)}: {twice}; accepted is one of them")
        at[role] = index
        if unit:
            stated[role] = unit
    _check_colour(table, at)
    factor, doubts = _factor(table, at, stated, units, trace)
    relative = trace and "luminance" in at and factor is None
    return Layout(at, factor or 1.0, relative, _time_factor(table, at, stated), (*caveats, *doubts))


def roles_of(table: Table) -> set[str]:
    """The roles that a table's columns have, whatever else may be wrong with them."""
    return {role for name in table.header if (role := _role(name)[0])}


def _role(name: str) -> tuple[str | None, str]:
    """Role and stated unit of a column name such as `Y [cd/m²]` or `luminance_cdm2`."""
    bare, unit = _split(name)
    if bare in _LETTERS:
        return _LETTERS[bare], unit
    lowered = re.sub(r"[\s\-]+", "_", bare.lower())
    if lowered in UNITS:
        return "luminance", lowered
    return _ROLES.get(lowered), unit


def _split(name: str) -> tuple[str, str]:
    known = name.strip()
    if known.lower() in _ROLES:
        return known, {"time_s": "s", "time_ms": "ms"}.get(known.lower(), "")
    bracket = re.fullmatch(r"(.*?)\s*[\[(]\s*(.+?)\s*[\])]", known)
    if bracket:
        return bracket[1].strip(), bracket[2]
    suffix = re.fullmatch(r"([A-Za-z]+)_(\w+)", known)
    if suffix and (suffix[1] in _LETTERS or suffix[1].lower() in NAMES["luminance"]):
        return suffix[1], suffix[2]
    return known, ""


def _unread(table: Table, index: int, name: str) -> list[Caveat]:
    """An unknown column is left alone, but one that is plainly a known one misspelt is refused."""
    if not name:
        known = ", ".join(names[0] for names in NAMES.values())
        accepted = f"accepted are {known}, x, y, X, Y, Z"
        raise ReadingError(f"{_where(table, index)}: has no name; {accepted}")
    near = _meant(_split(name)[0].lower())
    if near:
        what = f"{name!r} is no column that is read; is {near!r} meant?"
        raise ReadingError(f"{_where(table, index)}: {what}")
    return [Caveat(_where(table, index), f"{name!r} is not read")]


def _meant(name: str) -> str:
    """The name that is read and that this one misspells, or begins; "" where it is another word."""
    bare, _, unit = name.rpartition("_")
    word = bare if unit in UNITS else name
    near = get_close_matches(word, _READ, n=1, cutoff=MISSPELT)
    begun = [known for known in _READ if len(word) >= SHORTEST and known.startswith(f"{word}_")]
    return next(iter([*near, *begun]), "")


def _check_colour(table: Table, at: Mapping[str, int]) -> None:
    found = {role for role in ("x", "y", "X", "Z") if role in at}
    whole = found in (set(), {"x", "y"}, {"X", "Z"})
    if whole and (not found or "luminance" in at):
        return
    raise ReadingError(
        f"{place(table.path, table.header_line)}: colour as {', '.join(sorted(found))}"
        f"{'' if 'luminance' in at else ' without luminance'}; accepted is x, y with luminance, or "
        "X, Y, Z (letters as large or small as here)"
    )


def _factor(
    table: Table, at: Mapping[str, int], stated: Mapping[str, str], units: str | None, trace: bool
) -> tuple[float | None, tuple[Caveat, ...]]:
    if "luminance" not in at:
        return None, ()
    index = at["luminance"]
    where = _where(table, index)
    said = {stated[role] for role in ("luminance", "X", "Z") if role in stated}
    remark = table.remarks.get("unit") or table.remarks.get("luminance_unit")
    said |= {text for text in (remark[1] if remark else "", units or "") if text}
    factors = {_unit(where, text) for text in said if text.lower() not in ("relative", "a.u.")}
    if len(factors) > 1:
        raise ReadingError(f"{where}: light in {' and '.join(sorted(said))}; accepted is one unit")
    if not factors and not trace:
        raise ReadingError(
            f"{where}: {table.header[index]!r} states no unit; accepted is {ACCEPTED_UNITS}: write "
            f"'{table.header[index]} [cd/m²]', or pass units='cd/m²'"
        )
    factor = factors.pop() if factors else None
    if factor == FOOT_LAMBERT:
        return factor, (Caveat(where, f"in foot-lamberts, converted at {factor:.6f} cd/m²"),)
    return factor, ()


def _unit(where: str, text: str) -> float:
    unit = UNITS.get(text.strip().lower())
    if unit is None:
        raise ReadingError(f"{where}: light in {text!r}; accepted is {ACCEPTED_UNITS}")
    return unit


def _time_factor(table: Table, at: Mapping[str, int], stated: Mapping[str, str]) -> float | None:
    """Seconds per unit of the time column; None where it states none."""
    unit = stated.get("time")
    if unit is None:
        return None
    factors = {"s": 1.0, "ms": 1e-3, "hms": 1.0, "hh:mm:ss": 1.0}
    if unit not in factors:
        raise ReadingError(f"{_where(table, at['time'])}: time in {unit!r}; accepted is s or ms")
    return factors[unit]


def _where(table: Table, index: int) -> str:
    return place(table.path, table.header_line, index + 1)
