"""Hints that tracks are exchanged in one take, from made-up profiles and from made-up sound."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import signal

from rollsound.finding import Area, Finding, Weight
from rollsound.measure.survey import Survey
from rollsound.measure.swaps import FileProfile, TrackProfile, day_order, exchanged_tracks

RATE = 48_000
BOOMS = ("Boom 1", "Boom 2", "Boom 3")
RADIOS = ("Bram", "Runa", "Haru", "Idris", "Leila")
Row = list[TrackProfile]


def boom(name: str, floor: float = -50.0) -> TrackProfile:
    return TrackProfile(name, "cable", 24_000.0, floor, 1e-5)


def radio(name: str, floor: float = -62.0, edge: float = 14_000.0) -> TrackProfile:
    return TrackProfile(name, "radio", edge, floor, 1e-6)


def plain() -> Row:
    return [TrackProfile("Mix L", "cable", 24_000.0, -45.0, 0.0), *map(boom, BOOMS), *map(radio, RADIOS)]


def day(rows: Sequence[Sequence[TrackProfile]], start_s: int = 36_000) -> list[FileProfile]:
    """Takes T1, T2 … ten minutes apart."""
    return [
        FileProfile(f"roll/T{n + 1}.wav", (start_s + 600 * n) % 86_400 * RATE, RATE, RATE, tuple(row))
        for n, row in enumerate(rows)
    ]


def exchanged(row: Sequence[TrackProfile], a: str, b: str) -> Row:
    """The sounds of two tracks exchanged under their names."""
    by_name = {track.name: track for track in row}
    other = {a: b, b: a}
    return [replace(by_name[other.get(track.name, track.name)], name=track.name) for track in row]


def places(found: Sequence[Finding]) -> list[set[tuple[str, int]]]:
    return [{(ref.path, ref.track) for ref in finding.refs} for finding in found]


def test_a_boom_and_a_radio_exchanged_in_one_take() -> None:
    rows = [plain() for _ in range(8)]
    assert exchanged_tracks(day(rows)) == []
    rows[4] = exchanged(rows[4], "Boom 2", "Haru")
    (found,) = exchanged_tracks(day(rows))
    assert (found.area, found.weight, found.kind) == (Area.MEDIA, Weight.WATCH, "tracks seem exchanged")
    assert places([found]) == [{("roll/T5.wav", 3), ("roll/T5.wav", 7)}]
    assert found.what.startswith("In T5 the tracks Boom 2 and Haru seem to be exchanged: Boom 2 reads as radio")
    assert 0.8 <= found.numbers["confidence"] < 1.0
    assert found.numbers["takes_otherwise"] == 7.0


@pytest.mark.parametrize("takes", [1, 2, 3, 4])
def test_too_few_takes_give_no_hint(takes: int) -> None:
    rows = [exchanged(plain(), "Boom 1", "Bram"), *[plain() for _ in range(takes - 1)]]
    assert exchanged_tracks(day(rows)) == []


def test_fewer_takes_give_less_confidence() -> None:
    def sure(takes: int) -> float:
        rows = [plain() for _ in range(takes)]
        rows[2] = exchanged(rows[2], "Boom 1", "Bram")
        return exchanged_tracks(day(rows))[0].numbers["confidence"]

    assert sure(6) < sure(9) < sure(16)


def test_one_track_that_changes_alone_is_no_exchange() -> None:
    """A boom that went by radio, or a quiet radio that reads as cable."""
    rows = [plain() for _ in range(8)]
    rows[3][1] = radio("Boom 1", -50.0)
    rows[5][6] = replace(boom("Haru"), noise_floor_dbfs=-62.0)
    assert exchanged_tracks(day(rows)) == []


def test_noise_floors_that_stayed_in_place_contradict() -> None:
    """A boom by radio and a quiet radio that reads as cable, in the same take: each still has its own floor."""
    rows = [plain() for _ in range(8)]
    rows[3][1], rows[3][6] = radio("Boom 1", -50.0), boom("Haru", -62.0)
    assert exchanged_tracks(day(rows)) == []
    rows[3][1], rows[3][6] = radio("Boom 1", -62.0), boom("Haru", -50.0)
    assert len(exchanged_tracks(day(rows))) == 1


def test_of_many_radios_that_read_as_cable_the_one_with_the_booms_floor_is_meant() -> None:
    rows = [exchanged(plain(), "Boom 1", "Runa") if n == 4 else plain() for n in range(16)]
    rows[4][4] = replace(rows[4][4], kind_guess="cable", bandwidth_hz=24_000.0)
    (one,) = exchanged_tracks(day(rows))
    rows[4] = [replace(t, kind_guess="cable", bandwidth_hz=24_000.0) if t.name in RADIOS else t for t in rows[4]]
    (all_of_them,) = exchanged_tracks(day(rows))
    for found in (one, all_of_them):
        assert places([found]) == [{("roll/T5.wav", 2), ("roll/T5.wav", 6)}]
    assert all_of_them.numbers["confidence"] < one.numbers["confidence"]  # in such a take the reading is worth less
    same = [[replace(t, noise_floor_dbfs=-55.0) for t in row] for row in rows]
    assert exchanged_tracks(day(same)) == []  # and nothing where no floor tells which it is


def test_a_dead_line_reads_as_nothing() -> None:
    rows = [plain() for _ in range(9)]
    rows[3] = exchanged(rows[3], "Boom 1", "Bram")
    rows[3][4] = replace(rows[3][4], noise_floor_dbfs=-100.0)
    assert exchanged_tracks(day(rows)) == []


def test_radios_of_one_make_are_not_told_apart_and_of_two_makes_are() -> None:
    rows = [plain() for _ in range(9)]
    rows[4] = exchanged(rows[4], "Runa", "Haru")
    assert exchanged_tracks(day(rows)) == []
    wide = [[radio("Haru", edge=17_000.0 + 100 * n) if t.name == "Haru" else t for t in plain()] for n in range(9)]
    assert exchanged_tracks(day(wide)) == []
    wide[4] = exchanged(wide[4], "Runa", "Haru")
    (found,) = exchanged_tracks(day(wide))
    assert places([found]) == [{("roll/T5.wav", 6), ("roll/T5.wav", 7)}]
    assert "Haru reaches to 14.0 kHz and Runa reaches to 17.4 kHz" in found.what


def test_an_offset_that_moves_to_another_track() -> None:
    rows = [[replace(t, dc=0.004 + 1e-4 * n) if t.name == "Leila" else t for t in plain()] for n in range(9)]
    assert exchanged_tracks(day(rows)) == []
    rows[6] = exchanged(rows[6], "Bram", "Leila")
    (found,) = exchanged_tracks(day(rows))
    assert places([found]) == [{("roll/T7.wav", 5), ("roll/T7.wav", 9)}]
    assert "Bram has +0.46 % DC" in found.what


def test_time_code_on_another_track() -> None:
    code = TrackProfile("Time code", "time code", 7_000.0, -18.0, 0.0)
    rows = [[*plain(), code] for _ in range(5)]
    assert exchanged_tracks(day(rows)) == []
    rows[1] = exchanged(rows[1], "Time code", "Idris")
    (found,) = exchanged_tracks(day(rows))
    assert places([found]) == [{("roll/T2.wav", 8), ("roll/T2.wav", 10)}]
    silent = replace(rows[1][9], noise_floor_dbfs=float("nan"))
    assert exchanged_tracks(day([*rows[:1], [*rows[1][:9], silent], *rows[2:]])) == []


def test_mixes_and_fed_lines_take_over_what_is_sent_to_them() -> None:
    row = [*plain(), boom("Playback"), boom("Guide")]
    for name in ("Mix L", "Playback", "Guide"):
        rows = [list(row) for _ in range(9)]
        rows[4] = exchanged(rows[4], name, "Runa")
        assert exchanged_tracks(day(rows)) == []


def test_a_set_up_that_stays_is_not_told() -> None:
    for odd in ((7, 8), (0, 1)):
        rows = [exchanged(plain(), "Boom 1", "Bram") if n in odd else plain() for n in range(12)]
        rows = rows[:9] if odd[0] else rows
        assert exchanged_tracks(day(rows)) == []
    rows = [exchanged(plain(), "Boom 1", "Bram") if n in (4, 9) else plain() for n in range(16)]
    (found,) = exchanged_tracks(day(rows))
    assert {ref.path for ref in found.refs} == {"roll/T5.wav", "roll/T10.wav"}


def test_mono_files_of_one_take_belong_together() -> None:
    files = day([plain() for _ in range(8)])
    row = exchanged(plain(), "Boom 1", "Bram")
    files[3:4] = [
        replace(files[3], path=f"roll/T4_{n + 1}.wav", tracks=(track,), start_samples=files[3].start_samples)
        for n, track in enumerate(row)
    ]
    (found,) = exchanged_tracks(files)
    assert places([found]) == [{("roll/T4_2.wav", 1), ("roll/T4_5.wav", 1)}]


def test_the_order_of_the_day() -> None:
    hour = 3600.0
    assert day_order([]) == []
    assert day_order([9 * hour, 8 * hour, 8 * hour]) == [1, 2, 0]
    assert day_order([1 * hour, 23 * hour, 22 * hour, 3 * hour]) == [2, 1, 0, 3]
    assert day_order([6 * hour, 23 * hour]) == [0, 1]


@settings(max_examples=60, deadline=None)
@given(st.integers(16, 20), st.data())
def test_a_permutation_of_booms_and_radios_is_recovered_as_far_as_lines_differ(takes: int, data: st.DataObject) -> None:
    """Whatever goes where: the booms that read as radio and the radios that read as cable are named, and no other."""
    at = data.draw(st.integers(1, takes - 2))
    order = data.draw(st.permutations(range(8)))
    place_levels = [data.draw(st.floats(-12.0, 12.0)) for _ in range(takes)]
    rows = [[replace(t, noise_floor_dbfs=t.noise_floor_dbfs + level) for t in plain()] for level in place_levels]
    lines = rows[at][1:]
    rows[at] = [rows[at][0], *(replace(lines[m], name=t.name) for t, m in zip(lines, order, strict=True))]
    crossed = {n for n, m in enumerate(order) if (n < 3) != (m < 3)}
    found = exchanged_tracks(day(rows))
    assert places(found) == ([{(f"roll/T{at + 1}.wav", n + 2) for n in crossed}] if crossed else [])


def noisy_day(takes: int, wrong: float, seed: int) -> list[Row]:
    """Floors and offsets anywhere; of the radios this share reads as cable, and of all lines as many as nothing."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(takes):
        row = []
        for track in plain():
            at = rng.uniform()
            kind = "unknown" if at < wrong else "cable" if track.name in RADIOS and at < 2 * wrong else track.kind_guess
            floor, offset = float(rng.uniform(-85.0, -30.0)), float(rng.uniform(-4e-4, 4e-4))
            reach = 9_000.0 if kind == "unknown" else track.bandwidth_hz
            row.append(replace(track, kind_guess=kind, bandwidth_hz=reach, noise_floor_dbfs=floor, dc=offset))
        rows.append(row)
    return rows


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 12), st.integers(0, 2**32 - 1))
def test_levels_and_offsets_alone_never_give_a_hint(takes: int, seed: int) -> None:
    assert exchanged_tracks(day(noisy_day(takes, 0.0, seed))) == []


