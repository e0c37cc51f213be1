"""A real server and a real browser. Lets the tests of this folder import what lies beside them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))

from browsing import FLAGS, PATIENCE_MS, Visits, chromium
from serving import PEOPLE_AND_DAYS, Served, new_show


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for the whole run."""
    found = chromium()
    if found is None:
        pytest.skip("no Chromium on this machine; scripts/oracles.py installs one where it may")
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield made
        made.close()


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo's plan with a few seconds of media, served for the whole run."""
    with Served(new_show(tmp_path_factory.mktemp("show"))) as made:
        yield made


@pytest.fixture(scope="session")
def visits(browser: Browser, served: Served) -> Iterator[Visits]:
    """Pages at each size and theme, in contexts that are used again."""
    made = Visits(browser, served)
    yield made
    made.close()


@pytest.fixture(scope="module")
def own_show(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A show of one file's own, which its tests may change, stop and start."""
    folder = new_show(tmp_path_factory.mktemp("own"), media=False, parts=PEOPLE_AND_DAYS)
    with Served(folder, lan=True) as made:
        yield made


@pytest.fixture
def own_visits(browser: Browser) -> Iterator[Callable[[Served], Visits]]:
    """Visits to a show of one's own."""
    made: list[Visits] = []

    def visit(served: Served) -> Visits:
        made.append(Visits(browser, served))
        return made[-1]

    yield visit
    for each in made:
        each.close()
