"""What transmitters and receivers are like, where they are worn, and that every table says where it comes from."""

from __future__ import annotations

from importlib import resources
from typing import Any

import pytest

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.radio import kinds
from rollsound.radio.model import RadioPart, Receiver, Transmitter
from rollsound.radio.tables import SUBJECTS, all_notes

TABLES = sorted(
    path.name.removesuffix(".toml")
    for path in resources.files("rollsound.facts").iterdir()
    if path.name.startswith("radio_")
)


def pack(**more: Any) -> Transmitter:
    return Transmitter.model_validate({"id": "ane", "name": "Ane", **more})


def test_what_is_written_goes_before_the_kind_and_the_kind_before_the_usual() -> None:
    radio = RadioPart.model_validate(
        {"transmitter_kinds": [{"id": "mine", "tuning": "518-542 MHz", "step": "5 kHz", "powers": ["30 mW", "5 mW"]}]}
    )
    usual = kinds.transmitter(radio, pack())
    assert (usual.tuning_hz, usual.step_hz, usual.width_hz) == (None, 25e3, 200e3)
    assert (usual.power_mw, usual.powers_mw, usual.power_set) == (50, (2, 10, 50, 250), False)
    of_kind = kinds.transmitter(radio, pack(model="mine"))
    assert (of_kind.step_hz, of_kind.power_mw, of_kind.powers_mw) == (5e3, 30, (5, 30))
    assert (of_kind.tuning_hz and of_kind.tuning_hz.low, of_kind.status) == (518e6, "own")
    written = kinds.transmitter(radio, pack(model="mine", step="50 kHz", power="10 mW", width="100 kHz"))
    assert (written.step_hz, written.power_mw, written.width_hz, written.power_set) == (50e3, 10, 100e3, True)


def test_receivers_too() -> None:
    usual = kinds.receiver(None, Receiver.model_validate({"id": "r", "name": "cart"}))
    assert (usual.noise_figure_db, usual.needed_db, usual.branches, usual.kind) == (8, 22, 2, "")
    radio = RadioPart.model_validate({"receiver_kinds": [{"id": "analogue-diversity", "noise_figure": "5 dB"}]})
    own = kinds.receiver(radio, Receiver.model_validate({"id": "r", "name": "cart", "model": "analogue-diversity"}))
    assert (own.noise_figure_db, own.status) == (5, "own")
    table_row = kinds.receiver(None, Receiver.model_validate({"id": "r", "name": "cart", "model": "digital-diversity"}))
    assert (table_row.needed_db, table_row.status) == (16, "from memory")


@pytest.mark.source(
    "hand-held about 8 dB, body pack about 16 dB, give or take 6 dB: remembered planning values", kind="memory"
)
def test_what_a_body_takes() -> None:
    assert kinds.worn(None, pack()).loss_db == 16
    assert kinds.worn(None, pack(kind="boom")).loss_db == 8
    assert kinds.worn(None, pack(kind="plant")).loss_db == 0
    assert {place.spread_db for place in kinds.worn_places().values() if place.id != "free"} == {6}
    assert all(place.status != "opened" for place in kinds.worn_places().values())
    assert any("measure yours" in note for note in kinds.notes())
    radio = RadioPart.model_validate({"worn_places": [{"id": "belt-back", "loss": "21 dB"}]})
    assert kinds.worn(radio, pack()).loss_db == 21
    assert kinds.worn(radio, pack(worn="ankle")).id == "ankle"


def test_what_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="'lost' is no kind of transmitter"):
        kinds.transmitter(None, pack(model="lost"))
    with pytest.raises(InputError, match="'lost' is no kind of receiver"):
        kinds.receiver(None, Receiver.model_validate({"id": "r", "name": "cart", "model": "lost"}))
    with pytest.raises(InputError, match="'nose' is no place where a transmitter is worn"):
        kinds.worn(None, pack(worn="nose"))


def test_kinds_are_complete_and_name_no_maker() -> None:
    for kind in kinds.transmitter_kinds().values():
        assert kind.tuning_hz is not None
        assert kind.powers_mw == tuple(sorted(kind.powers_mw))
        assert kind.powers_mw
        assert (kind.source, kind.status) == ("common practice, no source", "from memory")
        assert (kind.tuning_hz.high - kind.tuning_hz.low) % kind.step_hz == 0
    for receiver in kinds.receiver_kinds().values():
        assert receiver.status == "from memory"


def rows_without_source(value: Any, name: str, given: bool = False) -> list[str]:
    """Rows that say neither source nor status, in them or above them."""
    if isinstance(value, dict):
        known = given or ("source" in value and "status" in value)
        if not any(isinstance(each, dict | list) for each in value.values()):
            return [] if known else [name]
        return [bad for key, each in value.items() for bad in rows_without_source(each, f"{name}.{key}", known)]
    if isinstance(value, list):
        return [bad for each in value for bad in rows_without_source(each, name, given)]
    return []


@pytest.mark.parametrize("name", TABLES)
def test_every_table_tells_what_is_not_certain(name: str) -> None:
    assert notes_of(name)
    assert all(note.endswith(".") for note in notes_of(name))


@pytest.mark.parametrize("name", ["radio_cables", "radio_antennas", "radio_body", "radio_kinds", "radio_paths"])
def test_every_row_says_where_it_comes_from(name: str) -> None:
    rows = {key: value for key, value in table(name).items() if key != "about"}
    assert rows_without_source(rows, name) == []
    assert rows_without_source({"cable": [{"k1": 1.0}]}, "x") == ["x.cable"]


def test_all_tables_are_told_of() -> None:
    assert sorted(SUBJECTS.values()) == TABLES
    assert set(all_notes()) == set(SUBJECTS)
    told = " ".join(note for notes in all_notes().values() for note in notes)
    # what the sources left open: each is told somewhere
    for open_point in (
        "74.861(e)", "25-10", "2014/641/EU", "EN 300 422-1", "No authoritative figure for UHF body loss", "37 dB",
        "2.4 GHz exponents are from memory", "P.1238", "first law stretched", "rg-174 and rg-59", "MIL-DTL-17",
        "EN (IEC) 62479", "ICNIRP 2020", "MHz into the newer form", "second table gives more loss", "25.4 + 0.11",
    ):  # fmt: skip
        assert open_point in told, open_point
