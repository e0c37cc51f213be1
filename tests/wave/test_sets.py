"""Several files as one take."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from rollsound.errors import BrokenFileError, InputError
from rollsound.wave import (
    AudioFormat,
    Bext,
    FileSet,
    IXml,
    IXmlTrack,
    SampleFormat,
    WaveWriter,
    group_sets,
    open_set,
    open_wave,
)

Noise = NDArray[np.float32]


def _write(
    path: Path,
    sound: Noise,
    *,
    start: int = 100,
    rate: int = 48000,
    bits: SampleFormat = SampleFormat.PCM24,
    family: FileSet | None = None,
    tracks: list[IXmlTrack] | None = None,
) -> Path:
    form = AudioFormat(rate, sound.shape[1], bits)
    document = IXml.build(file_set=family, tracks=tracks or []) if family or tracks else None
    with WaveWriter(path, form, bext=Bext(time_reference=start), ixml=document) as writer:
        writer.write(sound)
    return path


def _monos(folder: Path, sound: Noise) -> list[Path]:
    """Twelve monos with the family said in iXML; numbers in names sort wrongly as text."""
    return [
        _write(
            folder / f"12A-T03_{n}.wav",
            sound[:, n - 1 : n],
            family=FileSet(12, "FAM", "12A-T03", str(n)),
            tracks=[IXmlTrack(n, 1, f"Track name {n}")],
        )
        for n in range(1, 13)
    ]


def test_monos_read_as_their_poly(tmp_path: Path, noise: Noise) -> None:
    sound = noise[:1001, :12]
    paths = _monos(tmp_path, sound)
    poly = _write(tmp_path / "poly.wav", sound)
    with open_set(list(reversed(paths))) as take, open_wave(poly) as whole:
        assert take.info.format == whole.info.format
        assert take.info.frames == 1001
        assert take.info.track_names == tuple(f"Track name {n}" for n in range(1, 13))
        assert [member.info.name for member in take.members] == [path.name for path in paths]
        assert np.array_equal(take.read(0, 2000), whole.read(0, 2000))
        assert np.array_equal(take.read_ints(5, 99), whole.read_ints(5, 99))
        assert take.read_bytes(7, 500) == whole.read_bytes(7, 500)
        for channel in (0, 11):
            assert np.array_equal(take.read_channel(channel, 3, 900), whole.read_channel(channel, 3, 900))
        assert np.array_equal(np.concatenate(list(take.blocks(97, 1, 1000))), whole.read(1, 999))
        with pytest.raises(InputError, match="no number 13"):
            take.read_channel(12, 0, 1)


def test_one_file_is_a_take_too(tmp_path: Path, noise: Noise) -> None:
    path = _write(tmp_path / "a.wav", noise[:100, :2])
    with open_set(path) as take, open_wave(path) as whole:
        assert take.info.format == whole.info.format
        assert np.array_equal(take.read(0, 100), whole.read(0, 100))
        assert take.read_bytes(0, 100) == whole.read_bytes(0, 100)


@pytest.mark.parametrize("name", ["12A_{}", "12A-{}", "12A.{}", "12A ch{}", "12A_Tr{:02}", "12A-T03_{:02}"])
def test_monos_are_found_by_name_and_start(name: str, tmp_path: Path, noise: Noise) -> None:
    paths = [_write(tmp_path / f"{name.format(n)}.wav", noise[:10, :1]) for n in (1, 2, 10)]
    other = _write(tmp_path / f"{name.format(11)}.wav", noise[:10, :1], start=999)
    assert group_sets([paths[2], other, paths[1], paths[0]]) == [paths, [other]]


def test_takes_that_only_share_a_number_stay_apart(tmp_path: Path, noise: Noise) -> None:
    polys = [_write(tmp_path / f"12A-{n}.wav", noise[:10, :4]) for n in (1, 2)]
    assert group_sets(polys) == [[polys[0]], [polys[1]]]


def test_families_are_kept_apart_by_folder_and_start(tmp_path: Path, noise: Noise) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    family = FileSet(2, "FAM", "", "1")
    first = _write(tmp_path / "a" / "1.wav", noise[:10, :1], family=family)
    copy = _write(tmp_path / "b" / "1.wav", noise[:10, :1], family=family)
    later = _write(tmp_path / "a" / "9.wav", noise[:10, :1], family=family, start=5000)
    assert group_sets([first, copy, later]) == [[first], [copy], [later]]


def test_polys_of_one_family_are_in_order_of_their_letters(tmp_path: Path, noise: Noise) -> None:
    b = _write(tmp_path / "x.wav", noise[:10, 2:4], family=FileSet(2, "FAM", "", "B"))
    a = _write(tmp_path / "y.wav", noise[:10, :2], family=FileSet(2, "FAM", "", "A"))
    assert group_sets([b, a]) == [[a, b]]
    with open_set([b, a]) as take:
        assert take.info.format.channels == 4
        assert take.info.track_names == ("Track 1", "Track 2", "Track 3", "Track 4")


def test_what_cannot_be_read_stands_alone(tmp_path: Path, noise: Noise) -> None:
    good = _write(tmp_path / "a_1.wav", noise[:10, :1])
    bad = tmp_path / "a_2.wav"
    bad.write_bytes(b"nothing")
    assert group_sets([good, bad, tmp_path / "none.wav"]) == [[good], [bad], [tmp_path / "none.wav"]]
    with pytest.raises(BrokenFileError):
        open_set([good, bad])


def test_mixed_rates_are_refused_in_one_sentence(tmp_path: Path, noise: Noise) -> None:
    a = _write(tmp_path / "a_1.wav", noise[:10, :1])
    b = _write(tmp_path / "a_2.wav", noise[:10, :1], rate=96000)
    with pytest.raises(InputError, match=r"48000 Hz and 96000 Hz; a take needs one rate"):
        open_set([a, b])


def test_mixed_bits_are_refused_unless_allowed(tmp_path: Path, noise: Noise) -> None:
    a = _write(tmp_path / "a_1.wav", noise[:10, :1])
    b = _write(tmp_path / "a_2.wav", noise[:10, 1:2], bits=SampleFormat.PCM16)
    with pytest.raises(InputError, match=r"16-bit and 24-bit samples; a take needs one kind"):
        open_set([a, b])
    with open_set([a, b], allow_mixed_bits=True) as take, open_wave(b) as second:
        assert take.info.format.sample_format is SampleFormat.PCM24
        assert np.array_equal(take.read(0, 10)[:, 1:], second.read(0, 10))
        with pytest.raises(InputError, match="differ in bits"):
            take.read_bytes(0, 1)


def test_members_are_placed_by_their_time_stamps(tmp_path: Path, noise: Noise) -> None:
    a = _write(tmp_path / "a_1.wav", noise[:50, :1], start=1000)
    b = _write(tmp_path / "a_2.wav", noise[:50, 1:2], start=1010)
    with open_set([a, b]) as take, open_wave(b) as second:
        assert (take.info.start_samples, take.info.frames) == (1000, 60)
        block = take.read(5, 50)
        assert (block[:5, 1] == 0).all()
        assert np.array_equal(block[5:, 1], second.read(0, 45)[:, 0])
        assert (block[45:, 0] == 0).all()
        assert {note.kind for note in take.info.assumptions} == {"lengths", "starts"}
        assert all(note.sentence.endswith(".") for note in take.info.assumptions)


def test_a_file_missing_from_its_set_is_told(tmp_path: Path, noise: Noise) -> None:
    paths = _monos(tmp_path, noise[:10, :12])
    with open_set(paths) as take:
        assert not take.info.assumptions
    with open_set(paths[:3] + paths[4:]) as take:
        assert [note.sentence for note in take.info.assumptions] == [
            "iXML says that this take has 12 files, but only 11 are here."
        ]
        assert take.info.track_names[3] == "Track name 5"


@pytest.mark.parametrize("bits", SampleFormat)
def test_monos_of_every_format_read_as_their_poly(bits: SampleFormat, tmp_path: Path, noise: Noise) -> None:
    paths = [_write(tmp_path / f"a_{n}.wav", noise[:2001, n : n + 1], bits=bits) for n in range(3)]
    poly = _write(tmp_path / "poly.wav", noise[:2001, :3], bits=bits)
    with open_set(paths) as take, open_wave(poly) as whole:
        assert np.array_equal(take.read(11, 1500), whole.read(11, 1500))


def test_no_file_is_no_take() -> None:
    with pytest.raises(InputError, match="at least one file"):
        open_set([])


@pytest.mark.parametrize("family", [FileSet(2, "FAM", "x", ""), None], ids=["by id", "by name"])
@pytest.mark.parametrize("start", [44_100 * 60, 48_000 * 60], ids=["stamp converted", "stamp as it was"])
def test_a_member_at_another_rate_stays_with_its_set(
    tmp_path: Path, noise: Noise, family: FileSet | None, start: int
) -> None:
    """Set apart it would pass for a take of its own, and a track of this one would be missing without a word."""
    a = _write(tmp_path / "x_1.wav", noise[:480, :1], start=48_000 * 60, family=family)
    b = _write(tmp_path / "x_2.wav", noise[:441, :1], start=start, rate=44_100, family=family)
    other = _write(tmp_path / "x_3.wav", noise[:441, :1], start=44_100 * 61, rate=44_100, family=family)
    assert group_sets([a, b, other]) == [[a, b], [other]]
    with pytest.raises(InputError, match="44100 Hz and 48000 Hz"):
        open_set([a, b])
