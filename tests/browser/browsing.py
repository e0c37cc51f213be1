"""Visits of a browser: sizes and themes that every page is looked at in, and everything that goes wrong while it is."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request, Response
from serving import Served

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {"laptop": (1440, 900), "tablet": (1024, 768), "phone": (390, 844)}
THEMES = {"day": "light", "night": "dark"}
# An act is tried at one size with every run, each page's at another, and at all of them by `make soak`.
SIZES_OF_ALL = {
    first: [pytest.param(size, marks=() if size == first else pytest.mark.soak) for size in SIZES] for first in SIZES
}
_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_USUAL = ("/usr/bin/chromium", "/usr/bin/chromium-browser")
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
PATIENCE_MS = 10_000
# A page may be the first that has the server compile its loops, on a machine that is busy with other tests.
LOADS_WITHIN_MS = 60_000
# The browser tells refusals by the page's own rules as events; they are collected beside its console.
_LISTEN = """
window.refusedByPolicy = [];
document.addEventListener("securitypolicyviolation", (event) => {
  window.refusedByPolicy.push(`${event.violatedDirective} ${event.blockedURI}`);
});
"""


def chromium() -> str | None:
    """The system's Chromium."""
    return next((path for path in _USUAL if Path(path).exists()), None) or next(
        (found for name in _NAMES if (found := shutil.which(name))), None
    )


@dataclass
class Trouble:
    """What went wrong in one page: said on its console, thrown by its scripts, or not fetched."""

    said: list[str] = field(default_factory=list)

    def listen(self, page: Page) -> None:
        """Hear everything from now on."""
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.said.append(f"script error: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._answered)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.said.append(f"console {message.type}: {message.text}")

    def _failed(self, request: Request) -> None:
        # A stream ends when its page is left; nothing is lost by that.
        if not (request.url.endswith("/events") or "/events?" in request.url):
            self.said.append(f"not fetched: {request.url} ({request.failure})")

    def _answered(self, response: Response) -> None:
        if response.status >= 400:
            self.said.append(f"answered {response.status}: {response.url}")


class Visits:
    """One mixer's visits to one served show: a context for each size and theme, all with the mixer's cookie."""

    def __init__(self, browser: Browser, served: Served) -> None:
        self.served = served
        self._browser = browser
        self._contexts: dict[tuple[str, str], BrowserContext] = {}

    def context(self, size: str = "laptop", theme: str = "day") -> BrowserContext:
        """The context of a size and theme."""
        if (size, theme) not in self._contexts:
            self._contexts[size, theme] = self.another(size, theme)
        return self._contexts[size, theme]

    def another(self, size: str = "laptop", theme: str = "day", *, state: Any = None) -> BrowserContext:
        """A further context that shares nothing but the mixer's cookie; with a state of its own, not even that."""
        width, height = SIZES[size]
        made = self._browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=THEMES[theme],
            has_touch=size != "laptop",
            storage_state=state if state is not None else self.state(),
        )
        made.set_default_timeout(PATIENCE_MS)
        made.set_default_navigation_timeout(LOADS_WITHIN_MS)
        made.add_init_script(_LISTEN)
        return made

    def state(self) -> Any:
        """What makes a browser the mixer's: entered once."""
        if self.served.entered is None:
            first = self._browser.new_context()
            page = first.new_page()
            page.goto(self.served.enter_url(), timeout=LOADS_WITHIN_MS)
            assert "/enter" not in page.url, page.inner_text("body")
            self.served.entered = first.storage_state()
            first.close()
        return self.served.entered

    def cookies(self) -> dict[str, str]:
        """The mixer's cookie, to ask the JSON interface beside the browser."""
        return {each["name"]: each["value"] for each in self.state()["cookies"]}

    def open(self, path: str, size: str = "laptop", theme: str = "day") -> tuple[Page, Trouble]:
        """A page at a size and theme, when it stands still."""
        return open_in(self.context(size, theme), f"{self.served.home}{path}")

    def close(self) -> None:
        """Close every context."""
        for context in self._contexts.values():
            context.close()


def open_in(context: BrowserContext, url: str) -> tuple[Page, Trouble]:
    """A page in a context, when its fonts are there and its scripts have run."""
    page, trouble = context.new_page(), Trouble()
    trouble.listen(page)
    page.goto(url, wait_until="load")
    page.evaluate("() => document.fonts.ready.then(() => true)")
    page.wait_for_timeout(100)
    return page, trouble
