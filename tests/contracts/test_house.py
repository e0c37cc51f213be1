"""The laws of the house that a reader of the tree can check."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "rollsound"
TESTS = ROOT / "tests"
FILES = sorted(SOURCE.rglob("*.py"))
FORBIDDEN_NAMES = {"utils", "util", "helpers", "helper", "manager", "common", "misc"}
AUDIO_READERS = {"soundfile", "wave", "av", "sndfile"}


def imports(path: Path) -> set[str]:
    """The top names of everything a file imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module.split(".")[0])
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(SOURCE)))
def test_a_file_keeps_the_house(path: Path) -> None:
    field = path.relative_to(SOURCE).parts[0]
    names = imports(path)
    assert path.stem not in FORBIDDEN_NAMES
    assert not names & AUDIO_READERS, "only wave/ opens audio files, by its own reader"
    assert "sqlite3" not in names or field == "log"
    if field == "measure" and path.name not in {"__init__.py"}:
        assert "pathlib" not in names or path.stem == "thresholds", "measure/ takes arrays and never a path"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(SOURCE)))
def test_a_file_holds_one_idea(path: Path) -> None:
    text = path.read_text("utf-8")
    lines = text.count("\n")
    assert lines <= 700
    assert lines <= 400 or "Longer than most files" in text, (
        "above 400 lines, the docstring says why: 'Longer than most files: …'"
    )
    assert ast.get_docstring(ast.parse(text)), "every file says what it is for"


def test_no_test_takes_from_a_file_of_tests() -> None:
    """Folders of tests stand on one path: ``test_levels`` would be whichever of two was read first."""
    takers = {
        f"{path.relative_to(TESTS)} takes from {name}"
        for path in TESTS.rglob("*.py")
        for name in re.findall(r"^\s*(?:from|import) ([\w.]+)", path.read_text("utf-8"), re.MULTILINE)
        if any(part == "conftest" or part.startswith("test_") for part in name.split("."))
    }
    assert takers == set()


def test_what_tests_share_has_one_name_each() -> None:
    shared = [
        path.name
        for path in TESTS.rglob("*.py")
        if path.stem != "conftest" and not path.stem.startswith("test_") and "data" not in path.parts
    ]
    assert sorted(shared) == sorted(set(shared))


def test_what_is_left_to_the_long_run_is_there_and_has_one_that_is_run_for_it() -> None:
    sets = tomllib.loads((TESTS / "soak.toml").read_text("utf-8"))["set"]
    left = [id for each in sets for id in each["soak"]]
    assert len(left) == len(set(left))
    for id in [*left, *(each["stays"] for each in sets)]:
        path, _, name = id.partition("::")
        assert f"def {name.split('[')[0]}(" in (ROOT / path).read_text("utf-8"), f"{id} is not there"
    assert not {each["stays"] for each in sets} & set(left)


def test_only_the_errors_of_the_tree_are_defined() -> None:
    stray = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                bases = {base.id for base in node.bases if isinstance(base, ast.Name)}
                if (
                    bases & {"Exception", "BaseException", "ValueError", "OSError", "RuntimeError"}
                    and path.name != "errors.py"
                ):
                    stray.append(f"{path.name}: {node.name}")
    assert stray == []
