"""Offload: what is copied, what is kept, what is told; and verify, which proves it."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import xxhash
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from rollsound.actions.offload import offload
from rollsound.actions.verify import verify_folder
from rollsound.errors import BrokenFileError, Halted, InputError, StorageError
from rollsound.finding import Weight
from rollsound.progress import Event, Progress
from rollsound.turnover import copying, place
from rollsound.turnover.mhl import read_history

POSIX = pytest.mark.skipif(os.name == "nt", reason="needs a POSIX system")
NOT_ROOT = pytest.mark.skipif(getattr(os, "geteuid", lambda: 1)() == 0, reason="root may read everything")


def make(root: Path, count: int = 4, size: int = 300_000) -> dict[str, bytes]:
    files = {f"day 4/T{n:02d} Łucja.wav": bytes([n]) * (size + n) for n in range(count)}
    files |= {"index.txt": b"four takes", ".hidden": b"kept", "empty.bin": b""}
    for path, data in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(data)
        os.utime(root / path, ns=(1_700_000_000_123_456_789, 1_700_000_000_123_456_789))
    return files


@pytest.fixture
def card(tmp_path: Path) -> Path:
    root = tmp_path / "ODILE_07"
    make(root)
    return root


def content(root: Path) -> dict[str, bytes]:
    found = (p for p in root.rglob("*") if p.is_file() and "ascmhl" not in p.relative_to(root).parts)
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in found}


@pytest.mark.source("hashlib MD5 and xxhash XXH64 of the source files", kind="library")
def test_two_places_equal_the_card(card: Path, tmp_path: Path) -> None:
    before = {p: (p.stat().st_mtime_ns, p.stat().st_size) for p in card.rglob("*")}
    result = offload(card, [tmp_path / "a", tmp_path / "b"], also_md5=True)
    assert result.complete
    assert result.weight is Weight.FINE
    for name in "ab":
        root = tmp_path / name / "ODILE_07"
        assert content(root) == content(card)
        assert (root / "index.txt").stat().st_mtime_ns == (card / "index.txt").stat().st_mtime_ns
        assert verify_folder(root).proven
    for record in result.files:
        data = (card / record.path).read_bytes()
        assert record.digests == {"xxh64": xxhash.xxh64(data).hexdigest(), "md5": hashlib.md5(data).hexdigest()}
    assert {p: (p.stat().st_mtime_ns, p.stat().st_size) for p in card.rglob("*")} == before


@pytest.mark.parametrize("size", [0, 1, 4095, 4096, 4097, 8192, 12288, 12289])
def test_awkward_lengths(tmp_path: Path, size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copying, "BLOCK_BYTES", 4096)
    monkeypatch.setattr(copying, "BLOCKS", 2)
    (tmp_path / "card").mkdir()
    data = os.urandom(size)
    (tmp_path / "card" / "x.wav").write_bytes(data)
    result = offload(tmp_path / "card", [tmp_path / "a", tmp_path / "b", tmp_path / "c"], algorithm="xxh128")
    assert result.files[0].digests["xxh128"] == xxhash.xxh3_128(data).hexdigest()
    assert all((tmp_path / n / "card" / "x.wav").read_bytes() == data for n in "abc")


def test_a_second_run_reads_nothing_and_adds_nothing(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    again = offload(card, [tmp_path / "a"])
    assert again.complete
    assert not again.files
    assert len(again.destinations[0].already_proven) == again.file_count
    assert not again.destinations[0].manifest


def test_a_half_written_manifest_of_a_killed_run_goes_with_the_next(card: Path, tmp_path: Path) -> None:
    root = tmp_path / "a" / "ODILE_07"
    (root / "ascmhl").mkdir(parents=True)
    half = root / "ascmhl" / ".0001_ODILE_07_2031-02-18_190000Z.mhl.part-e8ec468d"
    half.write_bytes(b"<hashlist")
    own = root / "ascmhl" / ".note"  # not ours: it stays
    own.write_bytes(b"x")
    assert offload(card, [tmp_path / "a"]).complete
    assert not half.exists()
    assert own.exists()


def test_a_third_place_is_filled_from_the_card(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    again = offload(card, [tmp_path / "a", tmp_path / "c"], algorithm="xxh3")
    assert not again.destinations[0].copied
    assert content(tmp_path / "c" / "ODILE_07") == content(card)


def test_files_without_a_manifest_are_proven_by_reading(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    shutil.rmtree(tmp_path / "a" / "ODILE_07" / "ascmhl")
    (tmp_path / "a" / "ODILE_07" / "index.txt").unlink()
    again = offload(card, [tmp_path / "a"]).destinations[0]
    assert again.copied == ("index.txt",)
    assert len(again.already_there) == 6
    assert verify_folder(tmp_path / "a" / "ODILE_07").proven


@pytest.mark.parametrize("other", [b"four takez", b"something longer than it"])
def test_a_different_file_is_kept_and_told(card: Path, tmp_path: Path, other: bytes) -> None:
    theirs = tmp_path / "a" / "ODILE_07" / "index.txt"
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(other)
    result = offload(card, [tmp_path / "a", tmp_path / "b"])
    assert theirs.read_bytes() == other
    assert not result.complete
    assert result.weight is Weight.STOP
    assert "was left as it is" in result.destinations[0].problems["index.txt"]
    assert not result.destinations[1].problems
    assert verify_folder(tmp_path / "a" / "ODILE_07").extra == ("index.txt",)
    assert content(tmp_path / "b" / "ODILE_07") == content(card)


def test_a_name_taken_in_the_last_moment_is_kept(card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = copying.publish

    def late(part: Path, path: Path) -> None:
        if path.name == "index.txt":
            path.write_bytes(b"theirs")
        real(part, path)

    monkeypatch.setattr(copying, "publish", late)
    result = offload(card, [tmp_path / "a"])
    assert (tmp_path / "a" / "ODILE_07" / "index.txt").read_bytes() == b"theirs"
    assert "never overwritten" in result.destinations[0].problems["index.txt"]


@POSIX
@NOT_ROOT
def test_an_unreadable_file_is_told_and_the_rest_goes_on(card: Path, tmp_path: Path) -> None:
    (card / "index.txt").chmod(0)
    result = offload(card, [tmp_path / "a"])
    assert list(result.unreadable) == ["index.txt"]
    assert len(result.destinations[0].copied) == 6


def test_a_failing_card_is_told_and_the_rest_goes_on(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = copying.Copier._read

    def failing(self: copying.Copier, job: place.CopyJob, algorithms: list[str], lanes: list[copying.Lane]):
        if job.path == "day 4/T02 Łucja.wav":
            block = self.pool.get()
            block.count = 4096
            block.hand_to(len(lanes))
            for lane in lanes:
                lane.inbox.put(block)
            raise StorageError("the disk failed while T02 was read")
        return real(self, job, algorithms, lanes)

    monkeypatch.setattr(copying.Copier, "_read", failing)
    result = offload(card, [tmp_path / "a", tmp_path / "b"])
    assert result.unreadable == {"day 4/T02 Łucja.wav": "the disk failed while T02 was read"}
    for name in "ab":
        assert set(content(tmp_path / name / "ODILE_07")) == set(content(card)) - {"day 4/T02 Łucja.wav"}


def test_a_file_that_grows_while_read_is_not_kept(card: Path, tmp_path: Path) -> None:
    def grow(event: Event) -> None:
        if event.label == "index.txt":
            with open(card / "index.txt", "ab") as file:
                file.write(b"more")

    result = offload(card, [tmp_path / "a"], progress=Progress(grow))
    assert "changed while it was read" in result.unreadable["index.txt"]
    assert not (tmp_path / "a" / "ODILE_07" / "index.txt").exists()


def fail_writes(monkeypatch: pytest.MonkeyPatch, where: Path, number: int, after: int = 2) -> None:
    real = copying.Lane._put
    seen = {"count": 0}

    def put(self: copying.Lane, block: copying.Block) -> None:
        if self.place.root.is_relative_to(where):
            seen["count"] += 1
            if seen["count"] > after and self._job is not None:
                self.place.fail(self._job.job, OSError(number, os.strerror(number)))
                self._drop()
                return
        real(self, block)

    monkeypatch.setattr(copying.Lane, "_put", put)


@pytest.mark.parametrize(
    ("number", "words"), [(errno.ENOSPC, "no space is left"), (errno.ENODEV, "is gone"), (errno.EIO, "the disk failed")]
)
def test_one_drive_lost_the_other_goes_on(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    fail_writes(monkeypatch, tmp_path / "a", number)
    result = offload(card, [tmp_path / "a", tmp_path / "b"])
    assert words in result.destinations[0].lost
    assert content(tmp_path / "b" / "ODILE_07") == content(card)
    kept = content(tmp_path / "a" / "ODILE_07")
    assert kept
    assert all(content(card)[path] == data for path, data in kept.items())
    monkeypatch.undo()
    assert offload(card, [tmp_path / "a", tmp_path / "b"]).complete
    assert content(tmp_path / "a" / "ODILE_07") == content(card)


def test_every_drive_lost_is_one_sentence(card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fail_writes(monkeypatch, tmp_path, errno.ENOSPC)
    with pytest.raises(StorageError, match="no space is left on the disk"):
        offload(card, [tmp_path / "a", tmp_path / "b"])


def test_a_drive_that_lies_is_caught(card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = copying.Lane._read_back

    def lie(self: copying.Lane, item: copying.Written, handle: int, memory: memoryview) -> dict[str, str]:
        if item.job.path == "index.txt" and self.place.root.is_relative_to(tmp_path / "a"):
            os.pwrite(handle, b"F", 0)
        return real(self, item, handle, memory)

    monkeypatch.setattr(copying.Lane, "_read_back", lie)
    result = offload(card, [tmp_path / "a", tmp_path / "b"])
    assert "did not read back as it was written" in result.destinations[0].problems["index.txt"]
    assert not (tmp_path / "a" / "ODILE_07" / "index.txt").exists()
    assert content(tmp_path / "b" / "ODILE_07") == content(card)


def test_too_little_room_is_told_before_anything_is_copied(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(place.shutil, "disk_usage", lambda _: usage._replace(free=1_000_000))
    with pytest.raises(StorageError, match=r"has 1 MB free and needs .* for this"):
        offload(card, [tmp_path / "a"])
    assert not content(tmp_path / "a" / "ODILE_07")


@pytest.mark.parametrize("where", ["ODILE_07", "ODILE_07/day 4", "."])
def test_places_inside_one_another_are_refused(card: Path, tmp_path: Path, where: str) -> None:
    name = "" if where != "." else card.name
    with pytest.raises(InputError, match="inside one another"):
        offload(card, [tmp_path / where], name=name)


def test_what_cannot_be_offloaded(card: Path, tmp_path: Path) -> None:
    (tmp_path / "nothing").mkdir()
    with pytest.raises(InputError, match="no file lies in"):
        offload(tmp_path / "nothing", [tmp_path / "a"])
    with pytest.raises(InputError, match="is a file"):
        offload(card / "index.txt", [tmp_path / "a"])
    with pytest.raises(StorageError, match="is not there"):
        offload(tmp_path / "no card", [tmp_path / "a"])
    with pytest.raises(InputError, match="no destination"):
        offload(card, [])
    with pytest.raises(InputError, match="twice"):
        offload(card, [tmp_path / "a", tmp_path / "a"])
    with pytest.raises(InputError, match="is no digest"):
        offload(card, [tmp_path / "a"], algorithm="crc")


@POSIX
def test_links_system_files_and_pipes_are_left_out(card: Path, tmp_path: Path) -> None:
    (card / "link.wav").symlink_to(card / "index.txt")
    (card / "loop").symlink_to(card)
    (card / ".DS_Store").write_bytes(b"x")
    (card / "System Volume Information").mkdir()
    (card / "System Volume Information" / "a").write_bytes(b"x")
    os.mkfifo(card / "pipe")
    (card / "x.wav.part-0123abcd").write_bytes(b"half")
    result = offload(card, [tmp_path / "a"])
    assert result.complete
    assert set(result.left_out) == {
        "link.wav",
        "loop",
        ".DS_Store",
        "System Volume Information",
        "pipe",
        "x.wav.part-0123abcd",
    }
    assert len(result.destinations[0].copied) == 7


@POSIX
def test_a_name_that_is_no_text_is_told(card: Path, tmp_path: Path) -> None:
    (Path(os.fsdecode(os.fsencode(card) + b"/T\xff.wav"))).write_bytes(b"x")
    result = offload(card, [tmp_path / "a"])
    assert len(result.unreadable) == 1
    assert "not readable text" in next(iter(result.unreadable.values()))
    assert verify_folder(tmp_path / "a" / "ODILE_07").proven


def test_both_unicode_forms_and_long_names(tmp_path: Path) -> None:
    root = tmp_path / "card"
    root.mkdir()
    names = {"caf\u00e9.wav": b"one", "cafe\u0301.wav": b"two", "x" * 251 + ".wav": b"long", "港 🎙.wav": b"any"}
    for name, data in names.items():
        (root / name).write_bytes(data)
    assert offload(root, [tmp_path / "a"]).complete
    assert content(tmp_path / "a" / "card") == names
    assert verify_folder(tmp_path / "a" / "card").proven


def test_verify_knows_the_other_unicode_form(card: Path, tmp_path: Path) -> None:
    (card / "caf\u00e9.wav").write_bytes(b"one")
    offload(card, [tmp_path / "a"])
    root = tmp_path / "a" / "ODILE_07"
    (root / "caf\u00e9.wav").rename(root / "cafe\u0301.wav")
    assert verify_folder(root).proven


def test_manifests_on_the_card_come_along(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    second = offload(tmp_path / "a" / "ODILE_07", [tmp_path / "b"], algorithm="md5")
    history = read_history(tmp_path / "b" / "ODILE_07")
    assert len(history.generations) == 2
    assert history.generations[1].records["index.txt"].digests["xxh64"][1] == "verified"
    assert not second.changed_since_manifest


def test_manifests_in_folders_come_along(card: Path, tmp_path: Path) -> None:
    make(tmp_path / "INES_02", count=1)
    offload(card, [tmp_path / "drive"])
    offload(tmp_path / "INES_02", [tmp_path / "drive"], algorithm="md5")
    offload(tmp_path / "drive", [tmp_path / "b"])
    proof = verify_folder(tmp_path / "b" / "drive")
    assert proof.proven
    assert not proof.extra
    assert len(proof.good) == 11
    assert len(proof.manifests) == 3
    (tmp_path / "b" / "drive" / "INES_02" / "index.txt").unlink()
    assert set(verify_folder(tmp_path / "b" / "drive").missing) == {"INES_02/index.txt"}


def test_a_card_that_rotted_since_its_manifest_is_told(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    first = tmp_path / "a" / "ODILE_07"
    (first / "index.txt").write_bytes(b"four takeZ")
    second = offload(first, [tmp_path / "b"])
    assert second.changed_since_manifest == ("index.txt",)
    assert second.weight is Weight.STOP
    assert verify_folder(tmp_path / "b" / "ODILE_07").changed == ("index.txt",)


def test_a_stop_keeps_what_was_proven(card: Path, tmp_path: Path) -> None:
    progress = Progress(lambda event: progress.stop() if event.label == "day 4/T03 Łucja.wav" else None)
    with pytest.raises(Halted):
        offload(card, [tmp_path / "a", tmp_path / "b"], progress=progress)
    for name in "ab":
        kept = content(tmp_path / name / "ODILE_07")
        assert all(content(card)[path] == data for path, data in kept.items())
        assert len(kept) < 7
    assert offload(card, [tmp_path / "a", tmp_path / "b"]).complete
    assert content(tmp_path / "b" / "ODILE_07") == content(card)


def test_progress_is_told_to_the_end(card: Path, tmp_path: Path) -> None:
    events: list[Event] = []
    result = offload(card, [tmp_path / "a", tmp_path / "b"], progress=Progress(events.append))
    assert [e.done for e in events] == sorted(e.done for e in events)
    assert events[-1].done == events[-1].total == result.size_bytes * 3


@POSIX
def test_two_runs_at_once_are_refused(card: Path, tmp_path: Path) -> None:
    root = tmp_path / "a" / "ODILE_07"
    root.mkdir(parents=True)
    with place.only_one(root), pytest.raises(StorageError, match="another run"):
        offload(card, [tmp_path / "a"])
    assert offload(card, [tmp_path / "a"]).complete


def test_no_threads_are_left(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a", tmp_path / "b"])
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("offload-")]


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(0, 20_000), min_size=1, max_size=8), st.sampled_from(["xxh64", "xxh3", "md5", "c4"]))
def test_any_card_comes_out_as_it_is(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int], algorithm: str
) -> None:
    root = tmp_path_factory.mktemp("any")
    (root / "card").mkdir()
    for n, size in enumerate(sizes):
        (root / "card" / f"{n}.wav").write_bytes(bytes([n]) * size)
    assert offload(root / "card", [root / "a", root / "b"], algorithm=algorithm).complete
    assert content(root / "a" / "card") == content(root / "b" / "card") == content(root / "card")


# ---- killed at any moment --------------------------------------------------------------------------------------------

KILLED = """
import sys
from pathlib import Path
from rollsound.actions.offload import offload
print("go", flush=True)
offload(Path(sys.argv[1]), [Path(sys.argv[2]), Path(sys.argv[3])])
"""


@POSIX
@pytest.mark.parametrize("delay_ms", [0, 8, 20, 45, 80, 130])
def test_killed_at_any_moment(tmp_path: Path, delay_ms: int) -> None:
    card = tmp_path / "card"
    make(card, count=40, size=400_000)
    places = [tmp_path / "a", tmp_path / "b"]
    run = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(card), *map(str, places)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert run.stdout is not None
    run.stdout.readline()
    time.sleep(delay_ms / 1000)
    run.send_signal(signal.SIGKILL)
    run.communicate()
    whole = content(card)
    for root in places:
        for path, data in content(root / "card").items() if (root / "card").exists() else ():
            if ".part-" not in path and not path.endswith("-lock"):
                assert data == whole[path], f"a half file stands under the name {path}"
    assert offload(card, places).complete
    for root in places:
        assert content(root / "card") == whole
        assert verify_folder(root / "card").proven


# ---- verify ----------------------------------------------------------------------------------------------------------


def test_verify_lists_what_is_wrong(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    root = tmp_path / "a" / "ODILE_07"
    (root / "index.txt").write_bytes(b"four takeX")
    (root / ".hidden").write_bytes(b"longer than before")
    (root / "empty.bin").unlink()
    (root / "new.txt").write_bytes(b"new")
    result = verify_folder(root)
    assert result.changed == (".hidden", "index.txt")
    assert result.missing == ("empty.bin",)
    assert result.extra == ("new.txt",)
    assert len(result.good) == 4
    assert not result.proven
    assert result.weight is Weight.STOP
    assert {f.kind for f in result.findings} == {"changed", "missing", "extra"}


def test_every_flipped_bit_is_found(tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "x.wav").write_bytes(bytes(64))
    offload(tmp_path / "card", [tmp_path / "a"])
    file = tmp_path / "a" / "card" / "x.wav"
    for bit in range(0, 512, 37):
        data = bytearray(64)
        data[bit // 8] ^= 1 << bit % 8
        file.write_bytes(data)
        assert verify_folder(tmp_path / "a").changed == ("card/x.wav",)


def test_verify_takes_a_drive_of_several_cards(card: Path, tmp_path: Path) -> None:
    make(tmp_path / "INES_02", count=1)
    offload(card, [tmp_path / "drive"])
    offload(tmp_path / "INES_02", [tmp_path / "drive"])
    result = verify_folder(tmp_path / "drive")
    assert result.proven
    assert len(result.manifests) == 2
    assert len(result.good) == 11


def test_verify_needs_a_manifest(card: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no manifest"):
        verify_folder(card)
    with pytest.raises(StorageError, match="is not there"):
        verify_folder(tmp_path / "no folder")


def test_verify_refuses_a_changed_manifest(card: Path, tmp_path: Path) -> None:
    manifest = Path(offload(card, [tmp_path / "a"]).destinations[0].manifest)
    tree = etree.parse(manifest)
    tree.find(".//{*}xxh64").text = "0" * 16
    manifest.write_bytes(etree.tostring(tree))
    with pytest.raises(BrokenFileError, match="changed after it was written"):
        verify_folder(tmp_path / "a")


def test_verify_writes_nothing(card: Path, tmp_path: Path) -> None:
    offload(card, [tmp_path / "a"])
    before = {p: p.stat().st_mtime_ns for p in (tmp_path / "a").rglob("*")}
    verify_folder(tmp_path / "a")
    assert {p: p.stat().st_mtime_ns for p in (tmp_path / "a").rglob("*")} == before
