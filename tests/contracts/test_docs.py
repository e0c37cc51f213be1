"""Documentation that cannot rot: what comes from the code is compared with it, and every command is told about."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest
from pydantic import BaseModel

from rollsound.cli.app import COMMANDS, run

ROOT = Path(__file__).parents[2]


def script(name: str) -> ModuleType:
    """A script of scripts/ as a module."""
    spec = importlib.util.spec_from_file_location(f"scripts_{name}", ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("page", ["commands.md", "json.md", "radio-tables.md"])
def test_made_pages_are_fresh(page: str) -> None:
    made = script("docs").PAGES[page]()
    assert (ROOT / "docs" / page).read_text("utf-8") == made, "run: make docs"


def test_the_list_of_sources_is_fresh() -> None:
    made = script("sources").table()
    assert (ROOT / "docs" / "sources.md").read_text("utf-8") == made, "run: make docs"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_told_about(command: str) -> None:
    assert f"rollsound {command}" in (ROOT / "README.md").read_text("utf-8")
    text = io.StringIO()
    with contextlib.redirect_stdout(text):
        assert run([command, "--help"]) == 0
    words = " ".join(text.getvalue().split())
    assert f"Example: rollsound {command}" in words
    assert "--json" in words


@pytest.mark.parametrize("command", COMMANDS)
def test_every_result_is_a_documented_model(command: str) -> None:
    model = script("docs").model_of(command)
    assert issubclass(model, BaseModel)
    assert json.dumps(model.model_json_schema(mode="serialization"))


def test_the_changelog_knows_the_version() -> None:
    import rollsound

    assert f"## {rollsound.__version__}" in (ROOT / "CHANGELOG.md").read_text("utf-8")
