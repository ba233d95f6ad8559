"""A real browser without a window, for the tests of the page and for its picture in the README."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
MISSING = "no Chromium on this machine, so the page is NOT tested in a browser: apt-get install chromium"
WIDE, NARROW = (1280, 900), (390, 844)


def chromium() -> str | None:
    """Return where Chromium lies, None where there is none."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


@contextlib.contextmanager
def running(path: str) -> Iterator[Browser]:
    """Run the browser at `path`, without its sandbox: containers often have no room for one."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Opened:
    """A page that is open, what it complained of and what it asked the network for."""

    page: Page
    context: BrowserContext
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def text(self, selector: str) -> str:
        """Return the text of an element."""
        return self.page.locator(selector).inner_text()

    def asks(self, script: str) -> Any:
        """Return what a script says; `page` in it is the page's own state."""
        return self.page.evaluate(script)

    def settle(self) -> None:
        """Wait until what was asked for has been drawn."""
        self.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


@contextlib.contextmanager
def opened(
    browser: Browser, file: Path, *, size: tuple[int, int] = WIDE, dark: bool = False
) -> Iterator[Opened]:
    """Open a page from its file, without a network, and wait until it can be used; narrow means a telephone."""
    is_narrow = size[0] < 600
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        offline=True,
        has_touch=is_narrow,
        is_mobile=is_narrow,
    )
    page = context.new_page()
    shown = Opened(page, context)
    page.on("console", lambda message: _note(shown, message.type, message.text))
    page.on("pageerror", lambda error: shown.complaints.append(str(error)))
    page.on("request", lambda request: shown.requests.append(request.url))
    page.goto(file.resolve().as_uri())
    page.wait_for_function("document.documentElement.dataset.ready")
    try:
        yield shown
    finally:
        context.close()


def _note(shown: Opened, kind: str, text: str) -> None:
    if kind in ("error", "warning", "assert"):
        shown.complaints.append(f"{kind}: {text}")
