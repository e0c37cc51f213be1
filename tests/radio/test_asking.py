"""The radio part as a question for carriers: what is asked for, and every mistake at its place."""

from __future__ import annotations

from typing import Any

import pytest
import radio_parts
from hypothesis import given, settings
from hypothesis import strategies as st
from radio_parts import REGION, pack, part

from rollsound.errors import MistakesError
from rollsound.radio.asking import asked, task_of
from rollsound.radio.carriers.task import Occupied, Product, Task
from rollsound.radio.model import RadioPart
from rollsound.radio.raster import Raster, khz, mhz, span
from rollsound.radio.scan import read

MHZ = 1_000_000


def wrong(radio: RadioPart, **more: Any) -> list[tuple[str, str]]:
    """Path and sentence of every mistake."""
    return [(each.path, each.sentence) for each in asked(radio, **more).wrong]


def test_a_transmitter_as_it_is_asked_for() -> None:
    task = task_of(part(pack(frequency="500.025 MHz", on_air=True, zone="stage", priority=1, spares_wanted=2)))
    (one,) = task.wanted
    assert (one.low_hz, one.high_hz, one.step_hz, one.width_hz) == (470 * MHZ, 542 * MHZ, 25_000, 200_000)
    assert (one.now_hz, one.on_air, one.fixed, one.zone) == (500_025_000, True, False, "stage")
    assert (one.priority, one.spares, one.guard) == (1, 2, "microphone")


@pytest.mark.source("spacing 400 kHz, 100 and 50 kHz from products; 500, 150, 100 for strong ones", kind="practice")
def test_rules_by_kind_where_the_plan_has_none() -> None:
    task = task_of(
        part(pack("a"), pack("b", kind="monitor"), pack("c", power="250 mW"), pack("d", rule="spacing-only"))
    )
    assert [each.guard for each in task.wanted] == ["microphone", "high-power", "high-power", "spacing-only"]
    mic, strong, bare = (task.guards[name] for name in ("microphone", "high-power", "spacing-only"))
    third = (Product.TWO_THIRD, Product.THREE_THIRD, Product.TWO_FIFTH)
    assert (mic.spacing_hz, *(mic.protection_hz[form] for form in third)) == (400_000, 100_000, 50_000, 0)
    assert (strong.spacing_hz, *(strong.protection_hz[form] for form in third)) == (500_000, 150_000, 100_000, 0)
    assert set(bare.protection_hz.values()) == {0}


def test_rules_of_the_plan_go_before() -> None:
    radio = part(
        pack("a"),
        pack("b", rule="digital"),
        rules=[
            {"id": "body-pack", "spacing": "350 kHz", "2A-B": "80 kHz", "3A-2B": "40 kHz", "3A-B-C": "10 kHz"},
            {"id": "digital", "spacing": "300 kHz", "2A-B": "0 kHz", "A+B-C": "0 kHz"},
        ],
    )
    task = task_of(radio)
    assert [each.guard for each in task.wanted] == ["body-pack", "digital"]
    protection = task.guards["body-pack"].protection_hz
    assert protection[Product.TWO_FIFTH] == 40_000
    assert protection[Product.THREE_FIFTH] == protection[Product.THREE_FIFTH_MIXED] == 10_000
    assert task.guards["digital"].spacing_hz == 300_000


def test_what_is_common_is_said() -> None:
    assert any("400 kHz between microphones" in note for note in asked(part(pack())).notes)
    assert asked(part(pack(rule="spacing-only"))).notes == ()


def test_tuning_comes_from_the_kind_when_the_transmitter_has_none() -> None:
    kinds = [{"id": "small", "tuning": "520-560 MHz", "step": "100 kHz", "width": "150 kHz"}]
    bare = {"id": "a", "name": "A", "model": "small"}
    one, own = task_of(part(bare, {**bare, "id": "b", "tuning": "530-540 MHz"}, transmitter_kinds=kinds)).wanted
    assert (one.low_hz, one.high_hz, one.step_hz, one.width_hz) == (520 * MHZ, 560 * MHZ, 100_000, 150_000)
    assert (own.low_hz, own.high_hz, own.step_hz) == (530 * MHZ, 540 * MHZ, 100_000)


