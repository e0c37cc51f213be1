"""Clocks asked over the changeovers that they depend on: the same answers as over every combination, and few."""

from __future__ import annotations

import copy
import random

import pytest
from random_rigs import _KINDS, random_rig
from small_rigs import KIT, RIG, small_rig

from rollsound.kit.model import KitPart
from rollsound.rig import clock_proofs
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.clock_proofs import clocking
from rollsound.rig.clocks import clocks, digital_links, has_clock
from rollsound.rig.combining import combinations
from rollsound.rig.model import Link, Position
from rollsound.rig.reaching import Reaching


def _everywhere(rig: Rig) -> set[tuple[str, ...]]:
    """What is wrong, asked of everything in every combination."""
    found: set[tuple[str, ...]] = set()
    for combination in combinations(rig.part.changeovers):
        following = clocks(rig, combination)
        for id, piece in rig.pieces.items():
            if has_clock(piece) and not piece.carries_network:
                found |= {key for key, _ in clock_proofs._masters(rig, id, combination, "")}
        for each in following.values():
            found |= {key for key, _ in clock_proofs._follows(rig, each, combination, "")}
        for way, id, one, out, other, into in digital_links(rig, combination):
            found |= {key for key, _ in clock_proofs._hop(rig, following, (way, id), (one, out), (other, into), "")}
    return found


def _clocked(seed: int) -> Rig:
    """A random rig with cables for word clock, and with clocks chosen by chance, at pieces and in positions."""
    chance = random.Random(seed)
    drawn = random_rig(seed)
    kinds = copy.deepcopy(_KINDS)
    for kind in kinds:
        if kind.get("core") == "digital":
            kind["ports"].append({"id": "word-in", "direction": "in", "medium": "word clock"})
            kind["ports"].append({"id": "word-out", "direction": "out", "medium": "word clock"})
            kind["clock"] = chance.choice(["own", "follows", "either"])
    able = {id: ["net", "word-in"] for id, piece in drawn.pieces.items() if piece.digital}
    links = [
        Link.model_validate(
            {"id": f"word-{id}", "from": f"{chance.choice(list(able))}:word-out", "to": f"{id}:word-in"}
        )
        for id in able
    ]
    links = [each for each in links if each.from_.split(":")[0] != each.to.split(":")[0]]

    def position(one: Position) -> Position:
        turned = tuple(each.id for each in links if chance.random() < 0.3)
        named = {id: chance.choice(["internal", *ports]) for id, ports in able.items() if chance.random() < 0.3}
        return one.model_copy(update={"links": (*one.links, *turned), "clocks": named})

    changeovers = tuple(
        each.model_copy(update={"positions": tuple(map(position, each.positions))}) for each in drawn.part.changeovers
    )
    pieces = tuple(
        each.model_copy(update={"clock": chance.choice(["", "internal", *able[each.id]]) if each.id in able else ""})
        for each in drawn.part.pieces
    )
    items = {each.item.id: each.item for each in drawn.pieces.values()}
    kit = KitPart.model_validate({"kinds": kinds}).model_copy(update={"items": tuple(items.values())})
    part = drawn.part.model_copy(
        update={"pieces": pieces, "links": (*drawn.part.links, *links), "changeovers": changeovers}
    )
    return build(part, kit)


def test_cones_find_what_every_combination_finds() -> None:
    wrong = 0
    for seed in range(80):
        rig = _clocked(seed)
        assert rig.wrong == ()
        answers = {
            key
            for own, questions in clock_proofs._questions(rig).items()
            for combination in combinations(rig.part.changeovers, only=own)
            for question in questions
            for key, _ in question(combination, clocks(rig, combination), "")
        }
        assert answers == _everywhere(rig), f"seed {seed}"
        assert len(list(clocking(Reaching(rig)))) == len(answers)
        wrong += len(answers)
    assert wrong > 100


def test_booms_changed_over_each_for_itself_are_asked_about_each_for_itself() -> None:
    packs = [f"more-{n}" for n in range(40)]
    kit = KIT.replace("name: Body pack, count: 2", "name: Body pack, count: 99")
    rows = "".join(f"  - {{id: {id}, item: pack}}\n" for id in packs)
    turned = "".join(
        f"  - {{id: turn-{id}, positions: [{{id: a, clocks: {{{id}: internal}}}}, {{id: b}}]}}\n" for id in packs
    )
    rig = small_rig(RIG.replace("links:\n", f"{rows}links:\n", 1) + turned, kit)
    assert len(rig.part.changeovers) == 41
    assert list(clocking(Reaching(rig))) == []


def test_a_clock_that_only_a_position_names_must_arrive_there() -> None:
    out = "- {id: out, direction: out, medium: analogue, channels: 2,"
    kit = KIT.replace(out, f"- {{id: word-in, direction: in, medium: word clock}}\n      {out}")
    text = RIG.replace("{id: radio, name: radio,", "{id: radio, name: radio, clocks: {recorder: word-in},")
    (found,) = [each for each in clocking(Reaching(small_rig(text, kit))) if each.subject == "Recorder"]
    assert found.what == "Recorder is to follow the clock at word-in, where none arrives with Boom 1: radio."
    assert found.remedy


def test_two_masters_are_told_which_port_to_follow() -> None:
    kit = KIT.replace(
        "{id: net, direction: both, medium: network, channels: 4}",
        "{id: stage, direction: both, medium: network, channels: 4}",
    )
    kit = kit.replace("passes: [{from: air 1-4, to: net 1-4}]", "passes: [{from: air 1-4, to: stage 1-4}]")
    text = RIG.replace("receiver:net", "receiver:stage").replace("clock: net}", "clock: internal}")
    (found,) = [each for each in clocking(Reaching(small_rig(text, kit))) if each.kind == "two masters"]
    assert "Recorder" in found.what
    assert "'clock: stage' at Receiver" in found.remedy or "'clock: net' at Recorder" in found.remedy


def test_clocks_that_were_not_looked_at_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock_proofs, "MOST_COMBINATIONS", 1)
    (found,) = [each for each in clocking(Reaching(small_rig())) if "looked at" in each.what]
    assert found.remedy
    assert "1 of the 2 combinations" in found.what
