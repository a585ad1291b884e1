"""A page as a viewer meets it: Debian's Chromium, with nothing of its own to say to the network."""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
)  # fmt: skip


def needed() -> None:
    """Skips with a word where there is no browser to open a page with."""
    pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not Path(CHROMIUM).is_file():
        pytest.skip("chromium is not installed (.ci/run installs it)")


@dataclass
class Opened:
    """A page, and everything it asked for or complained of."""

    page: Any
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@contextmanager
def driver() -> Iterator[Any]:
    """What starts browsers; one at a time in a process."""
    needed()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright


@contextmanager
def browser(playwright: Any, *more: str, **context: Any) -> Iterator[Any]:
    """A browser context with a new, empty profile."""
    with TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        opened = playwright.chromium.launch_persistent_context(
            profile, executable_path=CHROMIUM, headless=True, args=[*QUIET, *more], **context
        )
        try:
            yield opened
        finally:
            opened.close()


def open_page(context: Any, path: Path) -> Opened:
    """Opens a file and waits for its pictures."""
    opened = Opened(context.new_page())
    opened.page.on("request", lambda request: opened.asked.append(request.url))
    opened.page.on("console", lambda message: opened.complaints.append(message.text))
    opened.page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    opened.page.on("dialog", lambda dialog: opened.complaints.append(dialog.message))
    opened.page.goto(path.as_uri())
    opened.page.wait_for_load_state("load")
    return opened


def axe_source() -> str:
    """axe-core, as the package axe-playwright-python ships it; skips with a word without it."""
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        pytest.skip("axe-playwright-python is not installed (the extra `dev` has it)")
    return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")
