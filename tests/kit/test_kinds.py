"""Kinds: the table keeps its own convention, and an item's words go before its kind's."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.kit.kinds import kinds_of, models_wrong, notes, resolved, table
from rollsound.kit.model import DIGITAL, Described, Kind, KitItem, KitPart, Port

KINDS = table()
IDS = list(KINDS)
_END = re.compile(r"([a-z0-9-]+)(?: (\d+)(?:-(\d+))?)?")
NAMES = re.compile(
    r"capsule|out|in|air|antenna|antenna-(out-)?[ab]|(mic|line)-in|line-out|phones(-\d)?|digital-mic|aes3-(in|out)"
    r"|aes10-(fibre-)?(in|out)|net(-\d)?|fibre|usb|ears|sound|loop|word-(in|out)|time-code-(in|out)|control|dc(-in|-out)?|mains"
)


def _part(end: str, kind: Kind) -> tuple[Port, int]:
    """The port of an end, and how many of its channels it takes."""
    match = _END.fullmatch(end)
    assert match is not None, end
    port = next(each for each in kind.ports if each.id == match[1])
    if match[2] is None:
        return port, port.channels
    first, last = int(match[2]), int(match[3] or match[2])
    assert 1 <= first <= last <= port.channels, (kind.id, end)
    return port, last - first + 1


def test_the_table_has_the_kinds_of_a_rig() -> None:
    categories = {kind.category for kind in KINDS.values()}
    assert {"recorder", "microphone", "transmitter", "receiver", "converter", "network", "battery"} <= categories
    assert sorted(k.tracks for k in KINDS.values() if k.category == "recorder" and k.tracks) == [16, 24, 32]
    assert notes()


@pytest.mark.parametrize("id", IDS)
def test_a_row_says_where_it_comes_from_and_nothing_unknown(id: str) -> None:
    kind = KINDS[id]
    assert kind.source
    assert kind.status == "from memory"
    assert not kind.unknown
    for part in (*kind.ports, *kind.passes, *kind.draw_by_power, *([kind.battery] if kind.battery else [])):
        assert not part.unknown, part


@pytest.mark.parametrize("id", IDS)
def test_ports_are_named_alike_and_ways_join_what_can_be_joined(id: str) -> None:
    kind = KINDS[id]
    assert len({port.id for port in kind.ports}) == len(kind.ports)
    for port in kind.ports:
        assert NAMES.fullmatch(port.id), port.id
    for way in kind.passes:
        (enters, taken), (leaves, given_) = _part(way.from_, kind), _part(way.to, kind)
        assert enters.direction in ("in", "both")
        assert leaves.direction in ("out", "both")
        assert given_ % taken == 0, (way.from_, way.to)


@pytest.mark.parametrize("id", [k.id for k in KINDS.values() if k.category == "microphone"])
def test_what_a_capsule_bears_gets_out_of_its_microphone(id: str) -> None:
    ports = {port.id: port for port in KINDS[id].ports}
    capsule, out = ports["capsule"], ports["out"]
    assert capsule.clip_spl is not None
    assert capsule.noise_dba is not None
    if out.medium == "digital mic":
        assert capsule.full_scale_spl is not None
        assert out.needs_supply == "digital phantom"
        return
    assert capsule.sensitivity_mv_pa is not None
    assert out.clip_dbu is not None
    # 0 dBu is 0.7746 V; 94 dB SPL is one pascal. One decibel of rounding either way.
    loudest_v = capsule.sensitivity_mv_pa / 1000 * 10 ** ((capsule.clip_spl - 94) / 20)
    assert 20 * math.log10(loudest_v / 0.7746) == pytest.approx(out.clip_dbu, abs=1.0)


@pytest.mark.parametrize("id", [k.id for k in KINDS.values() if k.category == "receiver"])
def test_a_receiver_gives_what_it_hears(id: str) -> None:
    ports = {port.id: port for port in KINDS[id].ports}
    air = ports["air"]
    assert air.medium == "radio"
    assert air.direction == "in"
    assert air.lossy
    outs = {way.to.split()[0] for way in KINDS[id].passes}
    assert {ports[name].channels for name in outs} == {air.channels}


def test_converters_say_the_analogue_level_of_full_scale() -> None:
    for kind in KINDS.values():
        if kind.core != "digital":
            continue
        for port in kind.ports:
            if port.medium == "analogue":
                assert port.full_scale_dbu is not None, (kind.id, port.id)
        if any(port.medium in DIGITAL for port in kind.ports):
            assert kind.clock not in (None, "none"), kind.id


def test_a_battery_holds_what_its_label_says() -> None:
    for kind in KINDS.values():
        printed = re.search(r"([\d.]+) V ([\d.]+) Ah", kind.name)
        if printed is not None:
            assert kind.battery is not None
            assert kind.battery.capacity_wh == pytest.approx(float(printed[1]) * float(printed[2]), abs=0.005)
            assert kind.battery.loose


def test_the_shows_own_kind_goes_before_the_table() -> None:
    own = {"id": "recorder-16", "name": "ours", "category": "recorder", "tracks": 12}
    kit = KitPart.model_validate({"kinds": [own], "items": [{"id": "r", "name": "R", "model": "recorder-16"}]})
    found = resolved(kit.items[0], kinds_of(kit))
    assert (found.tracks, found.ports, found.status) == (12, (), "own")


def test_ports_are_replaced_by_id_and_added() -> None:
    ports = [
        {"id": "dc", "direction": "in", "medium": "dc", "connector": "own plug"},
        {"id": "second-dc", "direction": "in", "medium": "dc"},
    ]
    item = KitItem.model_validate({"id": "r", "name": "Ours", "model": "recorder-16", "ports": ports})
    found = resolved(item, KINDS)
    kind = KINDS["recorder-16"]
    assert [port.id for port in found.ports] == [*(port.id for port in kind.ports), "second-dc"]
    assert next(port for port in found.ports if port.id == "dc").connector == "own plug"
    assert (found.id, found.name, found.category) == ("recorder-16", "Ours", "recorder")


def test_an_item_without_a_kind_is_its_own_words_and_a_wrong_kind_is_told() -> None:
    kit = KitPart.model_validate(
        {"items": [{"id": "a", "name": "A", "mass": "2 kg"}, {"id": "b", "name": "B", "model": "recorder-61"}]}
    )
    assert resolved(kit.items[0], KINDS).mass_kg == 2
    assert resolved(kit.items[0], KINDS).id == ""
    assert resolved(kit.items[1], KINDS).ports == ()
    (wrong,) = models_wrong(kit)
    assert wrong.path == "/kit/items/b/model"
    assert "recorder-16" in wrong.sentence


OWN = {
    "mass": "123 g",
    "draw": "7 W",
    "idle": "0 W",
    "input": "3-4 V",
    "rack_units": 0,
    "core": "none",
    "latency": "0 s",
    "clock": "own",
    "tracks": 0,
    "rates": ["96 kHz"],
    "passes": [{"from": "in", "to": "out"}],
    "stairs": "1 kg",
}


@given(st.sampled_from(IDS), st.sets(st.sampled_from(sorted(OWN))))
def test_every_word_of_an_item_goes_before_its_kinds(id: str, words: set[str]) -> None:
    item = KitItem.model_validate({"id": "x", "name": "X", "model": id} | {word: OWN[word] for word in words})
    found = resolved(item, KINDS)
    for name, field in Described.model_fields.items():
        said = (field.alias or name) in words
        assert getattr(found, name) == getattr(item if said else KINDS[id], name), name


def test_a_draw_that_was_measured_goes_before_the_kinds_draws_by_radio_power() -> None:
    kinds = kinds_of(KitPart())
    kind = next(each for each in kinds.values() if each.draw_by_power)
    item = KitItem.model_validate({"id": "pack", "name": "Pack", "model": kind.id, "draw": "5 W"})
    assert resolved(item, kinds).draw_w == 5
    assert resolved(item, kinds).draw_by_power == ()
    plain = KitItem.model_validate({"id": "pack", "name": "Pack", "model": kind.id})
    assert resolved(plain, kinds).draw_by_power == kind.draw_by_power
