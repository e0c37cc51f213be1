"""Which of two statements counts, and what is said when they differ; lists and cue points; kept overviews."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.errors import BrokenFileError, InputError, StorageError
from rollsound.timecode import Rate
from rollsound.wave import (
    AudioFormat,
    Bext,
    Cue,
    IXml,
    IXmlTrack,
    SampleFormat,
    WaveInfo,
    WaveWriter,
    read_info,
    read_overview,
    write_overview,
)
from rollsound.wave.lists import build_cues, build_info, parse_cues, parse_info

FORM = AudioFormat(48000, 3, SampleFormat.PCM24)


def _info(folder: Path, bext: Bext | None = None, ixml: IXml | None = None) -> WaveInfo:
    with WaveWriter(folder / "a.wav", FORM, bext=bext, ixml=ixml) as writer:
        writer.write(np.zeros((3, 3), np.float32))
    return read_info(folder / "a.wav")


LINES = (
    "sSPEED=029.970-DF\r\nsTAKE=4\r\nsSCENE=13\r\nsTAPE=R05\r\nsNOTE=wind\r\nsCIRCLED=TRUE\r\n"
    "sTRK2=Boom\r\nsTRK5=Oda\r\nsTRK9=Idris\r\n"
)


@pytest.mark.source("iXML usage guidelines: readers prefer iXML and fall back to the description", kind="published")
def test_ixml_beats_the_description(tmp_path: Path) -> None:
    document = IXml.build(scene="12A", tracks=["One", "Two", "Three"], rate=Rate(25, 1, 25))
    info = _info(tmp_path, Bext(description=LINES), document)
    assert (info.scene, info.take, info.sound_roll, info.note) == ("12A", "4", "R05", "wind")
    assert info.track_names == ("One", "Two", "Three")
    assert info.rate == Rate(25, 1, 25)
    assert not info.circled
    assert info.disagreements == ("iXML says scene '12A', the bext description '13'.",)


@pytest.mark.source("key=value lines in the description", kind="practice")
def test_the_description_serves_where_there_is_no_ixml(tmp_path: Path) -> None:
    info = _info(tmp_path, Bext(description=LINES, time_reference=5))
    assert (info.scene, info.take, info.sound_roll, info.note, info.circled) == ("13", "4", "R05", "wind", True)
    assert info.track_names == ("Boom", "Oda", "Idris")
    assert info.rate == Rate(30000, 1001, 30, True)
    assert info.has_timecode


def test_bext_and_fmt_beat_ixml_in_time_and_format(tmp_path: Path) -> None:
    document = IXml.build(audio=AudioFormat(96000, 2, SampleFormat.PCM16), start_samples=7, tracks=["a", "b"])
    info = _info(tmp_path, Bext(time_reference=9), document)
    assert info.start_samples == 9
    assert info.format == FORM
    assert len(info.disagreements) == 5


def test_ixml_time_serves_without_bext(tmp_path: Path) -> None:
    info = _info(tmp_path, None, IXml.build(start_samples=(1 << 32) + 3))
    assert (info.start_samples, info.has_timecode, info.disagreements) == ((1 << 32) + 3, True, ())


def test_nothing_said_is_nothing_known(tmp_path: Path) -> None:
    info = _info(tmp_path)
    assert (info.start_samples, info.has_timecode, info.rate, info.scene) == (0, False, None, "")
    assert info.track_names == ("Track 1", "Track 2", "Track 3")


def test_names_follow_the_interleave_not_the_order(tmp_path: Path) -> None:
    tracks = [IXmlTrack(9, 3, "Idris"), IXmlTrack(2, 1, "Boom")]
    info = _info(tmp_path, Bext(description="sTRK1=x\r\nsTRK2=Oda\r\nsTRK3=y"), IXml.build(tracks=tracks))
    assert info.track_names == ("Boom", "Oda", "Idris")
    assert info.disagreements == ("iXML lists 2 tracks, the file holds 3.",)


def test_a_second_bext_and_a_broken_first_ixml_do_no_harm(tmp_path: Path) -> None:
    good = IXml.build(scene="7").to_bytes()
    extra = [("bext", Bext(time_reference=1).to_bytes()), ("iXML", good)]
    with WaveWriter(tmp_path / "a.wav", FORM, bext=Bext(time_reference=9), ixml=b"junk", extra_chunks=extra) as writer:
        writer.write(np.zeros((3, 3), np.float32))
    info = read_info(tmp_path / "a.wav")
    assert (info.start_samples, info.scene, info.assumptions) == (9, "7", ())


cue = st.builds(
    Cue,
    st.integers(0, (1 << 32) - 1),
    st.text(st.characters(codec="ascii", categories=["L", "N"]), max_size=9),
    st.text(st.characters(codec="ascii", categories=["L", "N"]), max_size=9),
    st.integers(0, (1 << 32) - 1),
)


@given(st.lists(cue, max_size=9))
def test_cues_come_back_in_order_of_time(cues: list[Cue]) -> None:
    points, labels = build_cues(cues)
    assert len(points) % 2 == len(labels) % 2 == 0
    assert parse_cues(points, labels) == tuple(sorted(cues, key=lambda each: each.frame))


def test_a_cue_beyond_its_field_is_refused() -> None:
    with pytest.raises(InputError, match="cannot be written"):
        build_cues([Cue(1 << 32)])


@given(st.binary(max_size=200), st.binary(max_size=200))
def test_any_lists_are_read_without_error(points: bytes, labels: bytes) -> None:
    parse_cues(points, labels)
    parse_info(labels)


def test_info_texts_of_odd_length() -> None:
    texts = {"INAM": "abc", "ICMT": "", "IENG": "Åse"}
    assert parse_info(build_info(texts)) == texts


@dataclass(frozen=True)
class Levels:
    sample_rate_hz: int
    frames: int
    frames_per_bin: tuple[int, ...]
    lowest: tuple[NDArray[np.float32], ...]
    highest: tuple[NDArray[np.float32], ...]
    rms: tuple[NDArray[np.float32], ...]


def _levels(scale: float = 1.0) -> Levels:
    rng = np.random.default_rng(1)
    sizes = (1000, 63, 4, 0)
    low = tuple((rng.uniform(-scale, 0, (n, 5))).astype(np.float32) for n in sizes)
    high = tuple((rng.uniform(0, scale, (n, 5))).astype(np.float32) for n in sizes)
    return Levels(48000, 1 << 33, (256, 4096, 65536, 1 << 20), low, high, high)


@pytest.mark.parametrize("scale", [1.0, 0.001, 7.5])
def test_an_overview_is_kept_and_never_too_small(scale: float, tmp_path: Path) -> None:
    levels = _levels(scale)
    write_overview(tmp_path / "a.overview", levels)
    kept = read_overview(tmp_path / "a.overview")
    assert (kept.sample_rate_hz, kept.frames, kept.frames_per_bin) == (48000, 1 << 33, levels.frames_per_bin)
    step = max(scale, 1.0) / 32767  # one 16-bit step of the file's scale; float32 adds 1e-7 of the value
    for name in ("lowest", "highest", "rms"):
        for ours, theirs in zip(getattr(kept, name), getattr(levels, name), strict=True):
            assert ours.shape == theirs.shape
            assert ours.size == 0 or np.abs(ours - theirs).max() <= step * 1.001
    for level in range(3):
        assert (kept.lowest[level] <= levels.lowest[level] + 1e-6).all()
        assert (kept.highest[level] >= levels.highest[level] - 1e-6).all()


def test_an_overview_replaces_the_older_one_in_one_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.overview"
    write_overview(path, _levels())
    before = path.read_bytes()
    write_overview(path, replace(_levels(), frames=5))
    assert read_overview(path).frames == 5
    path.write_bytes(before)

    def fail(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(StorageError, match="no space is left"):
        write_overview(path, _levels())
    assert path.read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04", b"nothing at all"])
def test_a_damaged_overview_is_our_error(damage: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.overview"
    path.write_bytes(damage)
    with pytest.raises(BrokenFileError, match="measure its audio again"):
        read_overview(path)


def test_a_damaged_byte_anywhere_is_our_error_or_harmless(tmp_path: Path) -> None:
    path = tmp_path / "a.overview"
    write_overview(path, _levels())
    raw = bytearray(path.read_bytes())
    rng = np.random.default_rng(5)
    for at in rng.integers(0, len(raw), 300):
        damaged = bytearray(raw)
        damaged[at] ^= int(rng.integers(1, 256))
        path.write_bytes(damaged)
        with contextlib.suppress(BrokenFileError):
            read_overview(path)
