"""A real browser for tests: Debian's Chromium, driven by Playwright.

`open_page` gives a page at one of SIZES and fails the test whose page wrote an error on its
console; `serious` asks axe-core about a page; `picture` keeps a screenshot, in the folder that
the environment variable REGSCAN_PICTURES names, or in the test's own.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

SIZES = {"desk": (1920, 1080), "laptop": (1280, 800), "phone": (390, 844)}
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
SECONDS = 30.0  # a busy machine may be slow; nothing here is timed


def found() -> str | None:
    """Where Chromium is installed."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for a file of tests; it leaves no event loop running for those after it."""
    program = found()
    if program is None:
        pytest.skip("needs Chromium (Debian package chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program)
        yield browser
        browser.close()


@pytest.fixture
def console() -> list[str]:
    """Errors and warnings that pages wrote; a test that wants one takes it out of the list."""
    return []


@pytest.fixture
def open_page(chromium: Browser, console: list[str]) -> Iterator[Callable[..., Page]]:
    """open_page(url_or_path, size="laptop", dark=False): the page, loaded, its console watched."""
    contexts = []

    def note(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            console.append(f"{message.type}: {message.text}")

    def open_(address: str | Path, size: str = "laptop", dark: bool = False) -> Page:
        wide, high = SIZES[size]
        context = chromium.new_context(
            viewport={"width": wide, "height": high},
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce",
        )
        contexts.append(context)
        context.set_default_timeout(1000.0 * SECONDS)
        page = context.new_page()
        page.on("console", note)
        page.on("pageerror", lambda error: console.append(f"uncaught: {error}"))
        page.goto(address.resolve().as_uri() if isinstance(address, Path) else address)
        return page

    yield open_
    for context in contexts:
        context.close()
    assert console == []


@pytest.fixture
def picture(tmp_path: Path) -> Callable[..., Path]:
    """picture(page, name, whole=False): a screenshot as name.png; returns its path."""
    folder = Path(os.environ.get("REGSCAN_PICTURES") or tmp_path)

    def take(page: Page, name: str, whole: bool = False) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{name}.png"
        page.screenshot(path=path, full_page=whole)
        return path

    return take


@pytest.fixture
def serious() -> Callable[[Page], list[str]]:
    """serious(page): what axe-core finds that is serious or critical, each with its places."""

    def ask(page: Page) -> list[str]:
        page.evaluate(_axe())  # past any content policy of the page
        answer: dict[str, Any] = page.evaluate("axe.run({resultTypes: ['violations']})")
        return [
            f"{one['id']} ({one['impact']}): {one['help']}: "
            + "; ".join(" ".join(map(str, node["target"])) for node in one["nodes"][:5])
            for one in answer["violations"]
            if one["impact"] in ("serious", "critical")
        ]

    return ask


@cache
def _axe() -> str:
    return AXE.read_text(encoding="utf-8")
