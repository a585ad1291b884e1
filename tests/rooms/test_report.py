"""The page without a browser: what is read, what is refused, what stands where, and its bytes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from emulate.errors import Caveat, FindingsError, MaterialError
from emulate.findings.finding import Finding, Findings
from emulate.findings.headline import NOTHING, WEIGHTS
from emulate.findings.results import (
    FORMAT,
    NAME,
    Asked,
    Comparison,
    Folder,
    load_results,
    save_results,
)
from emulate.panel.panel import Panel
from emulate.pictures.parts import FINDINGS, write_parts
from emulate.report.contents import Opening
from emulate.report.notebook import html_of
from emulate.report.opening import opening
from emulate.report.panels import _facts
from emulate.report.scenes import grouped, lines_of, titled
from emulate.report.write import _doubts, write_report
from tests.rooms.pictured import case

SCRIPT = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """A still in a folder of its own, with a hostile name and a doubt."""
    from emulate.findings.saving import save_findings

    out = tmp_path_factory.mktemp("results")
    frame, rendering, findings = case(name=SCRIPT)
    save_findings(findings, out / FINDINGS)
    save_results((write_parts(frame, rendering, findings, out, question="Why?"),), out)
    return out


@pytest.fixture(scope="module")
def text(results, tmp_path_factory):
    page = write_report(results, tmp_path_factory.mktemp("page") / "page.html")
    return page.read_text("utf-8")


def test_the_same_results_give_the_same_bytes(results, text, tmp_path):
    assert write_report([results], tmp_path / "again.html").read_text("utf-8") == text


class _Asked(HTMLParser):
    """Everything in a page that could make a browser ask for something, or run something."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.handlers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ("src", "srcset", "href", "poster", "data", "action"):
                self.found.append(value or "")
            if name.startswith("on") or name == "style":
                self.handlers.append(f"{tag} {name}")


def test_nothing_in_it_leads_outside(text):
    seen = _Asked()
    seen.feed(text)
    assert len(seen.found) > 10
    assert all(value.startswith(("data:", "#")) for value in seen.found)
    assert not seen.handlers
    style = re.search(r"<style>(.*?)</style>", text, re.S)[1]
    assert "url(" not in style
    assert "@import" not in style


def test_links_within_it_lead_somewhere(text):
    seen = _Asked()
    seen.feed(text)
    targets = {value[1:] for value in seen.found if value.startswith("#")}
    assert targets <= set(re.findall(r'id="([^"]+)"', text))


def test_names_are_escaped_and_doubts_and_definitions_said(results, text):
    assert SCRIPT not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "<dt>spread</dt><dd>guessed<br>" in text
    assert text.count("guessed") == 1
    assert "Why?" in text
    for found in json.loads((results / FINDINGS).read_text("utf-8"))["findings"].values():
        plain = found["definition"].replace("'", "&#39;")
        assert plain in text


def test_every_picture_says_what_it_shows(text):
    alts = re.findall(r'<img[^>]*? alt="([^"]*)"', text)
    assert len(alts) == text.count("<img ")
    swatches = [alt for alt in alts if not alt]
    assert len(swatches) == len(re.findall(r'<li><img[^>]*alt=""', text))  # words stand beside


def _results(tmp_path, **change):
    entry = {"kind": "panel", "panel": "P", "panel_file": "panel.toml"} | change
    (tmp_path / NAME).write_text(json.dumps({"format": FORMAT, "entries": [entry]}), "utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "name", ["../secret.toml", "/etc/passwd", "a/../../b", "", "..\\b", "a\0b"], ids=repr
)
def test_a_file_outside_its_folder_is_refused(tmp_path, name):
    (tmp_path / "secret.toml").write_text("x", "utf-8")
    folder = tmp_path / "in"
    folder.mkdir()
    with pytest.raises(FindingsError, match=re.escape("accepted is a file in its folder")):
        write_report(_results(folder, panel_file=name), tmp_path / "page.html")
    assert not (tmp_path / "page.html").exists()


