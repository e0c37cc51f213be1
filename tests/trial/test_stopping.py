"""What is claimed after a wish to stop: never more than was proven."""

from pathlib import Path

import pytest

from rollsound.actions.offload import Destination, OffloadResult, offload
from rollsound.errors import Halted, InputError
from rollsound.progress import Progress
from rollsound.turnover.copying import End, Lane


def test_a_wish_to_stop_between_the_last_read_and_its_proof(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    card, place = tmp_path / "card7", tmp_path / "a"
    card.mkdir()
    (card / "T1.wav").write_bytes(bytes(1000))
    progress = Progress()
    end = Lane._end

    def stop_first(lane: Lane, message: End) -> None:
        progress.stop()
        end(lane, message)

    monkeypatch.setattr(Lane, "_end", stop_first)
    with pytest.raises(Halted):
        offload(card, [place], progress=progress)
    assert not (place / "card7" / "T1.wav").exists()
    monkeypatch.undo()
    assert offload(card, [place]).complete


def test_complete_counts_what_is_proven_not_what_is_silent() -> None:
    silent = Destination(root="a", copied=("T1.wav",))
    result = OffloadResult(source="card", algorithms=("xxh64",), file_count=2, size_bytes=9, destinations=(silent,))
    assert not result.complete
    whole = Destination(root="a", copied=("T1.wav",), already_proven=("T2.wav",))
    assert result.model_copy(update={"destinations": (whole,)}).complete


@pytest.mark.parametrize("name", ["../x", "a/b", "..", ".", "a\\b"])
def test_a_name_for_the_copy_stays_inside_the_place(name: str, tmp_path: Path) -> None:
    card = tmp_path / "card7"
    card.mkdir()
    (card / "T1.wav").write_bytes(b"x")
    with pytest.raises(InputError, match="name of one folder"):
        offload(card, [tmp_path / "a"], name=name)
    assert not (tmp_path / "a").exists()
