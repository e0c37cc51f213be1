"""Pictures of every page at three sizes, by day and by night: docs/screens/<page>-<size>-<theme>.webp.

    python scripts/screens_web.py out/

The show is the demo's folder (``rollsound demo out/ --serve`` makes it) or any other. What the browser shows first
is taken; ``--whole`` takes PNG from head to foot, for looking them through.
"""

from __future__ import annotations

import argparse
import base64
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "browser"))

from browsing import FLAGS, SIZES, THEMES, Visits, chromium  # noqa: E402
from playwright.sync_api import Page, sync_playwright  # noqa: E402
from serving import Served  # noqa: E402

from rollsound.web.pages import PAGES  # noqa: E402
from rollsound.web.words import w  # noqa: E402

QUALITY = 82
MOST_BYTES = 6_000_000
SETTLE_MS = 700


def main() -> int:
    """Take all pictures; 1 when they are too large for a repository, 2 when they cannot be taken."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("show", type=Path, nargs="?", default=ROOT / "out")
    asked.add_argument("--to", type=Path, default=ROOT / "docs" / "screens")
    asked.add_argument("--page", action="append", default=[], help="only this page; may be given several times")
    asked.add_argument("--whole", action="store_true", help="from head to foot")
    given = asked.parse_args()
    found = chromium()
    if found is None:
        print("no Chromium on this machine; scripts/oracles.py installs one where it may", file=sys.stderr)
        return 2
    if not (given.show / "show.sqlite").is_file():
        print(f"{given.show} holds no show; make the demo's with: rollsound demo {given.show} --serve", file=sys.stderr)
        return 2
    given.to.mkdir(parents=True, exist_ok=True)
    with Served(given.show.resolve()) as served, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=FLAGS)
        visits = Visits(browser, served)
        _wait_for_media(visits)
        taken = [
            path
            for page in PAGES
            if not given.page or page.name in given.page
            for size in SIZES
            for theme in THEMES
            for path in _take(visits, page.name, page.path, size, theme, given.to, whole=given.whole)
        ]
        visits.close()
        browser.close()
    total = sum(path.stat().st_size for path in taken)
    print(f"{len(taken)} pictures, {total / 1e6:.1f} MB, in {given.to}")
    if total > MOST_BYTES and not given.whole:
        print(f"more than {MOST_BYTES / 1e6:.0f} MB; lower QUALITY", file=sys.stderr)
        return 1
    return 0


def _wait_for_media(visits: Visits) -> None:
    """Until the server has read the show's media, pages say so instead of what they are for."""
    page, _ = visits.open("/", next(iter(SIZES)), next(iter(THEMES)))
    page.wait_for_function("text => !document.body.innerText.includes(text)", arg=w("ready.reading"), timeout=120_000)
    page.close()


def _take(visits: Visits, name: str, path: str, size: str, theme: str, to: Path, *, whole: bool) -> list[Path]:
    """A page, and the first page below it, such as a take's."""
    page, _ = visits.open(path, size, theme)
    _settle(page)
    taken = [_picture(page, to / f"{name}-{size}-{theme}", whole=whole)]
    deeper = page.evaluate(
        "(path) => [...document.querySelectorAll('main a[href]')].map((each) => each.href)"
        ".find((each) => new URL(each).pathname.startsWith(path + '/')) ?? ''",
        path,
    )
    if deeper:
        page.goto(deeper)
        _settle(page)
        taken.append(_picture(page, to / f"{name}-one-{size}-{theme}", whole=whole))
    page.close()
    return taken


def _settle(page: Page) -> None:
    # A part that still asks for itself when the page is there is being computed.
    page.wait_for_function(
        "() => ![...document.querySelectorAll('main [hx-get][hx-trigger]')].some((each) =>"
        " each.getAttribute('hx-trigger').startsWith('load'))",
        timeout=60_000,
    )
    page.wait_for_timeout(SETTLE_MS)
    page.wait_for_function(
        "() => [...document.images].filter((each) => each.getClientRects().length"
        " && each.getBoundingClientRect().top < innerHeight).every((each) => each.complete)",
        timeout=60_000,
    )


def _picture(page: Page, to: Path, *, whole: bool) -> Path:
    """One picture: small enough for a repository, or whole and without loss for looking at."""
    if not whole:
        asked: dict[str, Any] = {"format": "webp", "quality": QUALITY}
    else:
        size = page.evaluate("() => [document.documentElement.clientWidth, document.documentElement.scrollHeight]")
        clip = {"x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1}
        asked = {"format": "png", "captureBeyondViewport": True, "clip": clip}
    answer = page.context.new_cdp_session(page).send("Page.captureScreenshot", asked)
    to = to.with_name(f"{to.name}.{asked['format']}")
    to.write_bytes(base64.b64decode(answer["data"]))
    return to


if __name__ == "__main__":
    sys.exit(main())
