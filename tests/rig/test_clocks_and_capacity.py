"""What is wrong with clocks, cables and networks of a small rig is found, and nothing where all is well."""

from __future__ import annotations

import pytest
from small_rigs import KIT, RIG, small_rig

from rollsound.finding import Area, Finding, Weight
from rollsound.rig.capacity import stream_load_bit_s
from rollsound.rig.proofs import proofs
from rollsound.rig.reaching import Reaching

HEAVY = (Weight.STOP, Weight.WATCH)


def heavy(rig: str = RIG, kit: str = KIT, kind: str = "") -> list[Finding]:
    found = [each for each in proofs(small_rig(rig, kit)) if each.weight in HEAVY]
    return [each for each in found if each.kind == kind] if kind else found


def test_the_small_rig_holds_but_for_its_single_points_of_failure() -> None:
    assert {each.kind for each in heavy()} <= {"single failure", "changeover"}
    told = {each.kind for each in proofs(small_rig())}
    assert {"everything arrives", "cable length", "network", "clock", "tracks"} <= told


def test_a_cable_too_long_stops_and_one_beyond_practice_is_watched() -> None:
    (stop,) = heavy(RIG.replace("length: 75 m", "length: 130 m"), kind="cable length")
    assert stop.weight is Weight.STOP
    assert "goes 100 m at most" in stop.what
    (watch,) = heavy(RIG.replace("length: 75 m", "length: 90 m"), kind="cable length")
    assert watch.weight is Weight.WATCH
    assert "75 m are trusted" in watch.what
    assert watch.refs[0].path == "plan#/rig/links/net-long"


def test_a_subscription_without_a_way_is_lost() -> None:
    text = RIG.replace('  - {id: net-long, from: "switch-set:port-2", to: "switch-cart:port-1", length: 75 m}\n', "")
    (lost,) = heavy(text, kind="network")
    assert "no way through the network" in lost.what
    assert {each.subject for each in heavy(text, kind="everything arrives")} >= {"bram", "idris"}


def test_two_masters_on_one_network_are_found() -> None:
    (found,) = heavy(RIG.replace("{id: receiver, clock: net}", "{id: receiver, clock: internal}"), kind="two masters")
    assert found.area is Area.SYNC
    assert "clock: net" in found.remedy


def test_a_clock_that_comes_back_to_itself_is_found() -> None:
    out = "- {id: out, direction: out, medium: analogue, channels: 2,"
    word = (
        "- {id: word-in, direction: in, medium: word clock}\n      - {id: word-out, direction: out, medium: word clock}"
    )
    kit = KIT.replace(out, f"{word}\n      {out}")
    text = RIG.replace("- {id: recorder}", "- {id: recorder, clock: word-in}").replace(
        "links:\n", 'links:\n  - {id: word, from: "recorder:word-out", to: "recorder:word-in"}\n', 1
    )
    assert any("to itself" in each.sentence for each in small_rig(text, kit).wrong)
    text = RIG.replace("- {id: recorder}", "- {id: recorder, clock: word-in}")
    found = heavy(text, kit, kind="clock")
    assert any("where none arrives" in each.what for each in found)


def test_a_microphone_in_mode_one_slips_where_nothing_resamples() -> None:
    text = RIG.replace("- {id: boom-2, item: boom-mic}", "- {id: boom-2, item: boom-mic, clock: internal}")
    (found,) = heavy(text, kind="not locked")
    assert found.weight is Weight.STOP
    assert "one sample slips every 1.0 s" in found.what
    resampling = KIT.replace(
        "medium: digital mic, channels: 2, gain", "medium: digital mic, channels: 2, resamples: true, gain"
    )
    assert heavy(text, resampling, kind="not locked") == []


def test_another_rate_is_found() -> None:
    text = RIG.replace("- {id: receiver, clock: net}", "- {id: receiver, clock: net, rate: 96 kHz}")
    assert any(
        "sends 96 kHz to Recorder, which runs at 48 kHz" in each.what for each in heavy(text, kind="sample rate")
    )