def test_only_what_is_on_the_site() -> None:
    radio = part(
        pack("a", sites=["deck"]),
        pack("b"),
        pack("c", sites=["quay"]),
        excluded=[
            {"id": "d", "range": "480-490 MHz", "guard": "0 kHz", "sites": ["deck"]},
            {"id": "q", "range": "500-510 MHz", "guard": "0 kHz", "sites": ["quay"]},
        ],
    )
    at_deck = task_of(radio, sites=["deck"])
    assert [each.id for each in at_deck.wanted] == ["a", "b"]
    assert at_deck.occupied == (Occupied(480 * MHZ, 490 * MHZ, 0, "excluded: d"),)
    everywhere = task_of(radio)
    assert len(everywhere.wanted) == 3
    assert len(everywhere.occupied) == 2


def test_a_scan_takes_what_lies_above_its_threshold() -> None:
    scan = {"id": "noon", "file": "noon.csv", "threshold": "-85 dBm", "guard": "50 kHz"}
    levels = read("MHz;dBm\n500;-100\n500.1;-80\n500.2;-100\n", "noon.csv")
    radio = part(pack(), scans=[scan])
    expected = Occupied(500_050_000, 500_150_000, 50_000, "scan noon, −80 dBm")
    assert task_of(radio, scans={"noon": levels}).occupied == (expected,)
    assert task_of(radio).occupied == ()
    unused = part(pack(), scans=[{**scan, "used": False}])
    assert task_of(unused, scans={"noon": levels}).occupied == ()
    assert wrong(radio, scans={}) == [
        (
            "/radio/scans/noon/file",
            "names the file 'noon.csv', which was not read; put it there, or write 'used: false'",
        )
    ]


def test_only_what_the_region_lists() -> None:
    wide = pack("a", tuning="470-694 MHz")
    task = task_of(part(wide, region="here", regions=[REGION]))
    assert (task.wanted[0].low_hz, task.wanted[0].high_hz) == (470 * MHZ, 694 * MHZ)
    assert task.wanted[0].occupied == (Occupied(608 * MHZ, 614 * MHZ, 0, "not listed for a body pack in Here"),)
    ears = task_of(part(pack(kind="monitor", tuning="823-865 MHz"), region="here", regions=[REGION]))
    assert (ears.wanted[0].low_hz, ears.wanted[0].high_hz) == (863 * MHZ, 865 * MHZ)


def test_what_is_not_allowed_lies_in_nothing_that_is() -> None:
    closed = {"id": "no", "range": "490-500 MHz", "power": "0 mW", "licence": "not allowed"}
    region = {**REGION, "bands": [*REGION["bands"], closed]}
    task = task_of(part(pack(), region="here", regions=[region]))
    assert (task.wanted[0].low_hz, task.wanted[0].high_hz) == (470 * MHZ, 542 * MHZ)
    assert [(each.low_hz, each.high_hz) for each in task.wanted[0].occupied] == [(490 * MHZ, 500 * MHZ)]


def test_too_much_power_is_planned_and_left_to_the_proofs() -> None:
    weak = {"id": "weak", "range": "542-560 MHz", "power": "10 mW"}
    region = {**REGION, "bands": [REGION["bands"][0] | {"range": "470-542 MHz"}, weak]}

    def tuned(**more: Any) -> tuple[int, int]:
        (one,) = task_of(part(pack(tuning="500-560 MHz", **more), region="here", regions=[region])).wanted
        return one.low_hz // MHZ, one.high_hz // MHZ

    assert tuned(power="10 mW") == (500, 560)
    assert tuned(power="50 mW") == (500, 542)  # only where as much is listed
    assert tuned(power="250 mW") == (500, 560)  # nowhere: it can be turned down


RECEIVER = {"id": "rack", "name": "Rack", "channels": 2, "hears": ["p1"]}


def heard(**more: Any) -> Task:
    return task_of(part(pack(), receivers=[{**RECEIVER, **more}]))


def test_a_transmitter_lies_on_the_receivers_raster_too() -> None:
    (one,) = heard(tuning="500.0125-512.0125 MHz", step="37.5 kHz").wanted
    assert (one.low_hz, one.high_hz, one.step_hz) == (500_012_500, 512_012_500, 75_000)
    assert (one.origin_hz - 470 * MHZ) % 25_000 == 0
    assert (one.origin_hz - 500_012_500) % 37_500 == 0


