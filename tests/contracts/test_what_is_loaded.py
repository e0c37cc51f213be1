"""What a command and the first page load: nothing that they do not need, so that both begin at once."""

from __future__ import annotations

import json
import subprocess
import sys
from keyword import iskeyword
from pathlib import Path

import httpx
import pytest

from rollsound.cli.app import COMMANDS, SUBCOMMANDS
from rollsound.demo.show import make_show

SIGNAL = {"numpy", "scipy", "numba", "llvmlite", "lxml", "typst", "vl_convert", "xxhash"}
WEB = {"fastapi", "starlette", "uvicorn", "jinja2"}
STORE = {"sqlalchemy", "alembic", "ruamel"}
FOR_LATER = {
    "rollsound.actions.media",
    "rollsound.actions.turnover_check",
    "rollsound.conform",
    "rollsound.measure.analyser",
    "rollsound.measure.survey",
    "rollsound.power.answer",
    "rollsound.radio.asking",
    "rollsound.radio.carriers.search",
    "rollsound.radio.proofs",
    "rollsound.radio.reach.answer",
    "rollsound.report.charts",
    "rollsound.rig.proofs",
    "rollsound.turnover",
    "rollsound.web.api.plan",
    "rollsound.web.api.radio",
    "rollsound.web.api.reach",
    "rollsound.web.pages.media",
    "rollsound.web.pages.radio",
    "rollsound.web.pages.reach",
    "rollsound.web.pages.settings",
}
SHOW_COMMANDS = ("new", "export", "import_", "history", "undo", "redo", "backup", "restore")
FILE_COMMANDS = ("offload", "verify", "recover", "ltc")
RADIO_COMMANDS = tuple(f"radio_{name}" for name in SUBCOMMANDS["radio"])
EVERY_COMMAND = (
    *(f"{name}_" if iskeyword(name) else name for name in COMMANDS if name not in SUBCOMMANDS),
    *(f"{name}_{each}" for name, group in SUBCOMMANDS.items() for each in group),
)

SERVING = """
import json, sys, threading
from rollsound.cli.app import run
from rollsound.web import loading

class Noted(threading.Event):
    def set(self):
        if not self.is_set():
            print("loaded " + json.dumps(sorted(sys.modules)), flush=True)
        super().set()

loading.answered, loading.PATIENCE_S = Noted(), 600.0
sys.exit(run(["serve", sys.argv[1], "--no-open"]))
"""


@pytest.fixture(scope="module")
def with_first_page(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Every module of a server of the demo's show at the moment in which its first page was answered."""
    folder = make_show(tmp_path_factory.mktemp("what-is-loaded") / "ferry")
    process = subprocess.Popen([sys.executable, "-c", SERVING, str(folder)], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        enter = next(line.strip() for line in process.stdout if "/enter?key=" in line)
        page = httpx.get(enter, follow_redirects=True, trust_env=False, timeout=60)
        assert (page.status_code, page.url.path) == (200, "/ready")
        told = next(line for line in process.stdout if line.startswith("loaded "))
        return set(json.loads(told.removeprefix("loaded ")))
    finally:
        process.terminate()
        process.wait(60)


def test_the_first_page_needs_no_signal_code(with_first_page: set[str]) -> None:
    assert with_first_page & (SIGNAL | {"alembic"}) == set()


def test_the_first_page_loads_no_other_page(with_first_page: set[str]) -> None:
    for name in FOR_LATER:
        assert (Path("src") / f"{name.replace('.', '/')}.py").exists() or (
            Path("src") / name.replace(".", "/")
        ).is_dir()
    assert with_first_page & FOR_LATER == set()
    assert "rollsound.web.pages.ready" in with_first_page


@pytest.mark.parametrize(
    ("commands", "left_out"),
    [
        ((), SIGNAL | WEB | STORE),  # the list of commands
        (("serve", *RADIO_COMMANDS), SIGNAL | WEB | STORE),
        (SHOW_COMMANDS, SIGNAL | WEB | {"alembic"}),
        (FILE_COMMANDS, WEB | STORE | {"scipy", "numba", "llvmlite", "vl_convert"}),
        (EVERY_COMMAND, WEB | {"numba", "llvmlite", "vl_convert", "alembic"}),
    ],
)
def test_a_command_begins_with_what_it_needs(commands: tuple[str, ...], left_out: set[str]) -> None:
    code = (
        "import importlib, json, sys; from rollsound.cli.app import _build; _build()\n"
        "for name in sys.argv[1:]: importlib.import_module('rollsound.cli.' + name)\n"
        "print(json.dumps(sorted(sys.modules)))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, *commands], capture_output=True, text=True, check=True, timeout=120
    )
    assert set(json.loads(told.stdout)) & left_out == set()


def test_the_pages_and_the_json_interface_need_no_signal_code() -> None:
    """They are loaded behind the first page, before anybody asks for a sound: seconds would be waited for then."""
    code = (
        "import importlib, json, sys; from rollsound.web import api, pages\n"
        "for name in (*api.MODULES, *(pages.module_of(each.name) for each in pages.PAGES)):\n"
        "    importlib.import_module(name)\n"
        "print(json.dumps(sorted(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120)
    assert set(json.loads(told.stdout)) & (SIGNAL - {"numpy", "typst"}) == set()
