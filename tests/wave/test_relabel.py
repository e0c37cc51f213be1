"""A copy with other labels: new in iXML and bext alike, all else bit for bit as it was, the source untouched."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest

from rollsound.errors import StorageError
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, Cue, IXml, SampleFormat, WaveWriter, open_wave, read_info
from rollsound.wave.relabel import NewLabels, relabel

FORM = AudioFormat(48_000, 3, SampleFormat.PCM24)
NEW = NewLabels("31A", "5", "NF-05", True, ("NO_GOOD",), {2: "Runa"})


def made(path: Path, *, ixml: bool = True) -> bytes:
    """A file of three tracks with everything beside its sound; returns its bytes."""
    description = "sSCENE=31\r\nsTAKE=4\r\nsTAPE=NF-04\r\nsCIRCLED=FALSE\r\nsTRK1=Mix\r\nsTRK7=Rnua\r\nsTRK9=Haru\r\n"
    bext = Bext(description=description, time_reference=2_183_040_000, coding_history="A=PCM\r\n")
    document = IXml.build(
        scene="31", take="4", sound_roll="NF-04", note="Ramp", tracks=("Mix", "Rnua", "Haru"), rate=Rate.parse("25"),
        audio=FORM, bext=bext, file_uid="F" * 32, user={"PACK": "5"},
    )  # fmt: skip
    noise = np.random.default_rng(3).integers(-(1 << 31), 1 << 31, (4801, 3), dtype=np.int64).astype(np.int32)
    with WaveWriter(
        path, FORM, bext=bext, ixml=document if ixml else None, cues=[Cue(7, "slap")], info_list={"ICMT": "day 4"},
        extra_chunks=[("levl", b"1234567")],
    ) as writer:  # fmt: skip
        writer.write(noise)
    return path.read_bytes()


def test_labels_are_new_and_the_rest_is_not(tmp_path: Path) -> None:
    source, out = tmp_path / "a.wav", tmp_path / "b.wav"
    before = made(source)
    info = relabel(source, out, NEW)
    assert source.read_bytes() == before
    assert (info.scene, info.take, info.sound_roll, info.circled, info.take_types) == (
        "31A", "5", "NF-05", True, ("NO_GOOD",),
    )  # fmt: skip
    assert info.track_names == ("Mix", "Runa", "Haru")
    assert (info.assumptions, info.disagreements) == ((), ())
    assert info.bext is not None
    assert info.bext.lines == {
        "SCENE": "31A", "TAKE": "5", "TAPE": "NF-05", "CIRCLED": "TRUE", "TRK1": "Mix", "TRK7": "Runa", "TRK9": "Haru",
    }  # fmt: skip
    assert "T=labels corrected" in info.bext.coding_history
    assert info.ixml is not None
    assert info.ixml.history.parent_filename == "a.wav"
    assert info.ixml.history.parent_uid == "F" * 32
    assert info.file_uid not in ("", "F" * 32)
    assert (info.note, info.ixml.user) == ("Ramp", {"PACK": "5"})
    assert (info.start_samples, info.rate) == (2_183_040_000, Rate.parse("25"))
    assert (info.cues, info.info_list["ICMT"]) == ((Cue(7, "slap"),), "day 4")
    assert [chunk.size for chunk in info.chunks if chunk.id == "levl"] == [7]
    assert sound_of(source) == sound_of(out)


def test_nothing_asked_changes_no_label(tmp_path: Path) -> None:
    source, out = tmp_path / "a.wav", tmp_path / "b.wav"
    made(source)
    info, before = relabel(source, out, NewLabels()), read_info(source)
    for name in ("scene", "take", "sound_roll", "circled", "take_types", "track_names", "note"):
        assert getattr(info, name) == getattr(before, name)


def test_a_file_without_ixml_gets_one(tmp_path: Path) -> None:
    source, out = tmp_path / "a.wav", tmp_path / "b.wav"
    made(source, ixml=False)
    info = relabel(source, out, NEW)
    assert (info.scene, info.circled, info.track_names) == ("31A", True, ("Mix", "Runa", "Haru"))
    assert info.start_samples == 2_183_040_000


def test_no_file_is_written_over(tmp_path: Path) -> None:
    source = tmp_path / "a.wav"
    before = made(source)
    with pytest.raises(StorageError):
        relabel(source, source, NEW)
    assert source.read_bytes() == before


def sound_of(path: Path) -> str:
    with open_wave(path) as reader:
        return hashlib.sha256(reader.read_bytes(0, reader.info.frames)).hexdigest()
