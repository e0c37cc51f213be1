"""A small show in a folder; lets the tests of the log import ``aboard``, which lies beside them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from rollsound.log.model import DATABASE
from rollsound.log.store import Store

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the database of a show goes."""
    folder = tmp_path / "ferry"
    folder.mkdir()
    return folder / DATABASE


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    """A new show, open."""
    from aboard import MINA, ferry

    with Store.create(path, ferry(), {"/people": "who is on board"}, MINA) as store:
        yield store
