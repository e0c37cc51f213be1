"""A small day in memory: three people, four takes, cards that start, stop, split, stand still and get swapped."""

from __future__ import annotations

import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import signals as s
import soxr

from rollsound.conform.align import Alignment
from rollsound.conform.hints import hinted_cards, may_be_radio
from rollsound.conform.match import DayAlignment, align_day
from rollsound.conform.model import Outcome, Place, TrackAlignment
from rollsound.conform.pairs import FeatureJob, make_features
from rollsound.conform.readers import ArrayReader
from rollsound.conform.sources import CardFile, CardSource, TakeSource
from rollsound.errors import Halted
from rollsound.log import WearerRow
from rollsound.progress import Event, Progress

DAY_SECONDS = 160
STARTS = (12.0, 50.0, 85.5, 120.25)
LENGTH = 20.0
PEOPLE = ("Bram", "Runa", "Haru")
PPM = (3.7, -7.5, 17.3)
BEGIN = (4.0, 2.5, 6.25)
OFF = (0.004, -0.012, 0.015)
"""Errors of the cards' time stamps in seconds, as after a hand jam."""
MIDNIGHT = 10 * 3600
DATE = "2031-02-18"


@lru_cache(maxsize=1)
def mics() -> tuple[s.Audio, ...]:
    """Each person's mic over the whole day on the recorder's clock; each hears the others 20 dB down and late."""
    own = [s.speech(float(DAY_SECONDS), 60 + n, pitch=p) for n, p in enumerate((110.0, 200.0, 150.0))]
    out = []
    for n in range(3):
        x = own[n] + s.self_noise(own[n].size, -80.0, n)
        for m in range(3):
            if m != n:
                late = 150 + 70 * abs(n - m)
                x = x + np.float32(0.1) * np.concatenate([np.zeros(late, np.float32), own[m][:-late]])
        out.append(x.astype(np.float32))
    return tuple(out)


def place(person: int, day_sample: np.ndarray) -> np.ndarray:
    """Card sample of a day sample."""
    return (day_sample - BEGIN[person] * s.RATE) * (1.0 + PPM[person] * 1e-6)


@lru_cache(maxsize=4)
def card_sound(person: int) -> s.Audio:
    frames = int((DAY_SECONDS - BEGIN[person] - 1.0) * s.RATE)
    return s.sample_at(mics()[person], np.arange(frames) / (1.0 + PPM[person] * 1e-6) + BEGIN[person] * s.RATE)


def card(person: int, name: str = "", *, timecode: bool = True, sound: s.Audio | None = None) -> CardSource:
    audio = card_sound(person) if sound is None else sound
    start = round((MIDNIGHT + BEGIN[person] + OFF[person]) * s.RATE) if timecode else None
    name = name or f"C0{person + 1}"
    file = CardFile(f"{name}_01.wav", audio.size, s.RATE, 1, start, DATE, ArrayReader(audio))
    return CardSource(name, (file,))


@lru_cache(maxsize=1)
def takes() -> tuple[TakeSource, ...]:
    """Tracks: mix and one radio a person. In the third take Runa's track is silent."""
    out = []
    for n, start in enumerate(STARTS):
        span = slice(round(start * s.RATE), round((start + LENGTH) * s.RATE))
        tracks = [s.through_radio(m[span], s.RadioPath(), 100 * n + k) for k, m in enumerate(mics())]
        if n == 2:
            tracks[1][:] = 0.0
        audio = np.stack([sum(tracks), *tracks], axis=1).astype(np.float32)
        out.append(
            TakeSource(
                f"T{n + 1}",
                audio.shape[0],
                s.RATE,
                ("Mix L", *PEOPLE),
                (),
                round((MIDNIGHT + start) * s.RATE),
                DATE,
                None,
                ArrayReader(audio),
            )
        )
    return tuple(out)


def of(day: DayAlignment, take: str, track: str) -> TrackAlignment:
    return next(t for t in day.tracks if t.take == take and t.track_name == track)


