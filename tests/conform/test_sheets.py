"""Sheets that name what is not there."""

from __future__ import annotations

from rollsound.conform.sheets import missing_files, unknown_cards, unknown_tracks
from rollsound.finding import Weight


def test_a_card_that_is_not_there_is_said_once_with_the_near_name() -> None:
    wearers = {"Ane": "card-ane", "Ivo": "card-iwo", "Tomas": "card-iwo", "Ilse": ""}
    (only,) = unknown_cards(wearers, ["Card Ane", "card-ivo"])
    assert only.weight is Weight.WATCH
    assert only.what == "The wearers sheet names the card card-iwo, which is not among the cards (Card Ane, card-ivo)."
    assert "If card-ivo" in only.remedy


def test_a_track_that_is_not_there_offers_only_what_is_near() -> None:
    first, second = unknown_tracks(["Anne", "ANE", "Zacharias"], ["Ane", "Boom 1"])
    assert first.what == "The wearers sheet names the track Anne, which no recorder file has."
    assert first.remedy == "If Ane is meant, correct the sheet."
    assert second.remedy == "Correct the sheet."


def test_a_file_that_is_not_there() -> None:
    (only,) = missing_files(["31T9.wav"], ["31T1.wav", "room.wav"])
    assert only.kind == "file not there"
    assert "31T9.wav" in only.what
    assert "If 31T1.wav is meant" in only.remedy
    assert "drives" in only.remedy


def test_many_cards_are_not_all_listed() -> None:
    (only,) = unknown_cards({"Ane": "Q"}, [f"card {n}" for n in range(20)])
    assert "card 7 and 12 more" in only.what
    assert "card 8" not in only.what
