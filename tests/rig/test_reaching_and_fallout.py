"""What arrives, what changeovers lose and what failures cost, against brute force over every combination."""

from __future__ import annotations

import itertools

import pytest
from oracle import reached
from random_rigs import random_rig
from small_rigs import KIT, RIG, kit_of, part_of, small_rig

from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.changeovers import changes, sentence
from rollsound.rig.combining import combinations
from rollsound.rig.cures import cure
from rollsound.rig.fallout import Fallout
from rollsound.rig.model import RigPart
from rollsound.rig.reaching import Reaching, wanted_pairs

SEEDS = range(200)
_KINDS = {"piece", "link", "stream"}


def _wanted(rig: Rig) -> set[tuple[str, str]]:
    return {(source, target.partition(":")[2]) for source, target in wanted_pairs(rig) if target.startswith("track:")}


@pytest.mark.parametrize("first", range(0, 200, 50))
def test_what_arrives_agrees_with_a_search_of_every_combination(first: int) -> None:
    arrived = 0
    for seed in range(first, first + 50):
        rig = random_rig(seed)
        assert rig.wrong == ()
        reaching = Reaching(rig)
        for combination in combinations(rig.part.changeovers):
            expected = reached(rig, combination)
            found = {
                (source, target.partition(":")[2])
                for source, target in reaching.pairs()
                if reaching.reach(source, target).at(combination)
            }
            assert found == expected, f"seed {seed}, {combination}"
            arrived += len(found)
    assert arrived > 250  # the rigs of these seeds are no empty ones


@pytest.mark.parametrize("first", range(0, 200, 50))
def test_fallout_agrees_with_taking_each_thing_out_and_searching_again(first: int) -> None:
    lost = 0
    for seed in range(first, first + 50):
        rig = random_rig(seed, changeovers=1)
        fallout = Fallout(Reaching(rig))
        assert fallout.complete
        wanted = _wanted(rig)
        whole = [(each, reached(rig, each)) for each in combinations(rig.part.changeovers)]
        names = [f"piece:{each.id}" for each in rig.part.pieces] + [f"link:{each.id}" for each in rig.part.links]
        for element in [*names, *(f"stream:{each.id}" for each in rig.part.streams)]:
            expected = {
                track
                for combination, before in whole
                for source, track in (before - reached(rig, combination, {element})) & wanted
                if source
            }
            assert set(fallout.of(element).tracks) == expected, f"seed {seed}, {element}"
            lost += len(expected)
    assert lost > 200


def test_fallout_of_pairs_agrees_with_taking_both_out() -> None:
    found = 0
    for seed in range(30):
        rig = random_rig(seed, changeovers=0)
        fallout = Fallout(Reaching(rig))
        wanted, before = _wanted(rig), reached(rig, {})
        elements = [each for each in fallout.elements() if each.partition(":")[0] in _KINDS]
        alone = {each: before & wanted - reached(rig, {}, {each}) for each in elements}
        expected = {
            frozenset((one, other))
            for one, other in itertools.combinations(elements, 2)
            if (before & wanted) - reached(rig, {}, {one, other}) - alone[one] - alone[other]
        }
        assert {frozenset(loss.failed) for loss in fallout.pairs()} == expected, f"seed {seed}"
        found += len(expected)
    assert found > 100


def test_what_a_changeover_loses_agrees_with_every_combination() -> None:
    losses = 0
    for seed in range(60):
        rig = random_rig(seed)
        reaching = Reaching(rig)
        every = {tuple(sorted(each.items())): reached(rig, each) for each in combinations(rig.part.changeovers)}
        for change in changes(reaching):
            expected = set()
            for key, arrived in every.items():
                chosen = dict(key)
                if chosen[change.changeover] != change.before:
                    continue
                other = every[tuple(sorted({**chosen, change.changeover: change.after}.items()))]
                expected |= {(*each, change.after) for each in (arrived - other) & _wanted(rig)}
                expected |= {(*each, change.before) for each in (other - arrived) & _wanted(rig)}
            found = {(each.source, each.target.partition(":")[2], each.fails_in) for each in change.lost}
            assert found == expected, f"seed {seed}, {change.changeover}"
            losses += len(found)
            kept = {
                track
                for track in rig.tracks
                if all((source, track) in arrived for arrived in every.values() for source in rig.wanted(track))
            }
            assert set(change.kept) == kept
    assert losses > 50


