"""Control links and networks on 2.4 and 5 GHz."""

from __future__ import annotations

from typing import Any

import pytest

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.radio.control import (
    Signal,
    bluetooth_channel_mhz,
    bluetooth_hit,
    bluetooth_mhz,
    conflict,
    mesh_free,
    mesh_hit,
    mesh_mhz,
    near,
    needs_radar_check,
    overlaps,
    signal,
    wifi_mhz,
)
from rollsound.radio.model import ControlLink


def link(id: str, kind: str, channel: int, **more: Any) -> ControlLink:
    return ControlLink.model_validate({"id": id, "name": id, "kind": kind, "channel": channel, **more})


def wifi(channel: int, width: int = 20) -> Signal:
    return signal(link("net", "wi-fi", channel, width_mhz=width))


@pytest.mark.source("wireless LAN channels (mathworks): 2407 + 5k, channel 14 at 2484; 5000 + 5k", kind="published")
def test_network_channels() -> None:
    assert [wifi_mhz(c) for c in (1, 6, 11, 13, 14)] == [2412, 2437, 2462, 2472, 2484]
    assert wifi_mhz(36) == 5180
    # channel 14 is 12 MHz above 13, not 5
    assert wifi_mhz(14) - wifi_mhz(13) == 12


@pytest.mark.source("channels of 20 MHz clear of each other: 1/6/11 (opened), 1/5/9/13", kind="memory")
def test_networks_clear_of_each_other() -> None:
    assert table("radio_control")["wi-fi"]["apart_sets"] == [[1, 6, 11], [1, 5, 9, 13]]
    for together in table("radio_control")["wi-fi"]["apart_sets"]:
        pairs = [(a, b) for a in together for b in together if a < b]
        assert not any(conflict(wifi(a), wifi(b)) for a, b in pairs)
    assert conflict(wifi(1), wifi(4))
    # with the 22 MHz of the oldest form 1/5/9/13 touch
    assert conflict(Signal("a", "", "wi-fi", 1, 2412, 22), Signal("b", "", "wi-fi", 5, 2432, 22))


@pytest.mark.source(
    "IEEE 802.15.4: 2405 + 5(k - 11), 11 to 26, 2 MHz; within 11 MHz is inside (openthread, a wiki)", kind="published"
)
def test_mesh_channels_that_a_network_hits() -> None:
    assert [mesh_mhz(c) for c in (11, 26)] == [2405, 2480]
    hits = {1: (11, 12, 13, 14), 6: (16, 17, 18, 19), 11: (21, 22, 23, 24), 13: (23, 24, 25, 26)}
    assert {c: mesh_hit(c) for c in hits} == hits
    assert mesh_free([1, 6, 11]) == (15, 20, 25, 26)
    assert mesh_free([1, 6, 13]) != (15, 20, 25, 26)


@pytest.mark.source("Bluetooth low energy: 2402 + 2r, advertising at 2402, 2426, 2480 MHz", kind="memory")
def test_bluetooth() -> None:
    assert [bluetooth_mhz(r) for r in (0, 12, 39)] == [2402, 2426, 2480]
    assert [bluetooth_channel_mhz(c) for c in (37, 38, 39)] == [2402, 2426, 2480]
    # all 40 numbers fill all 40 places, each once
    assert sorted(bluetooth_channel_mhz(c) for c in range(40)) == [bluetooth_mhz(r) for r in range(40)]
    # the middle of 1 is 10 MHz from the place of 37: at its edge
    hits = {1: (0, 10), 6: (12, 23), 11: (25, 35)}
    assert {c: (bluetooth_hit(c)[0], bluetooth_hit(c)[-1]) for c in hits} == hits
    assert 0 in bluetooth_hit(1)


@pytest.mark.source("general test: |f1 - f2| < (B1 + B2) / 2 + guard", kind="published")
def test_two_signals() -> None:
    a, b = Signal("a", "", "wi-fi", 1, 2412, 20), Signal("b", "", "802.15.4", 14, 2423, 2)
    assert not conflict(a, b)
    # nothing is asked for beyond not overlapping: channels that touch are apart
    assert overlaps([link("a", "wi-fi", 1), link("b", "wi-fi", 5)]) == []
    assert conflict(a, b, guard_mhz=0.1)


