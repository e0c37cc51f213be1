"""Ways in: each is carried out again here, from its words alone, and held against the independent checker."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import brute
import made
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.radio.carriers import instances
from rollsound.radio.carriers.answer import Relaxation
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.relax import reasons
from rollsound.radio.carriers.task import Guard, Occupied, Product, Task, Wanted

DATA = Path(__file__).parents[2] / "reference" / "carriers"
KHZ = 1_000
MHZ = 1_000_000
MIC = Guard("mic", 400 * KHZ, {Product.TWO_THIRD: 100 * KHZ, Product.THREE_THIRD: 50 * KHZ})


def read(name: str) -> Task:
    """One of the instances."""
    return instances.read((DATA / f"{name}.json").read_text("utf-8"), name)[0]


def fill(task: Task, seed: int) -> tuple[dict[str, int], list[str]]:
    """Place one after the other wherever it is clear; who is left finds nothing clear."""
    rng = np.random.default_rng(seed)
    carriers: dict[str, int] = {}
    left: list[str] = []
    for each in task.wanted:
        room = free(task, carriers, each)
        clear = room.freqs_hz[room.margin_hz >= 0]
        if each.fixed:
            clear = clear[clear == each.now_hz]
        if clear.size:
            carriers[each.id] = int(rng.choice(clear))
        else:
            left.append(each.id)
    return carriers, left


def number(text: str) -> int:
    """Hertz of a number in MHz."""
    return round(float(text) * 1e6)


def carried_out(task: Task, carriers: dict[str, int], id: str, offer: Relaxation) -> tuple[Task, dict[str, int]]:
    """The task and the carriers after an offer, understood from the sentence that people read."""
    what = offer.what
    wanted = {each.id: each for each in task.wanted}
    carriers = {**carriers, id: offer.freq_hz}
    if offer.kind == "move":
        match = re.match(r"move (\S+) from ([\d.]+) MHz to ([\d.]+) MHz", what)
        assert match is not None
        assert carriers[match[1]] == number(match[2])
        carriers[match[1]] = number(match[3])
    elif offer.kind == "fewer":
        match = re.match(r"leave out (\S+):", what)
        assert match is not None
        del carriers[match[1]]
    elif offer.kind == "zone":
        match = re.match(r"use it in zone (\S+),", what)
        own = "unnamed" if "zone of its own" in what else "" if match is None else match[1]
        wanted[id] = replace(wanted[id], zone=own)
    elif offer.kind == "range":
        match = re.search(r"from ([\d.]+) to ([\d.]+) MHz", what)
        assert match is not None
        wanted[id] = replace(wanted[id], low_hz=number(match[1]), high_hz=number(match[2]))
    elif offer.kind == "receiver":
        wanted[id] = replace(wanted[id], within="")
    elif offer.kind == "guard":
        match = re.match(r"keep ([\d.]+) kHz in place of ([\d.]+) kHz", what)
        assert match is not None
        less = round((float(match[2]) - float(match[1])) * 1e3)
        nearer = tuple(replace(taken, guard_hz=max(taken.guard_hz - less, 0)) for taken in task.occupied)
        task = replace(task, occupied=nearer)
    elif offer.kind == "rule off":
        match = re.search(r", (\S+):", what)
        assert match is not None
        task = protected(task, {Product(match[1]): 0})
    else:
        assert offer.kind == "protection"
        parts = re.findall(r"([\d.]+) kHz in place of [\d.]+ kHz against products of \w+ carriers, ([^\s,:]+)", what)
        assert parts
        task = protected(task, {Product(form): round(float(kept) * 1e3) for kept, form in parts})
    return replace(task, wanted=tuple(wanted.values())), carriers


def protected(task: Task, most: dict[Product, int]) -> Task:
    """The same with no protection above these."""
    guards = {
        name: replace(guard, protection_hz={p: min(v, most.get(p, v)) for p, v in guard.protection_hz.items()})
        for name, guard in task.guards.items()
    }
    return replace(task, guards=guards)


def all_offers(task: Task, carriers: dict[str, int], left: list[str]) -> Iterator[tuple[str, Relaxation]]:
    """Every offer to every one that is left."""
    for unplaced in reasons(task, carriers, left):
        assert unplaced.why.endswith(".")
        costs = [offer.cost for offer in unplaced.relaxations]
        assert costs == sorted(costs)
        for offer in unplaced.relaxations:
            yield unplaced.id, offer


@pytest.mark.parametrize("name", ["S4_8", "S4_6", "S1b", "S2", "S3m"])
def test_every_offer_lets_it_in(name: str) -> None:
    task = read(name)
    kinds = set()
    for seed in (1, 2):
        carriers, left = fill(task, seed)
        assert left
        assert brute.broken(task, carriers) == []
        # two that are alike hear the same; one of each sort is enough here
        sorts = {each.guard: each.id for each in task.wanted if each.id in left}
        for id, offer in all_offers(task, carriers, list(sorts.values())):
            kinds.add(offer.kind)
            assert brute.broken(*carried_out(task, carriers, id, offer)) == []
    assert {"zone", "rule off", "range", "fewer"} <= kinds


@settings(max_examples=60, deadline=None)
@given(made.tasks(), st.integers(0, 5))
def test_every_offer_lets_it_in_whatever_is_asked(task: Task, seed: int) -> None:
    carriers, left = fill(task, seed)
    before = brute.broken(task, carriers)
    assert before == []
    for id, offer in all_offers(task, carriers, left):
        assert brute.broken(*carried_out(task, carriers, id, offer)) == []


def test_all_that_are_left_are_told_of_in_order() -> None:
    task = read("S4_6")
    carriers, left = fill(task, 3)
    found = reasons(task, carriers, left)
    assert [each.id for each in found] == left
    assert len({each.why for each in found}) == 1
    assert reasons(task, carriers, left) == found
    assert reasons(task, carriers, ["nobody"]) == ()


def test_the_reasons_come_in_time() -> None:
    task = read("S3m")
    carriers, left = fill(task, 1)
    reasons(task, carriers, left)
    times = []
    for _ in range(2):
        started = time.thread_time()
        reasons(task, carriers, left)
        times.append(time.thread_time() - started)
    assert min(times) < 2.0
    # without tries nothing is offered, and the sentence is still there
    bare = reasons(task, carriers, left, tries=0)
    assert all(each.relaxations == () and each.why for each in bare)


def mic(id: str, low: int = 470, high: int = 472, **more: object) -> Wanted:
    """A microphone that tunes between two whole megahertz."""
    asked = Wanted(id, "mic", low * MHZ, high * MHZ, 25 * KHZ, low * MHZ, 200 * KHZ)
    return replace(asked, **more)  # type: ignore[arg-type]


def test_why_nothing_is_there_at_all() -> None:
    everything = Task({"mic": MIC}, (mic("a"),), (Occupied(469 * MHZ, 473 * MHZ, 0, "television"),))
    (found,) = reasons(everything, {}, ["a"])
    assert "all from 470 to 472 MHz is occupied" in found.why
    assert {offer.kind for offer in found.relaxations} == {"range"}
    off = Task({"mic": MIC}, (mic("a", step_hz=7 * MHZ, origin_hz=469 * MHZ),))
    assert "no step of 7000 kHz" in reasons(off, {}, ["a"])[0].why
    far = Task({"mic": MIC}, (mic("a", within="r"), mic("b", 480, 482, within="r")), windows_hz={"r": 2 * MHZ})
    (found,) = reasons(far, {"b": 481 * MHZ}, ["a"])
    assert "its receiver r" in found.why
    assert "receiver" in {offer.kind for offer in found.relaxations}


def test_the_guard_to_television_is_the_way_in_when_it_is_what_is_in_the_way() -> None:
    task = Task({"mic": MIC}, (mic("a"),), (Occupied(471 * MHZ, 480 * MHZ, 900 * KHZ, "television"),))
    (found,) = reasons(task, {}, ["a"])
    first = found.relaxations[0]
    assert first.kind == "guard"
    assert "keep 800 kHz in place of 900 kHz" in first.what
    assert first.freq_hz == 470_100_000


def test_the_sentence_names_what_is_in_the_way() -> None:
    task = Task({"mic": MIC}, (mic("a"), mic("b", low_hz=470_700_000, high_hz=470_950_000)))
    (found,) = reasons(task, {"a": 470_500_000}, ["b"])
    assert "at the nearest, 470.850 MHz, it lies 350 kHz from a, where 400 kHz are asked" in found.why
    assert any(offer.what.startswith("move a from 470.500 MHz to ") for offer in found.relaxations)


def test_nobody_fixed_is_moved_and_a_fixed_one_is_not_moved_itself() -> None:
    task = Task(
        {"mic": MIC}, (mic("a", fixed=True, now_hz=470_500_000), mic("b", low_hz=470_700_000, high_hz=470_950_000))
    )
    (found,) = reasons(task, {"a": 470_500_000}, ["b"])
    assert not {"move", "fewer"} & {offer.kind for offer in found.relaxations}
    other = Task({"mic": MIC}, (mic("a"), mic("b", fixed=True, now_hz=470_800_000)))
    (found,) = reasons(other, {"a": 470_500_000}, ["b"])
    assert "it is fixed at 470.800 MHz" in found.why
    assert {offer.freq_hz for offer in found.relaxations} == {470_800_000}
