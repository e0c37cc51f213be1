"""What is written wrongly in a rig is one sentence at its place, and the rest is proven without it."""

from __future__ import annotations

import pytest
from small_rigs import KIT, RIG, kit_of, part_of, small_rig

from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.proofs import proofs

CABLE = 'boom-1-cable, from: "boom-1:out", to: "recorder:digital-mic 1"'


def _told(rig: Rig, *at: str) -> str:
    """The one sentence at a place; every proof still runs."""
    assert proofs(rig)
    (found,) = [each for each in rig.wrong if each.at == ("rig", *at)]
    return found.sentence


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (CABLE, 'boom-1-cable, from: "digital-mic 1", to: "recorder:digital-mic 1"'),
        (CABLE, 'boom-1-cable, from: "boom-1:out", to: "1:2:3"'),
        (CABLE, 'boom-1-cable, from: "nobody:out", to: "recorder:digital-mic 1"'),
    ],
)
def test_an_end_that_cannot_be_read_stops_no_proof(old: str, new: str) -> None:
    rig = small_rig(RIG.replace(old, new))
    assert [each.at for each in rig.wrong] == [("rig", "links", "boom-1-cable", "to" if "1:2:3" in new else "from")]
    assert any(each.kind == "rig mistake" for each in proofs(rig))


@pytest.mark.parametrize("part", ["pieces", "links", "streams", "routes", "sources", "tracks", "feeds"])
def test_what_stands_twice_is_told_and_taken_once(part: str) -> None:
    once = part_of()
    rows = getattr(once, part)
    rig = build(once.model_copy(update={part: (*rows, rows[0])}), kit_of())
    assert _told(rig, part, rows[0].id) == "stands here twice; give one of them another id"
    assert len(rig.wrong) == 1
    assert getattr(rig.part, part) == rows


def test_a_position_that_stands_twice_is_told_and_taken_once() -> None:
    once = part_of()
    (changeover,) = once.changeovers
    twice = changeover.model_copy(update={"positions": (*changeover.positions, changeover.positions[0])})
    rig = build(once.model_copy(update={"changeovers": (twice,)}), kit_of())
    assert "twice" in _told(rig, "changeovers", "boom-1", "positions", "cable")
    assert rig.part.changeovers == (changeover,)


def test_a_clock_can_be_taken_only_where_one_arrives() -> None:
    rig = small_rig(RIG.replace("{id: recorder}", "{id: recorder, clock: out}"))
    assert _told(rig, "pieces", "recorder", "clock") == (
        "names the port 'out' of Recorder, which is analogue and carries no clock; "
        "write 'internal' or 'digital-mic' or 'net'"
    )


def test_the_clock_of_a_position_is_held_against_the_ports_as_well() -> None:
    rig = small_rig(RIG.replace("{id: radio, name: radio,", "{id: radio, name: radio, clocks: {recorder: word-in},"))
    assert _told(rig, "changeovers", "boom-1", "positions", "radio", "clocks", "recorder").startswith(
        "names the port of Recorder 'word-in', which is not there"
    )


def test_gain_at_a_track_is_told() -> None:
    rig = small_rig(RIG.replace("{id: recorder}", '{id: recorder, gains: {"track 1": 6 dB}}'))
    assert _told(rig, "pieces", "recorder", "gains", "track 1").startswith("is set at a track, which has no gain")


def test_packets_of_no_length_are_told() -> None:
    rig = small_rig(RIG.replace('to: "recorder:net 1-3"}', 'to: "recorder:net 1-3", packet_time: 0 ms}'))
    assert _told(rig, "streams", "packs", "packet_time") == "is 0; write the length of a packet, for example 1 ms"


def test_a_network_socket_takes_one_cable_at_a_time() -> None:
    more = '  - {id: second, from: "receiver:net", to: "switch-cart:port-3"}\nstreams:'
    rig = small_rig(RIG.replace("streams:", more, 1))
    assert _told(rig, "links", "second", "from") == (
        "is receiver:net, where 'net-receiver' is plugged as well; a socket takes one cable"
    )


def test_a_socket_may_take_another_cable_in_another_position() -> None:
    more = '  - {id: second, from: "receiver:net", to: "switch-cart:port-3"}\nstreams:'
    text = RIG.replace("streams:", more, 1)
    text = text.replace("links: [boom-1-cable]", "links: [boom-1-cable, net-receiver]")
    text = text.replace("links: [boom-1-plug, boom-1-air]", "links: [boom-1-plug, boom-1-air, second]")
    assert small_rig(text).wrong == ()


def test_a_loop_is_found_beside_a_way_that_cannot_close_it() -> None:
    kit = KIT.replace(
        "{id: in, direction: in, medium: analogue}", "{id: in, direction: in, medium: analogue, channels: 2}"
    )
    kit = kit.replace(
        "{id: phones, direction: out, medium: air}",
        "{id: phones, direction: out, medium: air}\n      - {id: back, direction: out, medium: analogue, channels: 2}",
    )
    kit = kit.replace("passes: [{from: in, to: phones}]", "").replace(
        "count: 2, model: d-switch", "count: 3, model: d-switch"
    )
    kit += (
        "  - {id: d-second, name: Second, category: mixer, core: analogue, ports: [{id: in, direction: in, "
        "medium: analogue}, {id: out, direction: out, medium: analogue}]}\n"
    )
    kit = kit.replace("kinds:", "  - {id: second, name: Second, model: d-second}\nkinds:", 1)
    text = RIG.replace("  - {id: monitor}", "  - {id: monitor}\n  - {id: second}")
    text = text.replace(
        "streams:",
        '  - {id: there, from: "monitor:back 1", to: "second:in"}\n'
        '  - {id: back, from: "second:out", to: "monitor:in 2"}\nstreams:',
        1,
    )
    text = text.replace(
        "sources:",
        "  - {id: through, piece: second, from: in, to: out}\n"
        "  - {id: round-cable, piece: monitor, from: in 2, to: back 1}\n"
        "  - {id: round-radio, piece: monitor, from: in 2, to: back 1}\nsources:",
        1,
    ).replace("links: [boom-1-cable]", "links: [boom-1-cable, there], routes: [round-cable]")
    text = text.replace("links: [boom-1-plug, boom-1-air]", "links: [boom-1-plug, boom-1-air], routes: [round-radio]")
    text = text.replace('to: "monitor:in"}', 'to: "monitor:in 1"}')
    rig = build(part_of(text), kit_of(kit))
    assert [each.sentence.split(", through ")[0] for each in rig.wrong] == ["comes back to where it began"]
    once = text.replace(", routes: [round-radio]", "").replace(
        "  - {id: round-radio, piece: monitor, from: in 2, to: back 1}\n", ""
    )
    assert [each.at[1:] for each in build(part_of(once), kit_of(kit)).wrong] == [("links", "there")]
    apart = once.replace(", routes: [round-cable]", "").replace("boom-1-air]", "boom-1-air], routes: [round-cable]")
    assert build(part_of(apart), kit_of(kit)).wrong == (), "its two halves are never there at the same time"
