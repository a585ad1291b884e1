"""Words: what the key paths of a panel file stand for, as a person says it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from emulate.panel.panel import Panel

_WORDS = {  # key path with # for each place in a list -> words, with {} for each place
    "light.open_cdm2": "white, all open",
    "tone.curve": "tone curve",
    "tone.acts_on": "what the tone curve acts on",
    "tone.curve#.light#": "{} tone curve, light at the {} signal",
    "primaries": "primaries",
    "tracking": "grey tracking",
    **{f"tracking.{name}#": f"{name} at the {{}} grey" for name in ("red", "green", "blue")},
    "zones.peak_weight": "weight of the peak in a zone's drive",
    "zones.gamma": "gamma of a zone's drive",
    "zones.reach": "how far zones light their neighbours",
    "zones.floor": "lowest drive of a zone",
    "zones.grain_px": "pixels that a zone looks at together",
    "zones.cut": "light up to which a zone stays dark",
    "zones.attack_s": "time of zones to brighten",
    "zones.decay_s": "time of zones to darken",
    "zones.latency_frames": "frames by which zones are late",
    "zones.rows": "rows of zones",
    "zones.columns": "columns of zones",
    "spread.weight#": "weight of the {} spread",
    "spread.sigma_h#": "width of the {} spread",
    "limiter.gain#": "limiter gain at the {} window size",
    "limiter.acts": "how the limiter acts",
    "limiter.attack_s": "time of the limiter to recover",
    "limiter.decay_s": "time of the limiter to dim",
    "cell.contrast": "native contrast",
    "cell.compensation": "compensation by the cell",
    "angles": "viewing angles",
    "angles.gain#": "light at the {} angle",
    "angles.contrast": "native contrast from the side",
    "angles.contrast#": "native contrast at the {} angle",
    "uniformity.grid##": "uniformity, {} row, {} column",
    "surface.reflectance": "reflectance",
}
_COLOURS = {f"primaries.{name}#": name for name in ("red", "green", "blue", "white")}
_UNITS = {"_cdm2": "cd/m²", "_s": "s", "_h": "picture heights"}
_SUFFIX = {1: "st", 2: "nd", 3: "rd"}


def words_of(key: str) -> str:
    """`limiter gain at the 5th window size` for limiter.gain#5; what is no key path, as it is.

    Places in a list count from 1, as they do in the file's own messages.
    """
    places = [int(place) for place in re.findall(r"#(\d+)", key)]
    bare = re.sub(r"#\d+", "#", key)
    if bare in _COLOURS and places[0] in (1, 2):
        return f"{_COLOURS[bare]} {'xy'[places[0] - 1]}"
    return _WORDS[bare].format(*map(_ordinal, places)) if bare in _WORDS else key


def words_with_unit(key: str, panel: Panel) -> str:
    """As `words_of`, with the unit of the number, and at which load or angle of `panel` it is."""
    number = re.fullmatch(r"(limiter|angles)\.(\w+)#(\d+)", key)
    words = words_of(key)
    if number:
        table, _, place = number.groups()
        index = int(place) - 1
        at = (
            f"{100 * panel.limiter.load[index]:.3g} % load"
            if table == "limiter"
            else f"{panel.angles.degree[index]:g}°"
        )
        words = f"{words.partition(' at the ')[0]} at {at}"
    unit = next((unit for end, unit in _UNITS.items() if re.search(f"{end}(#|$)", key)), "")
    return f"{words}, {unit}" if unit else words


def _ordinal(place: int) -> str:
    teen = place % 100 in (11, 12, 13)
    return f"{place}{'th' if teen else _SUFFIX.get(place % 10, 'th')}"