def worst(found: TrackAlignment) -> float:
    """Distance from the truth over the take, on whichever card of that person."""
    person, start = PEOPLE.index(found.track_name), STARTS[int(found.take[1]) - 1]
    n = np.linspace(0.0, LENGTH * s.RATE - 1, 30)
    assert found.map is not None
    return float(np.max(np.abs(found.map.at(n) - place(person, start * s.RATE + n))))


def test_by_time_code_and_sheet() -> None:
    events: list[Event] = []
    rows = [WearerRow(track=p, card=f"C0{n + 1}") for n, p in enumerate(PEOPLE)]
    with ThreadPoolExecutor(2) as pool:
        day = align_day(
            takes(), [card(n) for n in range(3)], wearers=rows, executor=pool, progress=Progress(events.append)
        )
    assert len(day.tracks) == 12
    assert not any(t.track_name == "Mix L" for t in day.tracks)
    for t in day.tracks:
        assert t.card_name == f"C0{PEOPLE.index(t.track_name) + 1}"
        assert t.outcome is (Outcome.BY_MODEL if (t.take, t.track_name) == ("T3", "Runa") else Outcome.PLACED)
        assert worst(t) < (1.0 if t.outcome is Outcome.BY_MODEL else 0.1)  # the goals for silent and for short takes
        assert t.reason.endswith(".")
        assert 0.0 < t.confidence <= 1.0
    for n, name in enumerate(("C01", "C02", "C03")):
        assert day.clocks[name].rate_ppm == pytest.approx(PPM[n], abs=0.05)
    assert {e.job for e in events} >= {"listen", "align"}
    assert all(e.done <= e.total for e in events)


def test_by_sound_alone() -> None:
    """No sheet, names that say nothing, no time code on the cards: the same answer."""
    sources = [card(n, name, timecode=False) for n, name in enumerate(("A", "B", "D"))]
    day = align_day(takes(), sources)
    for t in day.tracks:
        assert t.card_name == ("A", "B", "D")[PEOPLE.index(t.track_name)]
        assert t.outcome.usable
        assert worst(t) < (1.0 if t.outcome is Outcome.BY_MODEL else 0.1)


def test_a_recorder_without_time_code_is_aligned_take_by_take() -> None:
    blind = [replace(t, start_samples=None) for t in takes()]
    day = align_day(blind, [card(n) for n in range(3)])
    for t in day.tracks:
        if (t.take, t.track_name) == ("T3", "Runa"):
            assert t.outcome is Outcome.NOT_FOUND
            assert "without time code" in t.reason
        else:
            assert t.outcome is Outcome.PLACED
            assert worst(t) < 0.1
    assert day.clocks == {}


def test_a_swapped_sheet_is_overruled_and_said() -> None:
    rows = [
        WearerRow(track="Bram", card="C02"),
        WearerRow(track="Runa", card="C01"),
        WearerRow(track="Haru", card="C03"),
    ]
    day = align_day(takes()[:2], [card(n) for n in range(3)], wearers=rows)
    found = of(day, "T1", "Bram")
    assert (found.outcome, found.card_name) == (Outcome.PLACED, "C01")
    assert "the wearers sheet says C02" in found.reason


def test_a_card_that_is_not_there_is_another_mic() -> None:
    """Runa's card is missing and the sheet gives her Bram's: his card hears her, and must not stand in."""
    rows = [WearerRow(track="Runa", card="C01")]
    day = align_day(takes()[:2], [card(0)], wearers=rows)
    assert of(day, "T1", "Bram").outcome is Outcome.PLACED
    assert of(day, "T1", "Runa").outcome is Outcome.OTHER_MIC
    assert of(day, "T1", "Haru").outcome is Outcome.NO_CARD


def test_two_cards_that_cannot_be_told_apart() -> None:
    twin = card(0, "C09")
    day = align_day(takes()[:1], [card(0), twin])
    found = of(day, "T1", "Bram")
    assert found.outcome is Outcome.AMBIGUOUS
    assert "C01" in found.reason
    assert "C09" in found.reason
    named = align_day(takes()[:1], [card(0), twin], wearers={"Bram": "C09"})
    assert of(named, "T1", "Bram").card_name == "C09"
    assert of(named, "T1", "Bram").outcome is Outcome.PLACED