@pytest.mark.parametrize(("days", "most"), [(50, 0), pytest.param(200, 2, marks=pytest.mark.soak)])
def test_false_alarms_where_many_readings_are_wrong(days: int, most: int) -> None:
    """An eighth of the radio readings wrong is twice what a synthesised day shows; floors here are pure chance."""
    false = sum(bool(exchanged_tracks(day(noisy_day(5 + seed % 8, 0.125, seed)))) for seed in range(days))
    assert false <= most


# ---- by sound


def through_radio(sound: NDArray[np.float32], seed: int) -> NDArray[np.float32]:
    taps = signal.firwin(255, 14_000.0, fs=RATE)
    noise = 2e-4 * np.random.default_rng(seed).standard_normal(sound.size)
    return signal.oaconvolve(sound + noise, taps, mode="same").astype(np.float32)


def recorded(speech: Callable[..., NDArray[np.float32]], take: int, names: Sequence[str]) -> FileProfile:
    """Two booms by cable and three radios; every take at another level, with other lines."""
    gain = 10.0 ** (np.random.default_rng(take).uniform(-9.0, 3.0) / 20.0)
    voices = [gain * speech(6, 50 * take + n, floor_dbfs=-66.0) for n in range(3)]
    air = np.random.default_rng(1000 + take).standard_normal((2, voices[0].size)) * 1.5e-3 * gain
    booms = [0.4 * sum(voices) + air[n] for n in range(2)]
    tracks = [*booms, *(through_radio(v.astype(np.float32), 7 * take + n) for n, v in enumerate(voices))]
    survey = Survey(RATE, 5, 24, overview=False)
    survey.feed(np.stack(tracks, axis=1).astype(np.float32))
    rows = tuple(
        TrackProfile(name, t.kind_guess, t.bandwidth_hz, t.noise_floor_dbfs, t.dc)
        for name, t in zip(names, survey.finish().tracks, strict=True)
    )
    return FileProfile(f"roll/T{take + 1}.wav", take * 600 * RATE, 6 * RATE, RATE, rows)


def test_by_sound(speech: Callable[..., NDArray[np.float32]]) -> None:
    names = ("Boom 1", "Boom 2", "Bram", "Runa", "Haru")
    files = [recorded(speech, take, names) for take in range(7)]
    assert exchanged_tracks(files) == []
    wrong = dict(zip(names, files[3].tracks, strict=True))
    wrong["Boom 1"], wrong["Runa"] = wrong["Runa"], wrong["Boom 1"]
    files[3] = replace(files[3], tracks=tuple(replace(track, name=name) for name, track in wrong.items()))
    assert places(exchanged_tracks(files)) == [{("roll/T4.wav", 1), ("roll/T4.wav", 4)}]
