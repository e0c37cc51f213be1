"""The turnover folder: whole, resumable, proven, and never written over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rollsound.errors import Halted, InputError
from rollsound.finding import Weight
from rollsound.progress import Progress
from rollsound.turnover import DayMaterial, Rebuilt, build, verify_folder

Make = Callable[..., DayMaterial]


def tree(root: Path) -> list[str]:
    found = (p.relative_to(root) for p in root.rglob("*") if p.is_file())
    return sorted(p.as_posix() for p in found if p.parts[0] != "ascmhl")


def test_the_folder_and_its_proof(day: Make, tmp_path: Path) -> None:
    out = tmp_path / "turnover"
    result = build(day(4), out)
    assert tree(out) == [
        "Day 4/NBF-D04/31A-001.wav",
        "Day 4/NBF-D04/31A-002.wav",
        "Day 4/NBF-D04/31A-003.wav",
        "Day 4/NBF-D04/31A-004.wav",
        "Day 4/NBF-D04/mirrors/31A-001 Odile.wav",
        "Day 4/findings.csv",
        "Day 4/lists/conform.json",
        "Day 4/sound report.csv",
        "Day 4/sound report.pdf",
    ]
    assert result.complete
    assert list(result.files) == tree(out)
    proof = verify_folder(out)
    assert proof.proven
    assert sorted(proof.good) == tree(out)
    assert not proof.extra
    (out / "Day 4" / "NBF-D04" / "31A-002.wav").write_bytes(b"\1" * 999 + b"\2")
    assert verify_folder(out).changed == ("Day 4/NBF-D04/31A-002.wav",)


def test_a_second_run_changes_nothing(day: Make, tmp_path: Path) -> None:
    out = tmp_path / "turnover"
    build(day(4), out)
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in out.rglob("*") if p.is_file()}
    again = build(day(4), out)
    assert not again.copied
    assert not again.manifest
    assert {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in out.rglob("*") if p.is_file()} == before


def test_a_late_take_is_added_and_the_old_report_kept(day: Make, tmp_path: Path) -> None:
    out = tmp_path / "turnover"
    build(day(4), out)
    old = (out / "Day 4" / "sound report.pdf").read_bytes()
    result = build(day(5), out)
    assert (out / "Day 4" / "sound report.pdf").read_bytes() == old
    assert "Day 4/sound report (2).pdf" in result.reports
    assert (out / "Day 4" / "NBF-D04" / "31A-005.wav").exists()
    assert verify_folder(out).proven
    assert len(verify_folder(out).manifests) == 2


def test_two_days_in_one_folder(day: Make, tmp_path: Path) -> None:
    out = tmp_path / "turnover"
    build(day(3), out)
    build(day(3).model_copy(update={"day": "Day 5: quay"}), out)
    assert {path.split("/")[0] for path in tree(out)} == {"Day 4", "Day 5- quay"}
    assert verify_folder(out).proven


def test_a_missing_file_is_told_in_the_report_too(day: Make, tmp_path: Path) -> None:
    material = day(3)
    gone = Rebuilt(track="Ines", file=tmp_path / "gone.wav")
    take = material.takes[0].model_copy(update={"rebuilt": (gone,)})
    result = build(material.model_copy(update={"takes": (take, *material.takes[1:])}), tmp_path / "turnover")
    assert list(result.problems) == ["Day 4/NBF-D04/mirrors/gone.wav"]
    assert result.weight is Weight.STOP
    assert "gone.wav" in (tmp_path / "turnover" / "Day 4" / "findings.csv").read_text("utf-8-sig")
    assert verify_folder(tmp_path / "turnover").proven


def test_a_different_file_of_the_same_name_is_kept(day: Make, tmp_path: Path) -> None:
    theirs = tmp_path / "turnover" / "Day 4" / "NBF-D04" / "31A-001.wav"
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(b"theirs")
    result = build(day(3), tmp_path / "turnover")
    assert theirs.read_bytes() == b"theirs"
    assert list(result.problems) == ["Day 4/NBF-D04/31A-001.wav"]
    assert not result.complete


def test_files_of_one_name_from_two_recorders(day: Make, tmp_path: Path) -> None:
    material = day(3)
    other = tmp_path / "second" / "31a-001.WAV"
    other.parent.mkdir()
    other.write_bytes(b"second recorder")
    extra = material.takes[0].model_copy(update={"files": (other,), "rebuilt": ()})
    build(material.model_copy(update={"takes": (*material.takes, extra)}), tmp_path / "turnover")
    assert (tmp_path / "turnover" / "Day 4" / "NBF-D04" / "31a-001 (2).WAV").read_bytes() == b"second recorder"


def test_names_are_safe_everywhere(day: Make, tmp_path: Path) -> None:
    material = day(1)
    take = material.takes[0].model_copy(update={"sound_roll": "../../a:b?"})
    build(material.model_copy(update={"takes": (take,), "day": "..\\Day/4"}), tmp_path / "turnover")
    assert all(not set(path) & set('<>:"\\|?*') and ".." not in path for path in tree(tmp_path / "turnover"))
    assert verify_folder(tmp_path / "turnover").proven


def test_a_stop_is_resumed(day: Make, tmp_path: Path) -> None:
    progress = Progress(lambda event: progress.stop() if event.label.endswith("31A-003.wav") else None)
    with pytest.raises(Halted):
        build(day(5), tmp_path / "turnover", progress=progress)
    assert not (tmp_path / "turnover" / "Day 4" / "sound report.pdf").exists()
    assert build(day(5), tmp_path / "turnover").complete
    assert verify_folder(tmp_path / "turnover").proven


def test_no_takes_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no takes"):
        build(DayMaterial(takes=()), tmp_path / "turnover")
