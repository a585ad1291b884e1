"""The page in a browser: it asks for nothing, wipes three ways, works without script, reads aloud,
and its pixels are the light that it says they are."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from emulate import load_findings, load_panel, render, write_motion, write_report
from emulate.demo_frames import panel_files, question, scene
from emulate.findings.results import (
    Asked,
    Claim,
    Comparison,
    Film,
    Folder,
    Illustration,
    PanelEntry,
    Table,
    save_results,
)
from emulate.pictures.exposure import slices
from emulate.showing import show
from tests.journeys import browser

HOSTILE = "<script>alert('frame')</script>"
WORSE = "\"><img src=x onerror=alert('panel')>"
PANELS = {file.stem: load_panel(file) for file in panel_files()}
LAMPS = scene("lamps_on_black_water", rows=180)
WIDTH = 160  # px of the page's pictures: each is the mean of 2 × 2 of the frame's


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """One scene on two panels, a scene and a panel with hostile names, and every other kind."""
    out = tmp_path_factory.mktemp("results")
    for stem in ("coarse_zones", "self_emissive"):
        asked = question("lamps_on_black_water")
        show(LAMPS, PANELS[stem], out / stem, light=False, question=asked, page_width=WIDTH)
    named = replace(PANELS["coarse_zones"], name=WORSE)
    show(replace(LAMPS, name=HOSTILE), named, out / "hostile", light=False, page_width=WIDTH)
    save_results((*map(Folder, ("coarse_zones", "self_emissive", "hostile")), *_others(out)), out)
    return out


def _others(out):
    """A film with both files, a comparison, what was asked, and a panel with a trust table."""
    panel = PANELS["coarse_zones"]
    seen = render(LAMPS, panel)
    pairs, exposure = [(LAMPS, seen)] * 6, slices(LAMPS, seen)[0]
    for name in ("film.mp4", "loop.png"):
        write_motion(lambda: pairs, exposure, out / name, rate=12.0, width=WIDTH)
    picture = Illustration("coarse_zones/pair.png", "Both", "Reference and panel side by side.")
    return (
        Film(HOSTILE, WORSE, "coarse_zones/findings.json", "film.mp4", "loop.png", "Moving lamps.",
             "Caution, flashing.", "", (picture,)),
        Comparison("Tallow and Ember", ("Tallow", WORSE), (
            Claim("halo.area", "share", (0.5, None), "Glow.", "Ember glows less.", 1, (-0.5, -0.3)),
        ), "Ember loses less.", "In a dark room.", (picture,),
            ("coarse_zones/findings.json", "self_emissive/findings.json")),
        Asked(HOSTILE, WORSE, "hostile/findings.json", (picture,)),
        PanelEntry("Tallow", "coarse_zones/page/panel.toml", (
            Table("How far its numbers hold", "Not fitted.", ("reading", "off by"),
                  (("window 10 %", "1 step"), (HOSTILE, WORSE))),
        ), (picture,)),
    )  # fmt: skip


@pytest.fixture(scope="module")
def page(results):
    return write_report(results, results / "page.html", title=f"Lamps {HOSTILE}")


@pytest.fixture(scope="module")
def driver():
    with browser.driver() as driver:
        yield driver


@pytest.fixture(scope="module")
def context(driver):
    seen = {"width": 1280, "height": 900}
    with browser.browser(driver, viewport=seen, has_touch=True) as opened:
        yield opened


@pytest.fixture
def opened(context, page):
    opened = browser.open_page(context, page)
    yield opened
    opened.page.close()


def test_it_asks_for_nothing_and_complains_of_nothing(opened, page):
    assert [url for url in opened.asked if not url.startswith("data:")] == [page.as_uri()]
    assert not opened.complaints
    assert "default-src 'none'" in opened.page.locator("meta[http-equiv]").get_attribute("content")
    whole = opened.page.evaluate(
        "Promise.all([...document.images].map((i) => i.decode().then(() => i.naturalWidth)))"
    )
    assert len(whole) > 20
    assert all(width > 0 for width in whole)


def test_it_opens_with_three_sentences(opened):
    sentences = opened.page.locator("ol.opening > li")
    assert sentences.count() == 3
    top = opened.page.locator("h1 + ol.opening")
    assert top.count() == 1


def test_hostile_names_are_text(opened):
    assert opened.page.title() == f"Lamps {HOSTILE}"
    assert HOSTILE in opened.page.inner_text("body")
    assert WORSE in opened.page.inner_text("body")
    assert opened.page.locator("script").count() == 1
    assert not opened.page.locator("img[src=x]").count()


def _share(opened) -> float:
    """Where the line of the first wipe is, from the clip that the browser computed."""
    return opened.page.evaluate(
        """() => {
          const wipe = document.querySelector('.wipe'), line = wipe.querySelector('.line');
          const box = wipe.getBoundingClientRect(), at = line.getBoundingClientRect();
          const clip = getComputedStyle(wipe.querySelector('.right')).clipPath;
          return [(at.left + at.width / 2 - box.left) / box.width, clip];
        }"""
    )


def test_the_wipe_follows_the_mouse(opened):
    opened.page.locator(".wipe").first.scroll_into_view_if_needed()
    box = opened.page.locator(".wipe").first.bounding_box()
    y = box["y"] + box["height"] / 2
    opened.page.mouse.move(box["x"] + 0.5 * box["width"], y)
    opened.page.mouse.down()
    opened.page.mouse.move(box["x"] + 0.2 * box["width"], y, steps=4)
    opened.page.mouse.up()
    share, clip = _share(opened)
    assert share == pytest.approx(0.2, abs=0.01)
    assert "20%" in clip
    opened.page.mouse.move(box["x"] + 0.9 * box["width"], y)
    assert _share(opened)[0] == pytest.approx(0.2, abs=0.01)  # let go: it stays


def test_the_wipe_follows_a_finger(opened):
    wipe = opened.page.locator(".wipe").first
    wipe.scroll_into_view_if_needed()
    box = wipe.bounding_box()
    opened.page.touchscreen.tap(box["x"] + 0.75 * box["width"], box["y"] + box["height"] / 2)
    assert _share(opened)[0] == pytest.approx(0.75, abs=0.01)


def test_the_wipe_follows_the_arrow_keys(opened):
    slider = opened.page.get_by_label("Wipe: reference on the left").first
    slider.focus()
    for _ in range(5):
        opened.page.keyboard.press("ArrowRight")
    assert _share(opened)[0] == pytest.approx(0.55, abs=0.01)
    opened.page.keyboard.press("Home")
    assert _share(opened)[0] == pytest.approx(0.0, abs=0.01)
    assert slider.get_attribute("aria-valuetext") == "reference 0 %, panel 100 %"


def _visible(page, selector: str) -> list[str]:
    return page.evaluate(
        """(selector) => [...document.querySelectorAll(selector)]
          .filter((each) => each.checkVisibility()).map((each) => each.alt)""",
        selector,
    )


def test_exposures_panels_and_maps_are_chosen_with_keys_alone(opened):
    section = opened.page.locator("#scene-1")
    before = _visible(opened.page, "#scene-1 .right img")
    assert len(before) == 1
    section.get_by_role("radio", name="Ember", exact=True).focus()
    opened.page.keyboard.press("Space")
    after = _visible(opened.page, "#scene-1 .right img")
    assert len(after) == 1
    assert "on Ember" in after[0]
    section.get_by_role("radio", name="deep shadow", exact=True).check()
    assert "white of the picture" in _visible(opened.page, "#scene-1 .left img")[0]
    assert _visible(opened.page, "#scene-1 .left img") != _visible(
        opened.page, "#scene-3 .left img"
    )
    section.get_by_role("radio", name="halo", exact=True).check()
    assert len(_visible(opened.page, "#scene-1 .stack img.l")) <= 1


def test_it_works_without_script(driver, page):
    seen = {"width": 900, "height": 800}
    with browser.browser(driver, java_script_enabled=False, viewport=seen) as off:
        opened = browser.open_page(off, page)
        left, right = (
            opened.page.locator(f"#scene-1 .{side} img").locator("visible=true")
            for side in ("left", "right")
        )
        assert (left.count(), right.count()) == (1, 1)
        first, second = left.bounding_box(), right.bounding_box()
        assert second["x"] >= first["x"] + first["width"]  # two pictures beside each other
        assert not opened.page.locator(".slider").first.is_visible()
        opened.page.locator("#scene-1").get_by_role("radio", name="Ember", exact=True).check()
        assert "on Ember" in right.get_attribute("alt")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1920, 3840])
def test_no_barrier_at_any_size(opened, scheme, width):
    """axe-core, WCAG 2.0 to 2.2, levels A and AA; and nothing wider than the window."""
    opened.page.emulate_media(color_scheme=scheme)
    opened.page.set_viewport_size({"width": width, "height": 900})
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    if width == 3840:
        return
    opened.page.evaluate("document.querySelectorAll('details').forEach((d) => (d.open = true))")
    opened.page.evaluate(browser.axe_source())
    found = opened.page.evaluate(
        """() => axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})
          .then((seen) => [seen.passes.length,
            seen.violations.map((v) => [v.id, v.nodes.length, v.nodes[0].html.slice(0, 200)])])"""
    )
    assert found[0] > 10
    assert not found[1]


def test_print_shows_every_panel_at_one_exposure(opened):
    opened.page.emulate_media(media="print")
    assert len(_visible(opened.page, "#scene-1 .right img")) == 2
    assert len(_visible(opened.page, "#scene-1 .left img")) == 1
    assert not opened.page.locator("#scene-1 fieldset").first.is_visible()


def test_the_film_is_still_until_asked(opened):
    video = opened.page.locator("#film-1 video")
    assert video.get_attribute("autoplay") is None
    assert video.get_attribute("aria-label") == "Moving lamps."
    assert "Caution, flashing." in opened.page.inner_text("#film-1")


def test_a_trust_table_and_claims_are_there(opened):
    assert "95 % interval" in opened.page.inner_text("#comparison-1")
    assert "undetermined" in opened.page.inner_text("#comparison-1")
    panels = opened.page.inner_text("main")
    assert "How far its numbers hold" in panels
    assert WORSE in panels


def _decoded(uri: str) -> np.ndarray:
    with Image.open(io.BytesIO(base64.b64decode(uri.split(",", 1)[1]))) as image:
        return np.asarray(image.convert("RGB"))


def _means() -> tuple[np.ndarray, np.ndarray]:
    """Reference and rendered light of the first scene at the page's size: means of 2 × 2."""
    shown = render(LAMPS, PANELS["coarse_zones"]).light
    return tuple(
        light.astype(np.float64).reshape(90, 2, WIDTH, 2, 3).mean(axis=(1, 3))
        for light in (LAMPS.light, shown)
    )


