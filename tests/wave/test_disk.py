"""Reading by position: what is there, in as few copies as can be, however the system hands it over."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from rollsound.wave.disk import ByteSource


def test_fewer_bytes_at_the_end_and_none_beyond(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(bytes(range(100)))
    with ByteSource(path) as source:
        assert source.read(0, 100) == bytes(range(100))
        assert source.read(90, 50) == bytes(range(90, 100))
        assert source.read(100, 5) == source.read(500, 5) == source.read(3, 0) == source.read(3, -1) == b""


@pytest.mark.parametrize("piece", [1, 7, 99])
def test_a_system_that_gives_a_little_at_a_time(tmp_path: Path, piece: int) -> None:
    path = tmp_path / "a"
    path.write_bytes(bytes(range(100)))
    with ByteSource(path) as source:
        whole = source._file

        class Slow:
            def read(self, count: int) -> bytes:
                return whole.read(min(count, piece))

            def __getattr__(self, name: str) -> object:
                return getattr(whole, name)

        source._file = Slow()  # type: ignore[assignment]
        assert source.read(10, 80) == bytes(range(10, 90))


def test_a_file_that_became_shorter_gives_what_is_left(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(bytes(100))
    with ByteSource(path) as source:
        path.write_bytes(bytes(30))
        assert len(source.read(0, 100)) == 30


def test_reading_takes_no_more_memory_than_what_is_read(tmp_path: Path) -> None:
    """Two copies beside one another made recovering and mirroring many times slower than the disk."""
    size = 8 << 20
    path = tmp_path / "a"
    path.write_bytes(bytes(size))
    with ByteSource(path) as source:
        tracemalloc.start()
        held = source.read(0, size)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert len(held) == size
    assert most < 1.1 * size
