"""A file that could not be written is named as it was asked for, never by its hidden part."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.errors import StorageError
from rollsound.whole import write_whole


def test_the_sentence_names_the_target(tmp_path: Path) -> None:
    with pytest.raises(StorageError) as caught:
        write_whole(tmp_path / "gone" / "index.json", "x")
    assert str(tmp_path / "gone" / "index.json") in caught.value.sentence
    assert ".part-" not in caught.value.sentence
