"""Paths through a small rig, by hand."""

from __future__ import annotations

import pytest
from small_rigs import RIG, small_rig

from rollsound.rig.combining import combinations, read_combination
from rollsound.rig.paths import Conversion, all_paths, feed, paths, track
from rollsound.rig.state import State


def test_the_small_rig_has_no_mistake() -> None:
    assert small_rig().wrong == ()


def test_a_boom_reaches_its_track_by_cable_and_by_radio() -> None:
    rig = small_rig()
    by_cable, by_radio = (
        paths(State(rig, combination), "voice-boom-1", track("t1")).paths
        for combination in combinations(rig.part.changeovers)
    )
    assert len(by_cable) == len(by_radio) == 1
    assert [hop.id for hop in by_cable[0].hops] == ["boom-1", "boom-1-cable", "boom-1-iso"]
    assert [hop.id for hop in by_radio[0].hops] == [
        "boom-1", "boom-1-plug", "plug", "boom-1-air", "receiver", "packs", "boom-1-radio-iso",
    ]  # fmt: skip
    assert by_cable[0].gain_db == by_radio[0].gain_db == 20
    assert by_cable[0].conversions == (Conversion.A_D,)
    assert by_radio[0].conversions == (Conversion.A_D, Conversion.LOSSY, Conversion.RATE)
    # capsule 0.5 ms, recorder 0.5 ms, 30 m of cable
    assert by_cable[0].latency_s == pytest.approx(1e-3 + 30 * 5.38e-9)
    # besides: radio 3 ms, packet 1 ms, buffer 3 ms, two switches of 3 channels x 48 samples x 3 bytes + 66 bytes
    assert by_radio[0].latency_s == pytest.approx(8e-3 + 2 * (3 * 48 * 3 + 66) * 8 / 1e9)
    assert {"link:net-long", "piece:switch-set", "stream:packs"} <= by_radio[0].elements


def test_everything_that_arrives_is_found() -> None:
    rig = small_rig()
    found = all_paths(State(rig, read_combination("boom-1=radio", rig.part.changeovers)))
    assert {source for source, target in found if target == feed("mixer")} == {
        "voice-boom-1", "voice-boom-2", "bram", "idris",
    }  # fmt: skip
    assert ("bram", track("t3")) in found
    assert ("bram", track("t4")) not in found


def test_a_second_way_through_the_network_is_a_choice() -> None:
    text = RIG.replace(
        "  - {id: phones,",
        '  - {id: net-spare, from: "switch-set:port-3", to: "switch-cart:port-3", length: 90 m}\n  - {id: phones,',
    )
    rig = small_rig(text)
    state = State(rig, read_combination("", rig.part.changeovers))
    (path,) = paths(state, "bram", track("t3")).paths
    assert "link:net-long" not in path.elements
    assert path.survives(frozenset({"link:net-long"}))
    assert path.survives(frozenset({"link:net-spare"}))
    assert not path.survives(frozenset({"link:net-long", "link:net-spare"}))
    assert not path.survives(frozenset({"piece:switch-set"}))
    cut = State(rig, read_combination("", rig.part.changeovers), {"link:net-long", "link:net-spare"})
    assert paths(cut, "bram", track("t3")).paths == ()


def test_a_gain_where_the_source_enters_counts() -> None:
    rig = small_rig(RIG.replace("{id: pack-1, item: pack}", "{id: pack-1, item: pack, gains: {capsule: 12 dB}}"))
    (path,) = paths(State(rig, read_combination("", rig.part.changeovers)), "bram", track("t3")).paths
    assert path.entry_gain_db == path.gain_db == 12


def test_two_tracks_in_one_place_are_told_however_the_recorder_is_named() -> None:
    rig = small_rig(
        RIG.replace("source: idris}", "source: idris}\n  - {id: t5, number: 4, name: Again, recorder: recorder}")
    )
    assert [each.sentence for each in rig.wrong] == ["is 4 of Recorder, which 't4' has; give one of them a free track"]
