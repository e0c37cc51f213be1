"""What stands on the slate next, in both styles."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.log.entries import TakeEntry
from rollsound.log.numbering import LETTERS, Slate, letters_of, next_take, setup_of, style_of

ARTICLE = "Slating / Boarding in the UK vs USA, web article of a sound crew, read in 2026"


def _takes(*slates: str, scene: str = "3") -> list[TakeEntry]:
    return [TakeEntry(scene=scene, slate=slate, take="1") for slate in slates]


@pytest.mark.source(ARTICLE, kind="practice")
def test_slates_count_on_whatever_the_scene_is() -> None:
    takes: list[TakeEntry] = []
    for scene in ("3", "3", "3", "4", "4", "4", "7", "7", "7"):
        slate = next_take(takes, scene=scene, new_setup=True)
        takes.append(TakeEntry(scene=slate.scene, slate=slate.slate, take=slate.take))
    assert [(take.scene, take.slate) for take in takes] == [
        ("3", "1"), ("3", "2"), ("3", "3"), ("4", "4"), ("4", "5"), ("4", "6"), ("7", "7"), ("7", "8"), ("7", "9"),
    ]  # fmt: skip


@pytest.mark.source(ARTICLE, kind="practice")
def test_setups_of_a_scene_are_lettered_from_the_master_on() -> None:
    takes: list[TakeEntry] = []
    for _ in range(4):
        slate = next_take(takes, style="scene letters", scene="3", new_setup=True)
        takes.append(TakeEntry(scene=slate.scene, slate=slate.slate, take=slate.take))
    assert [take.slate for take in takes] == ["3", "3A", "3B", "3C"]


@pytest.mark.source("common practice, no source", kind="practice")
def test_i_and_o_are_left_out_and_after_z_letters_are_doubled() -> None:
    assert "".join(letters_of(setup) for setup in range(1, 25)) == LETTERS == "ABCDEFGHJKLMNPQRSTUVWXYZ"
    assert [letters_of(setup) for setup in (25, 26, 48, 49)] == ["AA", "AB", "AZ", "BA"]
    assert next_take(_takes("3Z"), style="scene letters", scene="3", new_setup=True).slate == "3AA"
    assert next_take(_takes("3H"), style="scene letters", new_setup=True).slate == "3J"
    assert next_take(_takes("3N"), style="scene letters", new_setup=True).slate == "3P"
    assert next_take(_takes("28A", scene="28A"), style="scene letters", new_setup=True).slate == "28AA"


@given(st.integers(0, 10**6))
def test_letters_lead_back_to_their_setup(setup: int) -> None:
    letters = letters_of(setup)
    assert setup_of(letters) == setup
    assert not set(letters) & set("IO")


def test_letters_that_are_never_given_are_none() -> None:
    assert setup_of("I") is None
    assert setup_of("AO") is None
    assert setup_of("1") is None
    assert setup_of("") == 0


def test_the_next_take_of_a_setup_counts_on_past_false_starts() -> None:
    takes = [TakeEntry(scene="31", slate="214", take=take, kind="false start") for take in ("1", "2", "2 pick up")]
    assert next_take(takes) == Slate("31", "214", "3")
    assert next_take(takes, scene="31") == Slate("31", "214", "3")
    assert next_take(takes, scene="32") == Slate("32", "215", "1")
    assert next_take(takes, new_setup=True) == Slate("31", "215", "1")


def test_wild_tracks_and_room_tones_count_within_their_roll() -> None:
    takes = [
        TakeEntry(scene="32", take="WT1", kind="wild track", sound_roll="NF-04"),
        TakeEntry(scene="32", take="WT7", kind="wild track", sound_roll="NF-03"),
        TakeEntry(scene="36", slate="217", take="1", sound_roll="NF-04"),
    ]
    assert next_take(takes, kind="wild track", sound_roll="NF-04") == Slate("36", "", "WT2")
    assert next_take(takes, kind="wild track", sound_roll="NF-05") == Slate("36", "", "WT1")
    assert next_take(takes, kind="room tone", sound_roll="NF-04", scene="37") == Slate("37", "", "RT1")
    assert next_take(takes, kind="take").take == "2"
    assert next_take(takes[:1]) == Slate("32", "1", "1")


def test_a_second_unit_counts_its_own_slates() -> None:
    assert next_take(_takes("214", "X3"), new_setup=True).slate == "X4"
    assert next_take(_takes("X3", "214"), new_setup=True).slate == "215"


def test_the_style_is_that_of_the_last_slate() -> None:
    assert style_of([]) == "slate numbers"
    assert style_of(_takes("214")) == "slate numbers"
    assert style_of(_takes("214", "3A")) == "scene letters"
    assert style_of(_takes("2", "3")) == "slate numbers"
    assert style_of(_takes("3")) == "scene letters"
    assert style_of(_takes("1", scene="1")) == "slate numbers"
    assert next_take(_takes("3B"), new_setup=True).slate == "3C"
    assert next_take([]) == Slate("", "1", "1")
    assert next_take([], style="scene letters", scene="4") == Slate("4", "4", "1")
    assert next_take(_takes("", "day and night")).take == "2"