def split(at: int, gap: int = 0) -> CardSource:
    """Bram's card in two files, the second ``gap`` samples after the first one's end."""
    whole = card(0).files[0]
    audio = card_sound(0)
    start = whole.start_samples or 0
    parts = ((0, at), (at + gap, audio.size))
    files = tuple(
        CardFile(f"C01_0{n + 1}.wav", b - a, s.RATE, 1, start + a, DATE, ArrayReader(audio[a:b]))
        for n, (a, b) in enumerate(parts)
    )
    return CardSource("C01", files[::-1])


def test_a_take_over_two_files_of_a_card() -> None:
    at = round((55.0 - BEGIN[0]) * s.RATE)
    day = align_day(takes()[:2], [split(at)])
    found = of(day, "T2", "Bram")
    assert found.outcome is Outcome.PLACED
    assert [p.card_path for p in found.pieces] == ["C01_01.wav", "C01_02.wav"]
    assert found.pieces[0].start == 0
    assert found.pieces[0].stop == found.pieces[1].start
    assert found.pieces[1].stop == takes()[1].frames
    for piece, first in zip(found.pieces, (0, at), strict=True):
        n = np.array([piece.start, piece.stop - 1.0])
        want = place(0, STARTS[1] * s.RATE + n) - first
        assert np.max(np.abs(piece.map.at(n) - want)) < 0.1
    assert found.pieces[1].map.at(float(found.pieces[1].start)) >= 0.0
    assert "2 files" in found.reason


def test_a_card_that_paused_within_a_take() -> None:
    at, gap = round((55.0 - BEGIN[0]) * s.RATE), 3 * s.RATE
    found = of(align_day(takes()[:2], [split(at, gap)]), "T2", "Bram")
    assert found.outcome is Outcome.PLACED
    assert len(found.pieces) == 2
    assert found.pieces[1].start - found.pieces[0].stop == pytest.approx(gap, abs=3)
    assert "not on the card" in found.reason


def test_a_card_of_another_day_and_one_that_stopped() -> None:
    other = card(0, "C13")
    other = CardSource("C13", (replace(other.files[0], date="2031-02-11", reader=ArrayReader(s.speech(160.0, 99))),))
    day = align_day(takes()[:1], [other], wearers={"Bram": "C13"})
    found = of(day, "T1", "Bram")
    assert not found.outcome.usable
    note = day.cards[0].note
    assert "another day" in note
    assert "2031-02-11" in note
    short = card_sound(1)[: 20 * s.RATE]
    late = align_day(takes()[1:2], [card(1, sound=short)], wearers={"Runa": "C02"})
    assert of(late, "T2", "Runa").outcome is Outcome.NOT_COVERED


def test_a_card_jammed_between_takes() -> None:
    """The card stands still for 11 760 samples between the second and third take."""
    at = round((75.0 - BEGIN[2]) * s.RATE)
    audio = np.concatenate([card_sound(2)[:at], card_sound(2)[at + 11_760 :]])
    day = align_day(takes(), [card(2, sound=audio)])
    model = day.clocks["C03"]
    assert len(model.steps) == 1
    assert model.steps[0].samples == pytest.approx(-11_760.0, abs=0.5)
    assert all(of(day, t, "Haru").outcome is Outcome.PLACED for t in ("T1", "T2", "T3", "T4"))


@pytest.mark.source("soxr, very high quality resampling to 44.1 kHz", kind="library")
def test_a_card_at_44_1() -> None:
    audio = soxr.resample(card_sound(0), s.RATE, 44_100, quality="VHQ").astype(np.float32)
    start = round((MIDNIGHT + BEGIN[0] + OFF[0]) * 44_100)
    source = CardSource("C01", (CardFile("C01.wav", audio.size, 44_100, 1, start, DATE, ArrayReader(audio, 44_100)),))
    found = of(align_day(takes()[:2], [source]), "T2", "Bram")
    assert found.outcome is Outcome.PLACED
    assert found.card_rate_hz == 44_100
    assert found.rate_ppm == pytest.approx(PPM[0], abs=0.1)
    n = np.linspace(0, LENGTH * s.RATE - 1, 20)
    assert found.map is not None
    assert np.max(np.abs(found.map.at(n) - place(0, STARTS[1] * s.RATE + n) * 44_100 / s.RATE)) < 0.1