@pytest.mark.source(
    "radar detection on 5250-5350 and 5470-5725 MHz (ch 52-64, 100-144); 60 s, 30 min (manuals)", kind="published"
)
def test_channels_that_leave_for_radar() -> None:
    must = {c for c in (*range(36, 65, 4), *range(100, 145, 4), *range(149, 166, 4)) if needs_radar_check(wifi(c))}
    assert must == {*range(52, 65, 4), *range(100, 145, 4)}
    row = table("radio_control")["radar"]
    assert (row["wait_s"], row["away_s"] * 1000) == (60, 1_800_000)
    assert not any(needs_radar_check(wifi(c)) for c in row["quiet_channels"])
    [said] = overlaps([link("net", "wi-fi", 52)])
    assert said.kind == "radar"
    assert "1 minute" in said.sentence
    assert "30 minutes" in said.sentence
    assert "36 to 48" in said.sentence
    # 80 MHz from 36 stays below, 160 MHz reaches into it
    assert not needs_radar_check(wifi(36, 80))
    assert needs_radar_check(wifi(36, 160))


@pytest.mark.source("weather radar 5600-5650 MHz: 10 minutes (EN 301 893)", kind="memory")
def test_weather_radar() -> None:
    [said] = overlaps([link("net", "wi-fi", 120)])
    assert "10 minutes (weather radar)" in said.sentence
    told = {c for c in range(100, 145, 4) if "weather" in overlaps([link("net", "wi-fi", c)])[0].sentence}
    assert told == {120, 124, 128}


def test_wide_channels_lie_where_their_parts_do() -> None:
    for channel, width, middle in (
        (36, 40, 5190), (40, 40, 5190), (44, 40, 5230), (36, 80, 5210), (48, 80, 5210), (52, 80, 5290), (36, 160, 5250),
        (100, 80, 5530), (149, 80, 5775), (157, 40, 5795),
    ):  # fmt: skip
        assert wifi(channel, width).centre_mhz == middle, (channel, width)


def test_what_overlaps_is_named_with_a_way_out() -> None:
    links = [link("router", "wi-fi", 1), link("slate", "802.15.4", 12), link("phones", "wi-fi", 11)]
    [said] = overlaps(links)
    assert said.ids == ("router", "slate")
    assert "clear of the networks: 15, 16, 17, 18, 19, 20, 25, 26" in said.sentence
    assert overlaps([link("router", "wi-fi", 1), link("slate", "802.15.4", 15)]) == []
    [said] = overlaps([link("a", "wi-fi", 1), link("b", "wi-fi", 3)])
    assert "1, 6 and 11" in said.sentence
    [said] = overlaps([link("a", "wi-fi", 6), link("b", "bluetooth low energy", 20)])
    assert "Bluetooth goes round it" in said.sentence


def test_links_on_different_grounds_do_not_meet() -> None:
    assert overlaps([link("a", "wi-fi", 1, ground="deck"), link("b", "wi-fi", 1, ground="quay")]) == []
    assert len(overlaps([link("a", "wi-fi", 1, ground="deck"), link("b", "wi-fi", 1)])) == 1


@pytest.mark.source("1 to 2 m between network antennas and receiving antennas", kind="memory")
def test_a_router_on_the_antenna() -> None:
    said = near(link("router", "wi-fi", 36), "left", 0.4)
    assert said is not None
    assert "1.5 m or more" in said.sentence
    assert near(link("router", "wi-fi", 36), "left", 2.0) is None


@pytest.mark.parametrize(
    ("kind", "channel", "told"),
    [
        ("wi-fi", 0, "no Wi-Fi channel 0"),
        ("wi-fi", 20, "no Wi-Fi channel 20"),
        ("802.15.4", 27, "no 802.15.4 channel 27"),
        ("bluetooth low energy", 40, "no channel 40"),
    ],
)
def test_channels_that_are_not_there_are_refused(kind: str, channel: int, told: str) -> None:
    with pytest.raises(InputError, match=told):
        overlaps([link("x", kind, channel)])
    with pytest.raises(InputError, match="write 0 to 39"):
        bluetooth_mhz(40)
