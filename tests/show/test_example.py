"""The demo's plan: whole, without findings, and of one mind with the demo's day."""

from __future__ import annotations

from datetime import date

import pytest

from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.example import example_plan_text
from rollsound.demo.scenario import BOOMS, MIX, MUSIC
from rollsound.finding import Weight
from rollsound.show.model import Plan
from rollsound.show.proofs import proofs_of
from rollsound.show.text import read_plan, write_text


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_plan(example_plan_text())[0]


def test_it_is_written_as_our_own_export_writes_it() -> None:
    text = example_plan_text()
    read = read_plan(text)[1]
    assert write_text(read.document, read.comments) == text


def test_every_proof_of_the_document_holds() -> None:
    plan, read = read_plan(example_plan_text())
    assert {finding.weight for finding in proofs_of(plan, read.document)} == {Weight.FINE}


def test_day_four_is_the_day_that_the_demo_synthesises(plan: Plan) -> None:
    day = next(day for day in plan.schedule.days if day.number == 4)
    assert day.date == date.fromisoformat(DAY_FOUR.date)
    assert set(day.scenes) == {take.scene for take in DAY_FOUR.takes}
    names = {site.id: site.name.lower() for site in plan.sites}
    played = list(dict.fromkeys(str(take.site.value) for take in DAY_FOUR.takes))
    assert len(day.sites) == len(played)
    assert all(words.lower() in names[site] for site, words in zip(day.sites, played, strict=True))
    assert [media.day for media in plan.media] == [day.id]
    assert plan.show.title == DAY_FOUR.project


def test_every_track_of_the_day_is_a_track_of_the_plan_and_every_radio_track_has_a_pack(plan: Plan) -> None:
    tracks = {track.name for track in plan.rig.tracks}
    radios = {name for block in DAY_FOUR.blocks for name in block.radios}
    assert tracks == {*MIX, *BOOMS, *radios, *MUSIC}
    packs = [each for each in plan.radio.transmitters if each.kind in ("body pack", "plant")]
    assert len(packs) == 14
    assert {pack.wearer for pack in packs} == radios
    sources = {track.name: track.source for track in plan.rig.tracks}
    assert all(sources[pack.wearer] == pack.id for pack in packs)
    assert all(each.power_mw and each.tuning_hz for each in plan.radio.transmitters)


def test_the_truck_is_as_large_as_the_story_needs(plan: Plan) -> None:
    kinds = [each.kind for each in plan.radio.transmitters]
    assert kinds.count("boom") == 3
    assert kinds.count("monitor") + kinds.count("talkback") == 4
    assert len(plan.sites) == 3
    assert [day.number for day in plan.schedule.days] == list(range(1, 13))
    assert len(plan.kit.items) >= 40
    assert [person.role for person in plan.people].count("mixer") == 1