def test_pixels_are_the_light_at_the_exposure_stated(opened):
    """Codes as the browser decodes them against light through the white that the page states.

    BT.2020 to BT.709 by colour-science, sRGB by IEC 61966-2-1:1999; one 8-bit code apart at most.
    """
    import colour

    with np.printoptions():
        matrix = colour.matrix_RGB_to_RGB("ITU-R BT.2020", "sRGB", None)
    states = opened.page.locator("#scene-1 > p.v").all_text_contents()
    whites = [float(found[1]) for each in states if (found := re.search(r"= ([\d.]+) cd", each))]
    assert len(whites) == 3
    for index, white in enumerate(whites):
        for side, light in zip((".left", ".p0.right"), _means(), strict=True):
            linear = np.clip(light / white @ matrix.T, 0, 1)
            coded = np.where(linear <= 0.0031308, 12.92 * linear,
                             1.055 * linear ** (1 / 2.4) - 0.055)  # fmt: skip
            codes = _seen_by_browser(opened.page, f"#scene-1 {side} img.v{index}:not(.hdr)")
            assert np.abs(codes - 255 * coded).max() <= 1.0


def _seen_by_browser(page, selector: str) -> np.ndarray:
    values, width = page.evaluate(
        """async (selector) => {
          const image = document.querySelector(selector);
          await image.decode();
          const canvas = document.createElement('canvas');
          [canvas.width, canvas.height] = [image.naturalWidth, image.naturalHeight];
          const ink = canvas.getContext('2d');
          ink.drawImage(image, 0, 0);
          const seen = ink.getImageData(0, 0, canvas.width, canvas.height).data;
          return [Array.from(seen), canvas.width];
        }""",
        selector,
    )
    codes = np.array(values, np.float64).reshape(-1, width, 4)[..., :3]
    uri = page.locator(selector).first.get_attribute("src")
    np.testing.assert_array_equal(codes, _decoded(uri))  # a browser and Pillow agree
    return codes


