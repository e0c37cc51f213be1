"""The one sentence, the six areas, and what stands under them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.finding import Area, Finding, Weight
from rollsound.review.model import AreaFigure, Proof, Told
from rollsound.review.ready import NOTHING_HERE, in_words, places_of, verdict_of

Make = Callable[..., Any]


def test_without_proofs_nothing_is_claimed() -> None:
    verdict = verdict_of([])
    assert verdict.sentence == "Nothing is proven yet."
    assert (verdict.holds, verdict.total) == (0, 0)
    assert [each.area for each in verdict.areas] == list(Area)
    assert {(each.figure, each.sentence) for each in verdict.areas} == {("", NOTHING_HERE)}


SENTENCES = [
    ([("stop", False), ("stop", False), ("fine", False)], "Two things would stop the roll."),
    ([("stop", False)], "One thing would stop the roll."),
    ([("stop", False)] * 13, "13 things would stop the roll."),
    ([("stop", False), ("stop", True)], "One thing would stop the roll; one more spoils what is recorded."),
    (
        [("stop", False), ("stop", True), ("stop", True)],
        "One thing would stop the roll; two more spoil what is recorded.",
    ),
    ([("stop", True), ("watch", False)], "Nothing would stop the roll; one thing spoils what is recorded."),
    ([("stop", True), ("stop", True)], "Nothing would stop the roll; two things spoil what is recorded."),
    ([("watch", False)] * 3, "Nothing would stop the roll; three things deserve a look."),
    ([("watch", True), ("fine", False)], "Nothing would stop the roll; one thing deserves a look."),
    ([("fine", False)] * 43, "Ready: all 43 proofs hold."),
    ([("fine", False)], "Ready: the one proof holds."),
]


@pytest.mark.parametrize(("weights", "sentence"), SENTENCES)
def test_the_sentence(weights: list[tuple[str, bool]], sentence: str, tell: Make, prove: Make) -> None:
    proofs = [prove(tell(weight, f"Thing {n}"), recorded=recorded) for n, (weight, recorded) in enumerate(weights)]
    others = [prove(area=area.value) for area in Area if area is not Area.SIGNAL]
    whole = verdict_of([*proofs, *others]).sentence
    assert whole == (f"Ready: all {len(proofs) + 5} proofs hold." if sentence.startswith("Ready") else sentence)
    partly = sentence.replace("Nothing would stop", "Nothing that was checked would stop")
    if sentence.startswith("Ready"):
        partly = "Nothing that was checked would stop the roll; radio, reach, power, sync and media are not proven."
    assert verdict_of(proofs).sentence == partly


def test_ready_is_said_only_when_everything_was_checked(prove: Make) -> None:
    every = [prove(area=area.value) for area in Area]
    assert verdict_of(every).sentence == "Ready: all 6 proofs hold."
    gap = verdict_of(every, gaps=["Day 4: 2 takes were not measured yet."])
    assert gap.sentence == "Nothing that was checked would stop the roll; not everything could be checked."
    assert verdict_of(every[:5]).sentence == "Nothing that was checked would stop the roll; media is not proven."


def test_a_figure_does_not_stand_beside_the_weight_of_something_else(prove: Make, tell: Make) -> None:
    figures = {Area.MEDIA: AreaFigure(figure="0.4 days", sentence="of room", weight=Weight.WATCH)}
    room = prove(tell("watch", "room", area="media"), area="media")
    lost = prove(tell("stop", "lost", area="media"), area="media")
    alone, beside = (
        next(each for each in verdict_of(proofs, figures).areas if each.area is Area.MEDIA)
        for proofs in ([room], [room, lost])
    )
    assert (alone.figure, alone.weight) == ("0.4 days", Weight.WATCH)
    assert (beside.figure, beside.weight) == ("0 / 2", Weight.STOP)


def test_the_lede_counts_and_says_what_is_not_proven(tell: Make, prove: Make) -> None:
    verdict = verdict_of([prove(), prove(tell("watch")), prove(area="media")], basis="for the plan at revision 4")
    assert verdict.lede == (
        "2 of 3 proofs hold for the plan at revision 4. Nothing is proven yet about radio, reach, power and sync."
    )
    every = verdict_of([prove(area=area.value) for area in Area])
    assert every.lede == "6 of 6 proofs hold."


def test_an_area_counts_its_own_and_shows_its_figure(tell: Make, prove: Make) -> None:
    proofs = [prove(tell("stop")), prove(), prove(area="media")]
    figures = {
        Area.MEDIA: AreaFigure(figure="3.1 days", sentence="of room"),
        Area.POWER: AreaFigure(figure="9 h", sentence=""),
    }
    areas = {each.area: each for each in verdict_of(proofs, figures).areas}
    assert (areas[Area.SIGNAL].figure, areas[Area.SIGNAL].weight) == ("1 / 2", Weight.STOP)
    assert (areas[Area.MEDIA].figure, areas[Area.MEDIA].sentence) == ("3.1 days", "of room")
    # a figure proves nothing where no check has run
    assert (areas[Area.POWER].figure, areas[Area.POWER].sentence) == ("", NOTHING_HERE)


def test_findings_stand_by_weight_and_what_is_to_come_first(tell: Make, prove: Make) -> None:
    proofs = [
        prove(tell("watch", "c"), recorded=True),
        prove(tell("stop", "b"), recorded=True),
        prove(tell("fine", "not told")),
        prove(tell("watch", "d")),
        prove(tell("stop", "a")),
    ]
    assert [told.finding.what for told in verdict_of(proofs).findings] == ["a", "b", "d", "c"]


def test_the_same_thing_is_told_once_and_by_its_worst(tell: Make, prove: Make) -> None:
    proofs = [prove(tell("watch", "same")), prove(tell("stop", "same")), prove(tell("watch", "same", take="other"))]
    found = [(told.finding.what, told.finding.weight.value) for told in verdict_of(proofs).findings]
    assert found == [("same", "stop"), ("same", "watch")]


def test_a_check_over_the_day_gives_way_to_the_closer_finding(tell: Make, prove: Make) -> None:
    over_all = prove(tell("watch", "Not whole: a.wav", kind="files whole"))
    assert verdict_of([over_all]).watches == 1
    close = prove(tell("stop", "a.wav ends early", kind="file-not-whole", take="a"))
    assert [told.finding.kind for told in verdict_of([over_all, close]).findings] == ["file-not-whole"]


def test_one_burst_on_several_tracks_is_told_by_the_loudest(tell: Make, prove: Make) -> None:
    told = [
        tell("watch", "On the mix", kind="radio-hit", take="T1", track=1, span=(1000, 500), loudest_dbfs=-27.0),
        tell("watch", "On Maelis", kind="radio-hit", take="T1", track=12, span=(1010, 480), loudest_dbfs=-16.0),
        tell("watch", "Later", kind="radio-hit", take="T1", track=2, span=(9000, 500)),
        tell("watch", "Another take", kind="radio-hit", take="T2", track=2, span=(1000, 500)),
    ]
    verdict = verdict_of([prove(each, recorded=True) for each in told])
    assert [each.finding.what for each in verdict.findings] == ["On Maelis", "Later", "Another take"]
    assert places_of(verdict.findings[0]) == "The same shows on track 1."
    assert (verdict.holds, verdict.total) == (0, 4)  # told once, but no proof holds for it


def test_what_holds_is_counted_by_kind(prove: Make, tell: Make) -> None:
    proofs = [
        prove(what="track"),
        prove(what="track"),
        prove(tell("watch"), what="track"),
        prove(area="sync", what="clock"),
    ]
    assert [(each.area.value, each.what, each.count) for each in verdict_of(proofs).held] == [
        ("signal", "track", 2),
        ("sync", "clock", 1),
    ]


WEIGHTS = st.lists(st.tuples(st.sampled_from(list(Weight)), st.sampled_from(list(Area)), st.booleans()), max_size=30)


@given(WEIGHTS)
def test_laws_of_every_verdict(given: list[tuple[Weight, Area, bool]]) -> None:
    proofs = [
        Proof(
            area=area,
            what="check",
            told=(Told(finding=Finding(area=area, weight=weight, subject="s", kind="k", what=f"{n}")),),
            recorded=recorded,
        )
        for n, (weight, area, recorded) in enumerate(given)
    ]
    verdict = verdict_of(proofs)
    assert verdict.holds + verdict.stops + verdict.watches == verdict.total == len(proofs)
    assert sum(area.total for area in verdict.areas) == verdict.total
    assert sum(each.count for each in verdict.held) == verdict.holds
    every = all(area.total for area in verdict.areas)
    assert verdict.sentence.startswith("Ready") == (bool(proofs) and every and verdict.holds == verdict.total)
    assert all(told.finding.weight is not Weight.FINE for told in verdict.findings)


def test_small_numbers_are_words() -> None:
    assert [in_words(n) for n in (0, 1, 12, 13)] == ["no", "one", "twelve", "13"]
