"""The page: contents poured into a template, with its style and script in the same file.

A page asks for nothing: pictures, style and script are in it, and its content security policy
allows no other. Names are text wherever they come from: the template escapes all of them.
"""

from __future__ import annotations

import os
import re
from base64 import b64encode
from collections.abc import Callable, Iterator, Sequence
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from emulate.errors import Caveat, FindingsError
from emulate.findings.finding import Findings
from emulate.findings.results import Asked, Comparison, Entry, Film, Made, Still, load_results
from emulate.findings.saving import load_findings
from emulate.outputs import write_text
from emulate.report.contents import Contents, Doubt, Opening
from emulate.report.opening import opening
from emulate.report.panels import asked_of, comparison_of, film_of, panels_of
from emulate.report.scenes import grouped, loaded, scene_of, titled

if TYPE_CHECKING:
    from jinja2 import Environment

PathLike = str | os.PathLike[str]
TITLE = "What the panel shows, and what it loses"
Tell = Callable[[str], None]
_NUMBERS = re.compile(r"(less than |more than )?[\d.,]+")


def write_report(
    results: PathLike | Sequence[PathLike],
    path: PathLike = "page.html",
    *,
    title: str | None = None,
    tell: Tell = lambda _: None,
) -> Path:
    """One self-contained HTML page of one or more results folders; the same bytes each time.

    results: folders that `emulate demo`, `emulate picture` or another command has filled. `tell`
    hears what is being done. Raises FindingsError where there is nothing to show or something
    cannot be understood, MaterialError or PanelError where a part is damaged, OutputError where
    the page cannot be written.
    """
    folders = [results] if isinstance(results, str | os.PathLike) else list(results)
    made = [each for folder in folders for each in load_results(folder)]
    if not made:
        raise FindingsError(f"{', '.join(map(str, folders))}: no entries; accepted is one or more")
    return write_text(path, page_text(contents_of(made, title or TITLE, tell)))


def contents_of(made: Sequence[Made], title: str = TITLE, tell: Tell = lambda _: None) -> Contents:
    """What stands on the page of these entries. Raises as `write_report` does."""
    read = [each for each in made if isinstance(each.entry, Still | Film)]
    findings = [(titled(_name(each)), load_findings(_findings_file(each))) for each in read]
    scenes = []
    for group in grouped([each for each in made if isinstance(each.entry, Still)]):
        stills = [loaded(each) for each in group]
        tell(f"page: {stills[0].still.scene}")
        scenes.append(scene_of(stills))
    tell("page: panels")
    films = [(each, each.entry) for each in made if isinstance(each.entry, Film)]
    pairs = [(each, each.entry) for each in made if isinstance(each.entry, Comparison)]
    asked = [(each, each.entry) for each in made if isinstance(each.entry, Asked)]
    told = [*findings, *_further(made)]
    return Contents(
        title=title,
        opening=opening(findings, _verdicts([entry for _, entry in pairs])),
        scenes=tuple(scenes),
        films=tuple(film_of(*each) for each in films),
        comparisons=tuple(comparison_of(*each) for each in pairs),
        asked=tuple(asked_of(*each) for each in asked),
        panels=panels_of(made, {str(doubt) for _, each in told for doubt in each.caveats}),
        doubts=_doubts(told),
        definitions=_definitions(told, [entry for _, entry in pairs]),
        version=version("emulate"),
    )


def page_text(contents: Contents) -> str:
    """The page as HTML."""
    environment = templates()
    counts = {
        "panels": max((len(scene.panels) for scene in contents.scenes), default=0),
        "views": max((len(scene.views) + 1 for scene in contents.scenes), default=0),
        "layers": max(
            (len(one.layers) for scene in contents.scenes for one in scene.panels), default=0
        ),
    }
    style = environment.get_template("page.css").render(**counts)
    script = environment.get_template("page.js").render()
    return environment.get_template("page.html").render(
        page=contents, style=style, script=script, policy=_policy(style, script)
    )


def templates() -> Environment:
    """Templates of this room; whatever is put into them is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("emulate", "report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _policy(style: str, script: str) -> str:
    """Content security policy, level 3: this style, this script, and what the file itself holds."""
    return (
        "default-src 'none'; img-src data:; media-src data:; "
        f"style-src '{_digest(style)}'; script-src '{_digest(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode('ascii')}"


def _name(made: Made) -> str:
    assert isinstance(made.entry, Still | Film)
    return made.entry.scene


def _findings_file(made: Made) -> Path:
    assert isinstance(made.entry, Still | Film)
    return made.file(made.entry.findings)


def _further(made: Sequence[Made]) -> list[tuple[str, Findings]]:
    """Findings of comparisons and of what was asked, by their frame; of a clip by the title."""
    return [
        (titled(found.frame or title), found)
        for each in made
        for title, names in [_named(each.entry)]
        for found in (load_findings(each.file(name)) for name in names)
    ]


def _named(entry: Entry) -> tuple[str, tuple[str, ...]]:
    """The title of what has findings beside those of stills and films, and their files."""
    if isinstance(entry, Comparison):
        return entry.title, entry.findings
    return (entry.scene, (entry.findings,)) if isinstance(entry, Asked) else ("", ())


def _verdicts(pairs: Sequence[Comparison]) -> list[Opening]:
    """What each comparison came to, under its title."""
    return [Opening(each.sentence, each.title, "") for each in pairs if each.sentence]


def _definitions(
    findings: Sequence[tuple[str, Findings]], pairs: Sequence[Comparison]
) -> dict[str, str]:
    """Of everything the page gives a value for."""
    compared = {claim.name: claim.definition for each in pairs for claim in each.claims}
    return compared | {n: found.definition for _, each in findings for n, found in each.items()}


def _doubts(findings: Sequence[tuple[str, Findings]]) -> tuple[Doubt, ...]:
    """Each doubt once, with what stands under it; those that differ in their numbers alone are
    one, with the numbers of the first."""
    alike: dict[tuple[str, str], dict[Caveat, None]] = {}
    where: dict[tuple[str, str], list[str]] = {}
    for scene, each in findings:
        for caveat in each.caveats:
            key = (caveat.about, _NUMBERS.sub("", caveat.text))
            alike.setdefault(key, {})[caveat] = None
            where.setdefault(key, []).append(f"{scene} on {each.panel}")
    return tuple(
        Doubt(key[0], _first_of(list(caveats)), _counted(where[key]))
        for key, caveats in alike.items()
    )


def _first_of(alike: Sequence[Caveat]) -> str:
    more = len(alike) - 1
    return alike[0].text + (f" (and {more} more with other numbers)" if more else "")


def _counted(places: Sequence[str]) -> str:
    """`3 pictures: …`, the first few by name."""
    named = list(dict.fromkeys(places))
    count = f"{len(named)} pictures: " if len(named) > 1 else ""
    return count + _listed(named)


def _listed(places: Sequence[str], most: int = 4) -> str:
    return "; ".join(_shortened(list(dict.fromkeys(places)), most))


def _shortened(places: list[str], most: int) -> Iterator[str]:
    yield from places[:most]
    if len(places) > most:
        yield f"and {len(places) - most} more"