READ_REAL_LIGHT = """async (uri) => {
  const image = new Image();
  image.src = uri;
  await image.decode();
  const gl = document.createElement('canvas').getContext('webgl2');
  gl.getExtension('EXT_color_buffer_float');
  gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA16F, gl.RGBA, gl.HALF_FLOAT, image);
  gl.bindFramebuffer(gl.FRAMEBUFFER, gl.createFramebuffer());
  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D,
                          gl.getParameter(gl.TEXTURE_BINDING_2D), 0);
  const seen = new Float32Array(4 * image.width * image.height);
  gl.readPixels(0, 0, image.width, image.height, gl.RGBA, gl.FLOAT, seen);
  return [Array.from(seen), image.width];
}"""


def _light_seen(page, uri: str) -> np.ndarray:
    """BT.2020 light [cd/m²] of a picture, as a browser hands it to a float texture: extended sRGB
    whose white is 203 cd/m² (ITU-R BT.2408-7)."""
    import colour

    values, width = page.evaluate(READ_REAL_LIGHT, uri)
    coded = np.array(values, np.float64).reshape(-1, width, 4)[..., :3]
    size = np.abs(coded)
    linear = np.where(size <= 0.04045, size / 12.92, ((size + 0.055) / 1.055) ** 2.4)
    matrix = colour.matrix_RGB_to_RGB("sRGB", "ITU-R BT.2020", None)
    return 203 * (np.sign(coded) * linear) @ matrix.T