def test_what_cannot_be_understood_is_refused_with_its_key(tmp_path):
    for document, key in (
        ({"format": "other/1", "entries": []}, "key format"),
        ({"format": FORMAT}, "key entries"),
        ({"format": FORMAT, "entries": [{"kind": "panel"}]}, "key entries.0.panel"),
        ({"format": FORMAT, "entries": [{"kind": "folder", "folder": "a", "x": 1}]}, "entries.0"),
        ([], "top level"),
    ):
        (tmp_path / NAME).write_text(json.dumps(document), "utf-8")
        with pytest.raises(FindingsError, match=re.escape(key)) as refused:
            load_results(tmp_path)
        assert str(tmp_path) in str(refused.value)
        assert FORMAT in str(refused.value)


@pytest.mark.parametrize("text", ["", "{", "nan", "\ud800".encode("utf-8", "surrogatepass")])
def test_what_is_no_json_is_refused(tmp_path, text):
    (tmp_path / NAME).write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(FindingsError):
        load_results(tmp_path)


def test_nothing_to_show_is_refused(tmp_path):
    with pytest.raises(FindingsError, match="no results"):
        load_results(tmp_path)
    save_results((), tmp_path)
    with pytest.raises(FindingsError, match="no entries"):
        write_report(tmp_path, tmp_path / "page.html")
    with pytest.raises(FindingsError, match=NAME):
        load_results(tmp_path / "nowhere")


def test_folders_that_hold_each_other_are_refused(tmp_path):
    save_results((Folder("."),), tmp_path)
    with pytest.raises(FindingsError, match="folders in folders"):
        load_results(tmp_path)


def test_a_missing_or_damaged_part_is_refused(results, tmp_path):
    import shutil

    for name, error in (("shown.exr", MaterialError), ("panel.toml", Exception)):
        place = tmp_path / name
        shutil.copytree(results, place)
        (place / "page" / name).write_bytes(b"no")
        with pytest.raises(error, match=re.escape(name)):
            write_report(place, tmp_path / "page.html")
        (place / "page" / name).unlink()
        with pytest.raises(FindingsError, match="no such file"):
            write_report(place, tmp_path / "page.html")
    assert not (tmp_path / "page.html").exists()


def test_a_list_reads_back_what_was_saved(results, tmp_path):
    still = load_results(results)[0].entry
    others = (still, Comparison("A and B", ("A", "B"), ()))
    save_results(others, tmp_path)
    assert tuple(made.entry for made in load_results(tmp_path)) == others
    assert [made.folder for made in load_results(tmp_path.parent / tmp_path.name)] == [tmp_path] * 2


def test_folders_without_a_list_are_read_by_name(results, tmp_path):
    import shutil

    for name in ("b", "a"):
        shutil.copytree(results, tmp_path / name)
    assert [made.folder.name for made in load_results(tmp_path)] == ["a", "b"]
    assert len(grouped(load_results(tmp_path))) == 1  # one reference: one scene


def _found(panel: str, **areas: float) -> Findings:
    """Findings that weigh what `areas` say, at a depth of one step."""
    names = {part for parts in WEIGHTS.values() for part in parts} | set(WEIGHTS)
    made = {name: Finding(0.0, "share", f"{name} {panel}", "d") for name in names}
    for name, area in areas.items():
        key = name.replace("_", ".", 1)
        for part, value in zip(WEIGHTS[key], (area, 1.0), strict=True):
            made[part] = replace(made[part], value=value)
    return Findings(made, panel=panel)


def test_the_opening_says_the_heaviest_of_each_panel_first():
    seen = [
        ("snow", _found("A", clipped_area=0.5, crushed_area=0.4)),
        ("lamps", _found("B", clipped_area=0.3, crushed_area=0.2)),
        ("stars", _found("A", crushed_area=0.45)),
    ]
    assert [(one.scene, one.sentence) for one in opening(seen)] == [
        ("snow", "clipped.area A"),  # the heaviest of all
        ("lamps", "crushed.area B"),  # 0.2, all news; 0.45 on A counts a quarter
        ("stars", "crushed.area A"),  # 0.45 a sixteenth; 0.3 likewise is less
    ]
    verdicts = [Opening(f"{name} loses least.", name, "") for name in "CD"]
    assert [one.scene for one in opening(seen, verdicts)] == ["C", "snow", "lamps"]
    assert opening([], verdicts) == (*verdicts,)
    assert opening([]) == ()