def test_a_card_stamped_wrong_by_a_thousandth() -> None:
    """Recorded at 48048, stamped 48000: a thousandth too many samples. Told as a stamp, not as a crystal."""
    frames = round(150 * s.RATE)
    audio = s.sample_at(mics()[0], np.arange(frames) * 1000 / 1001 + BEGIN[0] * s.RATE)
    day = align_day(takes()[:3], [card(0, sound=audio)])
    for take in ("T1", "T2", "T3"):
        found = of(day, take, "Bram")
        assert found.outcome is Outcome.PLACED
        assert found.rate_ppm == pytest.approx(1000.0, abs=0.1)
        assert "no crystal" in found.reason


def test_place_at_the_source_is_later_by_the_paths_delay() -> None:
    """The radio is late, so at the take's sample n the microphone heard what lies later on the card."""
    at_track = align_day(takes()[:1], [card(0)])
    at_source = align_day(takes()[:1], [card(0)], place=Place.SOURCE, path_delay_seconds={"Bram": 0.003})
    a, b = of(at_track, "T1", "Bram"), of(at_source, "T1", "Bram")
    assert b.path_delay_samples == pytest.approx(144.0)
    assert b.place is Place.SOURCE
    assert b.offset_samples - a.offset_samples == pytest.approx(144.0)
    assert a.map is not None
    assert b.map is not None
    assert float(b.map.at(0.0) - a.map.at(0.0)) == pytest.approx(144.0)


def test_jobs_and_answers_travel() -> None:
    job = FeatureJob(takes()[0], (1,))
    here, there = make_features(job)[0], make_features(pickle.loads(pickle.dumps(job)))[0]
    np.testing.assert_array_equal(here.changes, there.changes)
    day = align_day(takes()[:1], [card(0)])
    again = pickle.loads(pickle.dumps(day))
    assert of(again, "T1", "Bram").offset_samples == of(day, "T1", "Bram").offset_samples
    assert isinstance(Alignment.__doc__, str)


def test_stopping_is_heard() -> None:
    progress = Progress()
    progress.stop()
    with pytest.raises(Halted):
        align_day(takes()[:1], [card(0)], progress=progress)


@pytest.mark.parametrize("takes_given", [0, 1])
def test_empty_days(takes_given: int) -> None:
    day = align_day(takes()[:takes_given], [])
    assert all(t.outcome is Outcome.NO_CARD for t in day.tracks)
    assert align_day([], [card(0)]).tracks == ()


@pytest.mark.source("common practice, no source", kind="practice")
@pytest.mark.parametrize(
    ("track", "radio"),
    [
        ("Bram", True),
        ("Mix L", False),
        ("Boom 1", False),
        ("Time code", False),
        ("Plant ramp", True),
        ("Mixologist", True),
    ],
)
def test_which_tracks_may_have_a_card(track: str, radio: bool) -> None:
    assert may_be_radio(track, ()) is radio
    assert may_be_radio(track, [WearerRow(track=track, card="C01")])


def test_names_hint() -> None:
    cards = [CardSource("Card 3", (CardFile("/x/BRAM_0001.WAV", 1, 48_000),)), CardSource("Runa", ())]
    assert hinted_cards("Bram", cards, ()) == (("Card 3",), "name")
    assert hinted_cards("Runa", cards, ()) == (("Runa",), "name")
    assert hinted_cards("Bram", cards, [WearerRow(track="T7", character="bram", card="runa")]) == (("Runa",), "sheet")
    assert hinted_cards("Haru", cards, ()) == ((), "")