@pytest.mark.source(
    "the same digital boom takes about +20 dB at the machine on cable, and at the transmitter on radio", kind="practice"
)
def test_a_boom_goes_from_cable_to_radio_without_a_patch() -> None:
    rig = small_rig()
    (change,) = changes(Reaching(rig))
    assert sentence(rig, change) == (
        "Boom 1, cable to radio: 0 re-patches, 1 unplug, 1 plug; "
        "+20 dB moves from Recorder, digital-mic 1 to Plug-on, mic"
    )
    assert change.kept == ("t1", "t2", "t3", "t4")
    assert all(each.gain_db == 0 for each in change.differences)


def test_a_fader_that_carries_another_source_is_told() -> None:
    text = RIG.replace(
        '{id: boom-1-radio-iso, piece: recorder, from: net 3, to: track 1, fader: "1"}',
        '{id: boom-1-radio-iso, piece: recorder, from: net 3, to: track 1, fader: "2"}',
    )
    (change,) = changes(Reaching(small_rig(text)))
    assert change.faders == ("1", "2")


def test_a_track_that_a_position_forgets_is_lost_and_named() -> None:
    text = RIG.replace("piece: recorder, from: net 3, to: track 1", "piece: recorder, from: net 3, to: track 4")
    (change,) = changes(Reaching(small_rig(text)))
    (lost,) = change.lost
    assert (lost.source, lost.target, lost.fails_in, lost.moved_to) == ("voice-boom-1", "track:t1", "radio", "track:t4")


def test_sixteen_changeovers_are_proven_without_walking_through_all() -> None:
    part = part_of().model_dump(by_alias=True, exclude_unset=True)
    spare = [{"id": f"spare-{n}", "from": "recorder:out 2", "to": f"monitor-{n}:in"} for n in range(15)]
    more = [{"id": f"c{n}", "positions": [{"id": "a"}, {"id": "b", "links": [f"spare-{n}"]}]} for n in range(15)]
    part["pieces"] = [*part["pieces"], *({"id": f"monitor-{n}", "item": "monitor"} for n in range(15))]
    part["links"] = [*part["links"], *spare]
    part["changeovers"] = [*part["changeovers"], *more]
    kit = kit_of(KIT.replace("{id: monitor, name: Headphone amplifier,", "{id: monitor, name: Amplifier, count: 16,"))
    reaching = Reaching(build(RigPart.model_validate(part), kit))
    assert reaching.combinations == 2**16
    assert all(reaching.reach(*pair).covered for pair in reaching.pairs())
    assert reaching.reach("voice-boom-1", "track:t1").changeovers == ("boom-1",)


def test_a_battery_takes_all_that_it_feeds() -> None:
    rig = small_rig()
    fallout = Fallout(Reaching(rig), {"cart": ["recorder", "switch-cart"]})
    assert fallout.of("supply:cart").uncovered == ("Bram", "Idris")
    assert fallout.of("piece:pack-2").uncovered == ("Idris",)
    # Bram is heard by Boom 1 as well
    loss = fallout.of("piece:pack-1")
    assert loss.uncovered == ()
    assert loss.covered_by == {"Bram": ("t1",)}


def test_the_cheapest_cure_of_a_network_cable_is_a_second_one_and_it_cures() -> None:
    rig = small_rig()
    fallout = Fallout(Reaching(rig))
    assert fallout.of("link:net-long").tracks
    told = cure(rig, "link:net-long")
    assert told.removes
    assert "switch-set, port-3, to switch-cart, port-3" in told.sentence
    text = RIG.replace(
        "  - {id: phones,",
        '  - {id: net-spare, from: "switch-set:port-3", to: "switch-cart:port-3"}\n  - {id: phones,',
    )
    assert not Fallout(Reaching(small_rig(text))).of("link:net-long").tracks


def test_gain_and_delay_are_compared_in_every_combination_of_the_rest() -> None:
    """The step shows only where another changeover has its second position."""
    text = RIG.rstrip("\n") + (
        "\n  - {id: second, positions: [{id: one, routes: [boom-1-radio-iso]}, {id: two, routes: [louder]}]}\n"
    )
    text = text.replace(
        "  - {id: boom-2-iso,",
        "  - {id: louder, piece: recorder, from: net 3, to: track 1, gain: 6 dB}\n  - {id: boom-2-iso,",
    )
    change = next(each for each in changes(Reaching(small_rig(text))) if each.changeover == "boom-1")
    assert {each.gain_db for each in change.differences if each.target == "track:t1"} == {6.0}


def test_a_master_that_fails_puts_the_tracks_at_risk_that_it_holds_together() -> None:
    fallout = Fallout(Reaching(small_rig()))
    losses = {loss.failed[0]: loss.at_risk for loss in fallout.single() if loss.failed[0].startswith("clock:")}
    # booms by cable and the packs' network follow the recorder, by radio the first boom follows its transmitter
    assert losses == {"clock:recorder": ("t1", "t2", "t3", "t4"), "clock:plug": ("t1",)}