def test_the_opening_tells_no_trifles():
    """0.0018 steps by share: a visible step on a square degree, 16:9 from 3.2 heights."""
    seen = [("snow", _found("A", clipped_area=0.5, crushed_area=0.001))]
    assert [one.sentence for one in opening(seen)] == ["clipped.area A"]
    (nothing,) = opening([("snow", _found("A", crushed_area=0.001))])
    assert nothing.sentence == NOTHING


def test_a_comparison_and_a_what_if_tell_their_doubts_on_the_page(tmp_path):
    from emulate.findings.saving import save_findings

    for name in ("A", "B"):
        doubt = (Caveat("meter", f"a doubt of {name}"),)
        save_findings(Findings({}, doubt, frame="snow", panel=name), tmp_path / f"{name}.json")
    pair = Comparison("snow: A or B", ("A", "B"), (), "A loses least.", findings=("A.json",))
    save_results((pair, Asked("snow", "B", "B.json")), tmp_path)
    text = write_report(tmp_path, tmp_path / "page.html").read_text("utf-8")
    assert "<li>A loses least. <small>snow: A or B</small></li>" in text
    assert "What one change would take: snow on B" in text
    for name in ("A", "B"):
        assert f"a doubt of {name}<br><small>on snow on {name}</small>" in text.replace(
            "Snow", "snow"
        )


def test_doubts_that_differ_in_their_numbers_are_told_once():
    def doubted(*texts):
        return Findings({}, tuple(Caveat("size", text) for text in texts), panel="P")

    found = _doubts(
        [
            ("snow", doubted("on 4 × 3 pixels; 0.2 % there", "guessed")),
            ("lamps", doubted("on 5 × 3 pixels; less than 0.01 % there")),
            ("stars", doubted("on 4 × 3 pixels; 0.2 % there")),
        ]
    )
    assert [(each.about, each.text, each.places) for each in found] == [
        (
            "size",
            "on 4 × 3 pixels; 0.2 % there (and 1 more with other numbers)",
            "3 pictures: snow on P; lamps on P; stars on P",
        ),
        ("size", "guessed", "snow on P"),
    ]


def test_a_panel_s_doubts_are_counted_where_the_page_lists_them():
    panel = Panel("P", 500.0, caveats=(Caveat("spread", "guessed"), Caveat("cell", "read once")))
    found = _facts(panel, {"spread: guessed"})
    assert [text for name, text in found if name == "doubt"] == ["cell: read once"]
    assert found[-1] == ("doubts", "1, at the end of the page")
    assert not [name for name, _ in _facts(panel, ()) if name == "doubts"]


def test_titles_and_intervals():
    assert titled("lamps_on_black_water") == "Lamps on black water"
    assert titled("Shot_01.exr") == "Shot_01.exr"
    assert titled("<b>") == "<b>"
    sure = Finding(0.2, "share", "20 % (10 to 30 %) is.", "d", (0.1, 0.3))
    told, bare = lines_of(Findings({"sure": sure, "bare": replace(sure, interval=None)}))
    assert (told.sentence, told.value, told.sure) == ("20 % (10 to 30 %) is.", "20 %", True)
    assert not bare.sure


def test_notebooks_show_values_with_names_escaped():
    frame, rendering, findings = case(name=SCRIPT)
    doubted = replace(frame, caveats=(Caveat("it", SCRIPT),))
    for value in (doubted, rendering, rendering.panel, findings):
        html = value._repr_html_()
        assert html.count("<img ") == html.count('src="data:image/')
        assert SCRIPT not in html
    assert "&lt;script&gt;" in doubted._repr_html_()
    assert findings["clipped.area"].sentence in findings._repr_html_()
    with pytest.raises(TypeError):
        html_of(3)


def test_values_can_be_shown_without_opening_what_draws_them():
    code = (
        "import sys, emulate.frames.frame, emulate.panel.panel, emulate.rendering, "
        "emulate.findings.finding; "
        "print(*sorted({m.split('.')[0] for m in sys.modules} & {'matplotlib', 'jinja2', "
        "'imageio'}), 'emulate.report' in sys.modules, 'emulate.pictures' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
