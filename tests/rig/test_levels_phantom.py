"""Phantom supply in rigs: who needs it, gets it, in every combination."""

from __future__ import annotations

import pytest
from level_rigs import KIT, level_rig

from rollsound.finding import Finding, Weight
from rollsound.rig.phantom_proofs import phantom
from rollsound.rig.reaching import Reaching

PLAIN = "{id: out, direction: out, medium: analogue}\n"
PATCH = """
  - id: k-patch
    name: Patch
    category: patch
    core: analogue
    ports:
      - {id: in, direction: in, medium: analogue}
      - {id: out, direction: out, medium: analogue}
    passes: [{from: in, to: out}]
"""
NEEDS = KIT.replace(PLAIN, PLAIN.replace("analogue}", "analogue, needs_supply: p48, draw: 4 mA}"), 1) + PATCH
NEEDS = NEEDS.replace("full_scale: +24 dBu, noise: -128 dBu", "full_scale: +24 dBu, noise: -128 dBu, supplies: p48")
NEEDS = NEEDS.replace("items:\n", "items:\n  - {id: patch, name: Patch, model: k-patch}\n")
RIG = """
pieces: [{id: boom}, {id: pack}, {id: patch}, {id: recorder}]
links:
  - {id: to-patch, from: "boom:out", to: "patch:in"}
  - {id: from-patch, from: "patch:out", to: "recorder:mic-in 1"}
  - {id: to-pack, from: "boom:out", to: "pack:mic-in"}
routes: [{id: iso, piece: recorder, from: mic-in 1, to: track 1}]
tracks: [{id: t1, number: 1, name: Boom}]
changeovers:
  - id: boom
    name: Boom
    positions: [{id: cable, links: [to-patch]}, {id: radio, links: [to-pack]}]
"""


def told(text: str, kit: str = NEEDS) -> list[Finding]:
    return list(phantom(Reaching(level_rig(text, kit))))


def test_supply_comes_through_a_patch_and_not_from_a_pack_in_the_other_position() -> None:
    (found,) = told(RIG)
    assert found.weight is Weight.STOP
    assert found.what == "Boom needs P48, and Pack, mic-in gives none with Boom: radio."
    assert told(RIG.replace("links: [to-pack]", "links: [to-patch]")) == []
    assert told(RIG, NEEDS.replace("full_scale: +6 dBu, noise: -120 dBu", "full_scale: +6 dBu, supplies: p48")) == []


def test_an_input_that_gives_none_is_told_without_a_choice_to_name() -> None:
    one = RIG.split("changeovers")[0].replace('  - {id: to-pack, from: "boom:out", to: "pack:mic-in"}\n', "")
    assert told(one) == []
    (found,) = told(one, NEEDS.replace(", supplies: p48", ""))
    assert found.what == "Boom needs P48, and Recorder, mic-in 1 gives none."


def test_a_microphone_that_is_plugged_nowhere_asks_nothing() -> None:
    assert told("pieces: [{id: boom}, {id: recorder}]\n") == []


@pytest.mark.source("IEC 61938, as quoted: 10 mA from P48", kind="published")
def test_a_microphone_that_draws_more_than_the_supply_gives_is_told() -> None:
    one = RIG.replace("links: [to-pack]", "links: [to-patch]")
    assert told(one, NEEDS.replace("draw: 4 mA", "draw: 10 mA")) == []
    (found,) = told(one, NEEDS.replace("draw: 4 mA", "draw: 11 mA"))
    assert found.weight is Weight.WATCH
    assert found.numbers["left_v"] == pytest.approx(48 - 0.011 * 3400)