@pytest.mark.source("AES42 by Handbook for Sound Engineers, p. 1474: at least 5 V at the microphone", kind="published")
def test_a_digital_microphone_s_cable_leaves_enough() -> None:
    kit = KIT.replace(
        "microphone_mode: mode 2}", "microphone_mode: mode 2, needs_supply: digital phantom, draw: 250 mA}"
    )
    assert heavy(kit=kit, kind="microphone supply") == []
    (found,) = heavy(RIG.replace("length: 30 m", "length: 240 m"), kit, kind="microphone supply")
    assert found.numbers["left_v"] == pytest.approx(9.5 - 0.25 * 0.078 * 240)


@pytest.mark.source("AES67 arithmetic, 3 channels in a packet of 1 ms", kind="published")
def test_what_a_subscription_takes() -> None:
    rig = small_rig()
    assert stream_load_bit_s(rig, "packs") == pytest.approx((3 * 48 * 3 + 78) * 8 * 1000)
    slow = KIT.replace("medium: network}", "medium: network, rate_mbit_s: 4}").replace(
        "medium: network, channels: 4}", "medium: network, channels: 4, rate_mbit_s: 4}"
    )
    (found,) = {each.weight for each in heavy(kit=slow, kind="network")}
    assert found is Weight.STOP
    assert Reaching(rig).combinations == 2


def test_a_subscription_that_nobody_needs_in_a_position_is_no_fault() -> None:
    """The receiver beside the recorder by cable: its subscription has no way, and nothing is missing."""
    kit = KIT.replace(
        "passes: [{from: air 1-4, to: net 1-4}]",
        "passes: [{from: air 1-4, to: net 1-4}, {from: air 1-4, to: line 1-4}]",
    ).replace(
        "      - {id: net, direction: both, medium: network, channels: 4}\n",
        "      - {id: net, direction: both, medium: network, channels: 4}\n"
        "      - {id: line, direction: out, medium: analogue, channels: 4}\n",
    )
    kit = kit.replace(
        "      - {id: net, direction: both, medium: network, channels: 8}\n",
        "      - {id: net, direction: both, medium: network, channels: 8}\n"
        "      - {id: line-in, direction: in, medium: analogue, channels: 4}\n",
    )
    text = RIG.replace(
        "streams:\n", '  - {id: beside, from: "receiver:line", to: "recorder:line-in"}\nstreams:\n'
    ).replace(
        "sources:\n",
        "  - {id: beside-iso, piece: recorder, from: line-in 1-2, to: track 3-4}\n"
        "  - {id: beside-boom, piece: recorder, from: line-in 3, to: track 1}\n"
        "  - {id: beside-mix, piece: recorder, from: line-in 1-3, to: out 1}\nsources:\n",
    )
    where = "  - {id: receivers, positions: [{id: set, links: [net-long]}, {id: cart, links: [beside]}]}\n"
    text = text.rstrip("\n") + "\n" + where
    assert heavy(text, kit, kind="everything arrives") == []
    assert heavy(text, kit, kind="network") == []


def test_a_rate_that_a_piece_does_not_have_is_found() -> None:
    kit = KIT.replace("    tracks: 8\n", "    tracks: 8\n    rates: [44.1 kHz, 48 kHz]\n")
    assert heavy(kit=kit, kind="sample rate") == []
    text = RIG.replace("- {id: recorder}", "- {id: recorder, rate: 96 kHz}")
    told = [each.what for each in heavy(text, kit, kind="sample rate")]
    assert "Recorder is to run at 96 kHz, and can run at 44.1, 48 kHz." in told


def test_a_source_that_no_track_is_to_have_is_told_unless_it_is_optional() -> None:
    text = RIG.replace("  - {id: t4, number: 4, name: Idris, source: idris}", "  - {id: t4, number: 4, name: Spare}")
    (found,) = heavy(text, kind="everything arrives")
    assert found.weight is Weight.WATCH
    assert found.what == "No track is to have idris."
    optional = text.replace("{id: idris, at:", "{id: idris, optional: true, at:")
    assert heavy(optional, kind="everything arrives") == []


def test_nothing_is_claimed_of_cables_whose_length_is_not_written() -> None:
    told = next(each for each in proofs(small_rig()) if each.kind == "cable length")
    assert told.what == (
        "No cable whose length is written is longer than its medium goes; of 3 cables the length is not written."
    )
    bare = RIG.replace(", length: 30 m", "").replace(", length: 25 m", "").replace(", length: 75 m", "")
    assert not [each for each in proofs(small_rig(bare)) if each.kind == "cable length"]
    assert not [each for each in proofs(small_rig()) if each.kind == "AES10 channels"]
