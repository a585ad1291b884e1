"""The invented session of the demo: from its readings to a panel, its trust, and a claim."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from emulate.commands.measuring import trusted, write_trust
from emulate.commands.telling import tell_claims
from emulate.commands.terminal import progress, say

SCENE = "lamps_on_black_water"  # shows clipping, crushed blacks and halos at once


def show_session(out: Path, rows: int, **asked: Any) -> Path:
    """Fits a panel to the invented readings, checks it and shows a scene on it, with intervals.

    Returns the folder of all of it, ready for a page. `asked` goes to `show`.
    """
    from emulate import find_accuracy, fit_panel, load_readings, save_panel
    from emulate.demo_frames import question, scene, session_files
    from emulate.findings.results import Folder, PanelEntry, save_results
    from emulate.findings.trusted import trust_tables
    from emulate.outputs import folder
    from emulate.pictures.accuracy import draw_accuracy
    from emulate.showing import Conditions, show

    place = folder(out)
    with progress(9, "readings") as begin:
        begin("reading an invented session with the meter")
        session = load_readings(session_files())
        begin(f"fitting a panel to {len(session)} readings")
        panel = fit_panel(session)
        save_panel(panel, place / "panel.toml")
        write_trust(trusts := trusted(panel, session, True, begin), place)
        draw_accuracy(find_accuracy(session), place)
        begin(f"{SCENE} on {panel.name}")
        wanted = {"question": question(SCENE), **asked}
        findings = show(
            scene(SCENE, rows=rows), panel, place / SCENE, Conditions(intervals=True), light=False,
            **wanted,
        )  # fmt: skip
        fitted = PanelEntry(panel.name, "panel.toml", trust_tables(trusts))
        save_results((Folder(SCENE), fitted), place)
    tell_claims(trusts, findings)
    say(
        f"From readings to claims: {place / 'trust.png'} says how far to trust the fitted panel, "
        f"{place / 'panel.toml'} holds it."
    )
    return place