def test_real_light_reads_back_and_its_untagged_twin_does_not(opened, context):
    """PQ by colour-science's ST 2084; within two ten-bit codes."""
    from colour.models import eotf_inverse_ST2084

    uri = opened.page.locator("#scene-1 .left img.hdr").get_attribute("src")
    light = _means()[0].reshape(45, 2, 80, 2, 3).mean(axis=(1, 3))
    blank = context.new_page()
    seen = _light_seen(blank, uri)
    codes, expected = (1023 * eotf_inverse_ST2084(np.maximum(x, 0), 10000) for x in (seen, light))
    assert light.max() > 800
    assert np.abs(codes - expected).max() <= 2.0
    twin = _light_seen(blank, _untagged(uri))
    assert twin.max() < 250  # taken for sRGB: never above white
    assert np.abs(1023 * eotf_inverse_ST2084(np.maximum(twin, 0), 10000) - codes).max() > 100
    blank.close()


def _untagged(uri: str) -> str:
    """The same PNG without its cICP chunk."""
    data = base64.b64decode(uri.split(",", 1)[1])
    at = data.index(b"cICP") - 4
    return "data:image/png;base64," + base64.b64encode(data[:at] + data[at + 16 :]).decode()


def test_a_screen_for_hdr_opens_with_real_light(driver, page):
    for flag, real in (
        ("--force-color-profile=hdr10", True),
        ("--force-color-profile=srgb", False),
    ):
        with browser.browser(driver, flag) as screen:
            opened = browser.open_page(screen, page)
            assert opened.page.evaluate("matchMedia('(dynamic-range: high)').matches") is real
            shown = _visible(opened.page, "#scene-1 .right img")
            assert len(shown) == 1
            assert ("at its real light level" in shown[0]) is real
            opened.page.locator("#scene-1").get_by_role(
                "radio", name="deep shadow", exact=True
            ).check()
            assert "real light" not in _visible(opened.page, "#scene-1 .right img")[0]


def test_findings_on_the_page_are_those_on_file(results, opened):
    findings = load_findings(results / "coarse_zones" / "findings.json")
    text = opened.page.locator("#scene-1").text_content()
    for name, finding in findings.items():
        assert finding.sentence in text
        assert opened.page.locator(f"[id='{name}']").count() == 1
