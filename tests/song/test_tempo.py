"""Tempo maps: exact places of bars and beats, sheets, standard MIDI files, and what cannot be read."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError, MistakesError
from rollsound.song.midi import read_tempo_midi
from rollsound.song.tempo import Meter, Position, TempoMap, tempo_map
from rollsound.song.tempo_csv import read_tempo_csv

SHEET = """bar,beat,tempo,meter,name
1,,96,3/4,Verse
9,,,6/8,
9,4,120,,
13,1,90.5,4/4,Chorus
21,,end,,
"""

# Standard MIDI Files 1.0, "Program Fragments and Example MIDI Files": the four-chord example as format 0.
EXAMPLE = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060 4D54726B 0000003B"
    "00FF580404021808 00FF510307A120 00C005 00C12E 00C246 00923060 003C60 60914340 60904C20"
    "8140823040 003C40 00814340 00804C40 00FF2F00".replace(" ", "")
)


def test_a_sheet_places_every_bar_exactly() -> None:
    song = read_tempo_csv(SHEET, "map.csv")
    quarter = Fraction(60, 96)
    assert song.seconds_of(1) == 0
    assert song.seconds_of(9) == 24 * quarter
    assert song.seconds_of(9, 4) == 24 * quarter + Fraction(3, 2) * quarter
    assert song.seconds_of(10) == song.seconds_of(9, 4) + Fraction(3, 2) * Fraction(1, 2)
    assert song.seconds_of(14) == song.seconds_of(13) + 4 * 60 / Fraction("90.5")
    assert song.end_seconds == song.seconds_of(21)
    assert song.position_at(song.seconds_of(9, 5)) == Position(9, Fraction(5))
    assert song.position_at(Fraction(-1)) == Position(0, Fraction(12, 5))  # the count-in: bar 0
    assert [name for _, name in song.marks] == ["Verse", "Chorus"]


@pytest.mark.source("Standard MIDI Files 1.0 (RP-001), example file of format 0", kind="published")
def test_the_formats_own_example() -> None:
    song = read_tempo_midi(EXAMPLE, "example.mid")
    assert song.meters[0].meter == Meter(4, 4)
    assert song.tempos[0].quarters_per_minute == 120
    assert song.end_quarters == 4  # its text: four quarters of a C major chord built up, released together


def test_a_perturbed_example_goes_red() -> None:
    song = read_tempo_midi(EXAMPLE.replace(bytes.fromhex("FF510307A120"), bytes.fromhex("FF510307A121")), "x.mid")
    assert song.tempos[0].quarters_per_minute != 120


CHANGE = st.tuples(
    st.integers(0, 5000),
    st.one_of(st.integers(60_000, 6_000_000), st.tuples(st.integers(1, 12), st.sampled_from([2, 4, 8]))),
)


@pytest.mark.source("mido 1.3 (MIT), written by it and its own seconds", kind="library")
@settings(max_examples=60, deadline=None)
@given(changes=st.lists(CHANGE, max_size=12), ticks_per_quarter=st.sampled_from([24, 96, 480, 960]))
def test_seconds_equal_the_librarys(changes: list[tuple[int, object]], ticks_per_quarter: int) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=ticks_per_quarter)
    conductor, notes = file.add_track("tempo"), file.add_track("tune")
    for delta, change in changes:
        if isinstance(change, int):
            conductor.append(mido.MetaMessage("set_tempo", tempo=change, time=delta))
        else:
            conductor.append(mido.MetaMessage("time_signature", numerator=change[0], denominator=change[1], time=delta))
    total = sum(delta for delta, _ in changes) + 1
    notes.append(mido.Message("note_on", note=60, time=0))
    notes.append(mido.Message("note_off", note=60, time=total))
    data = io.BytesIO()
    file.save(file=data)
    song = read_tempo_midi(data.getvalue(), "library.mid")
    assert float(song.end_seconds or 0) == pytest.approx(file.length, rel=1e-9)


@st.composite
def maps(draw: st.DrawFn) -> TempoMap:
    places = st.fractions(0, 400, max_denominator=16)
    meters = st.builds(Meter, st.integers(1, 12), st.sampled_from([2, 4, 8, 16]))
    speeds = st.fractions(Fraction(1, 8), 3, max_denominator=1000)
    return tempo_map(
        draw(st.lists(st.tuples(places, meters), max_size=6)),
        draw(st.lists(st.tuples(places, speeds), max_size=6)),
        first_bar=draw(st.integers(-3, 100)),
    )


@settings(max_examples=40, deadline=None)
@given(song=maps(), seconds=st.fractions(-60, 900, max_denominator=48_000))
def test_there_and_back_is_exact(song: TempoMap, seconds: Fraction) -> None:
    place = song.position_at(seconds)
    assert song.seconds_of(place.bar, place.beat) == seconds
    later = song.position_at(seconds + Fraction(1, 48_000))
    assert (place.bar, place.beat) < (later.bar, later.beat)


def test_a_meter_inside_a_bar_cuts_it_short() -> None:
    song = tempo_map([(Fraction(6), Meter(3, 4))], [(Fraction(0), Fraction(1, 2))])
    assert song.position_of_quarters(Fraction(5)) == Position(2, Fraction(2))
    assert song.position_of_quarters(Fraction(6)) == Position(3, Fraction(1))


def _head(form: int = 1, tracks: int = 1, division: int = 480) -> bytes:
    return b"MThd\x00\x00\x00\x06" + b"".join(n.to_bytes(2, "big") for n in (form, tracks, division))


def _track(body: bytes) -> bytes:
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def test_chunks_of_others_are_passed_over_and_code_divisions_understood() -> None:
    """25 frames of 40 ticks: a tick is a millisecond, whatever the tempo says."""
    body = bytes.fromhex("00FF51030F4240 8768FF51030493E0 00903C40 8768803C40 00FF2F00".replace(" ", ""))
    data = _head(division=(256 - 25) << 8 | 40) + b"XFIH\x00\x00\x00\x02ab" + _track(body)
    song = read_tempo_midi(data, "code.mid")
    assert song.seconds_of_quarters(Fraction(1)) == 1
    assert song.end_seconds == 2
    assert song.end_quarters == 1 + 1 / Fraction(3, 10)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "no standard MIDI file"),
        (b"RIFF" + bytes(40), "no standard MIDI file"),
        (_head(form=2) + _track(b"\x00\xff\x2f\x00"), "several songs"),
        (_head(division=0) + _track(b"\x00\xff\x2f\x00"), "0 ticks"),
        (_head(division=0x9C10) + _track(b"\x00\xff\x2f\x00"), "time code that does not exist"),
        (_head(), "holds no track"),
        (EXAMPLE[:60], "breaks off"),
        (_head() + _track(b"\x00\x3c\x40"), "from byte"),
        (_head() + _track(b"\xff\xff\xff\xff\xff\x00"), "from byte"),
        (_head() + _track(b"\x00\xff\x51\x03\x00\x00\x00"), "tempo without end"),
        (_head() + _track(b"\x00\xff\x58\x04\x00\x02\x18\x08"), "no music has"),
    ],
)
def test_broken_files_get_one_sentence(data: bytes, told: str) -> None:
    with pytest.raises(InputError, match=told):
        read_tempo_midi(data, "broken.mid")


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=80), st.integers(0, 70))
def test_any_bytes_make_a_map_or_a_sentence(junk: bytes, at: int) -> None:
    data = EXAMPLE[:at] + junk + EXAMPLE[at + len(junk) :]
    try:
        read_tempo_midi(data, "junk.mid")
    except InputError as error:
        assert "junk.mid" in error.sentence


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty"),
        ("tempo,meter\n96,3/4\n", "no column 'bar'"),
        ("bar,tempo\n", "no rows"),
        ("bar,tempo\none,96\n", "line 2.*whole number"),
        ("bar,tempo\n1,fast\n", "line 2.*'fast' as its tempo"),
        ("bar,tempo\n1,0\n", "tempo 0; write beats a minute"),
        ("bar,tempo,meter\n1,96,3/5\n", "no meter"),
        ("bar,tempo,meter\n1,96,waltz\n", "write it as 3/4"),
        ("bar,beat,tempo,meter\n1,,96,3/4\n2,5,90,\n", "no beat 5 in 3/4"),
        ("bar,tempo\n1,96\n9,90\n5,80\n", "line 4.*order of the song"),
        ("bar,tempo,meter,beats\n1,96,3/4,4\n", "write one of the two"),
        ("bar,tempo\n1,96\n5,end\n9,90\n", "after the end"),
        ("bar,meter\n1,3/4\n", "tells no tempo"),
        ("bar,tempo\n1,96\x00\n", "is no text"),
    ],
)
def test_mistakes_in_sheets_are_told_with_their_line(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        read_tempo_csv(text, "map.csv")


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(MistakesError) as caught:
        read_tempo_csv("bar,tempo\n1,fast\nx,96\n3,-1\n", "map.csv")
    assert [mistake.line for mistake in caught.value.mistakes] == [2, 3, 4]


def test_semicolons_decimal_commas_and_dotted_quarters() -> None:
    song = read_tempo_csv("Bar;Tempo;Meter;Note\n1;60;6/8;3/8\n5;92,5;4/4;1/4\n", "map.csv")
    assert song.seconds_of(2) == 2
    assert song.tempos[1].quarters_per_minute == Fraction("92.5")