def test_a_receivers_window_binds_what_it_hears() -> None:
    task = heard(window="20 MHz")
    assert task.windows_hz == {"rack": 20 * MHZ}
    assert task.wanted[0].within == "rack"
    assert heard().windows_hz == {}


RASTERS = st.builds(
    Raster,
    st.just(0),
    st.just(5000),
    st.integers(1, 60),
    st.integers(-100, 100),
)


@settings(max_examples=100, deadline=None)
@given(RASTERS, RASTERS)
def test_both_rasters_meet_where_their_places_do(one: Raster, other: Raster) -> None:
    def places(raster: Raster) -> set[int]:
        return {at for at in range(4000) if (at - raster.origin_hz) % raster.step_hz == 0}

    both = one.both(other)
    assert (places(both) if both is not None else set()) == places(one) & places(other)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 300), st.integers(0, 300), st.integers(1, 40), st.integers(-50, 50), st.integers(0, 80))
def test_places_are_counted(low: int, room: int, step: int, origin: int, width: int) -> None:
    raster = Raster(low, low + room, step, origin)
    half = -(-width // 2)
    inside = [at for at in range(low + half, low + room - half + 1) if (at - origin) % step == 0]
    assert raster.places(width) == len(inside)


def test_frequencies_as_people_write_them() -> None:
    assert mhz(470_000_000) == "470 MHz"
    assert mhz(470_125_000) == "470.125 MHz"
    assert mhz(470_012_500) == "470.0125 MHz"
    assert mhz(470_100_000) == "470.100 MHz"
    assert khz(62_500) == "62.5 kHz"
    assert khz(-400_000) == "−400 kHz"
    assert khz(1_200_000) == "1,200 kHz"
    assert span(470e6, 542e6) == "470-542 MHz"


MISTAKES: dict[str, tuple[RadioPart, str, str]] = {
    "no range": (part({"id": "a", "name": "A"}), "/radio/transmitters/a/tuning", "has no tuning range"),
    "step that does not divide": (
        part(pack(tuning="470-542 MHz", step="35 kHz")),
        "/radio/transmitters/p1/step",
        "is 35 kHz, which does not divide the range 470-542 MHz; write one that does, or the range 470-541.995 MHz",
    ),
    "step of nothing": (part(pack(step="0 kHz")), "/radio/transmitters/p1/step", "has a step of nothing"),
    "step of a hertz": (part(pack(step="1 Hz")), "/radio/transmitters/p1/step", "71,800,001 places"),
    "finer than a hertz": (part(pack(step="0.5 Hz")), "/radio/transmitters/p1/step", "whole hertz are wanted"),
    "range too narrow": (
        part(pack(tuning="470-470.1 MHz")),
        "/radio/transmitters/p1/tuning",
        "has no place for a signal of 200 kHz between 470-470.100 MHz",
    ),
    "outside the region": (
        part(pack(tuning="700-750 MHz"), region="here", regions=[REGION]),
        "/radio/transmitters/p1/tuning",
        "is 700-750 MHz, outside of what Here lists for a body pack: 470-608 MHz, 614-694 MHz; check your licence",
    ),
    "unknown region": (
        part(pack(), region="hree", regions=[REGION]),
        "/radio/region",
        "names the region 'hree', which is not there; perhaps 'here' was meant",
    ),
    "unknown rule": (part(pack(rule="microfone")), "/radio/transmitters/p1/rule", "perhaps 'microphone' was meant"),
    "unknown model": (part(pack(model="x")), "/radio/transmitters/p1/model", "names the kind of transmitter 'x'"),
    "fixed without frequency": (
        part(pack(fixed=True)),
        "/radio/transmitters/p1/frequency",
        "is fixed and has no frequency; write the one that it has",
    ),
    "fixed outside its range": (
        part(pack(fixed=True, frequency="600 MHz")),
        "/radio/transmitters/p1/frequency",
        "is fixed at 600 MHz, where a signal of 200 kHz leaves the range 470-542 MHz",
    ),
    "fixed carriers that collide": (
        part(pack("a", fixed=True, frequency="500 MHz"), pack("b", fixed=True, frequency="500.1 MHz")),
        "/radio/transmitters/b/frequency",
        "is fixed at 500.100 MHz, 100 kHz from 'a', which is fixed too: they collide already",
    ),
    "nothing excluded": (part(pack(), excluded=[{"id": "x"}]), "/radio/excluded/x", "neither a range nor television"),
    "channel without raster": (
        part(pack(), excluded=[{"id": "x", "channels": [38]}]),
        "/radio/excluded/x/channels",
        "names television channel 38",
    ),
    "hears who is not there": (
        part(pack(), receivers=[{**RECEIVER, "hears": ["p11"]}]),
        "/radio/receivers/rack/hears",
        "names the transmitter 'p11', which is not there; perhaps 'p1' was meant",
    ),
    "hears one twice": (
        part(pack(), receivers=[{**RECEIVER, "hears": ["p1", "p1"]}]),
        "/radio/receivers/rack/hears",
        "names 'p1' twice",
    ),
    "two on one channel": (
        part(pack(), pack("p2"), pack("p3"), receivers=[{**RECEIVER, "hears": ["p1", "p2", "p3"]}]),
        "/radio/receivers/rack/hears",
        "names 3 transmitters for 2 channels: two would share one",
    ),
    "receiver tunes elsewhere": (
        part(pack(), receivers=[{**RECEIVER, "tuning": "550-600 MHz"}]),
        "/radio/receivers/rack/hears",
        "tunes 550-600 MHz, and P1 470-542 MHz: no frequency is on both",
    ),
    "rasters that never meet": (
        part(pack(step="100 kHz"), receivers=[{**RECEIVER, "tuning": "470.05-542.05 MHz", "step": "100 kHz"}]),
        "/radio/receivers/rack/hears",
        "they never meet",
    ),
    "two windows": (
        part(
            pack(),
            pack("p2"),
            receivers=[
                {**RECEIVER, "window": "5 MHz"},
                {**RECEIVER, "id": "two", "window": "9 MHz", "hears": ["p1", "p2"]},
            ],
        ),
        "/radio/transmitters/p1",
        "is heard by rack and two, and each has a window of its own",
    ),
    "far too many": (
        RadioPart.model_construct(transmitters=part(pack()).transmitters * 2001),
        "/radio/transmitters",
        "has 2,001 transmitters",
    ),
}


@pytest.mark.parametrize(("radio", "path", "said"), MISTAKES.values(), ids=list(MISTAKES))
def test_each_mistake_is_told_at_its_place(radio: RadioPart, path: str, said: str) -> None:
    found = wrong(radio)
    assert [each[0] for each in found] == [path]
    assert said in found[0][1]
    assert not found[0][1].endswith(".")


def test_all_mistakes_are_told_at_once() -> None:
    radio = part(
        pack("a", step="35 kHz"),
        pack("b", rule="none-such"),
        {"id": "c", "name": "C"},
        pack("d"),
        excluded=[{"id": "x"}],
        receivers=[{"id": "r", "name": "R", "hears": ["nobody"]}],
    )
    with pytest.raises(MistakesError) as caught:
        task_of(radio, document="ferry.yaml")
    places = [each.place for each in caught.value.mistakes]
    assert places == [
        "excluded x",
        "receivers r, hears",
        "transmitters a, step",
        "transmitters b, rule",
        "transmitters c, tuning",
    ]
    assert caught.value.sentence.startswith("ferry.yaml has 5 mistakes: ")
    assert [each.id for each in asked(radio).task.wanted] == ["d"]


def test_fixed_carriers_may_lie_close_on_sites_that_never_meet() -> None:
    close = [{"fixed": True, "frequency": "500 MHz", "sites": [site]} for site in ("deck", "quay")]
    assert wrong(part(pack("a", **close[0]), pack("b", **close[1]))) == []
    beside = part(pack("a", fixed=True, frequency="500 MHz"), pack("b", fixed=True, frequency="500.2 MHz"))
    assert wrong(beside) == []  # closer than is wise, and told by the check; but no collision


def test_what_has_no_frequency_is_not_kept_on_the_air() -> None:
    assert not task_of(part(pack(on_air=True))).wanted[0].on_air


def test_a_carrier_that_may_move_may_lie_anywhere_now() -> None:
    assert wrong(part(pack(frequency="600 MHz"))) == []


def test_five_hundred_transmitters_in_one_megahertz_are_asked_for_in_a_moment() -> None:
    radio = part(*[pack(f"p{n}", tuning="470-471 MHz") for n in range(500)])
    assert len(task_of(radio).wanted) == 500


def test_the_parts_of_these_tests_hold() -> None:
    assert wrong(part(radio_parts.pack(), region="here", regions=[REGION])) == []
