"""Tracks that carry each other's cards: in one take, in several, from one take on, and by the sound of a whole day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
import signals as s
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rollsound.conform.match import align_day
from rollsound.conform.model import Outcome, TrackAlignment
from rollsound.conform.plan import Action, ConformPlan, MemberPlan, Mode, SourceFile, TakePlan, TrackPlan
from rollsound.conform.proofs import findings_of_conform
from rollsound.conform.readers import ArrayReader
from rollsound.conform.sources import CardFile, CardSource, TakeSource
from rollsound.conform.swaps import crossed_tracks
from rollsound.finding import Area, Weight

PEOPLE = ("Bram", "Runa", "Haru", "Idris", "Leila", "Okello")
RATE = 48_000
HOUR = 3600


def card_of(person: str) -> str:
    return f"C0{PEOPLE.index(person) + 1}"


def take(
    name: str,
    carried: Mapping[str, str] | Sequence[tuple[str, str]],
    start_s: float,
    *,
    outcomes: Mapping[str, Outcome] | None = None,
    mono: bool = False,
) -> TakePlan:
    """A take whose tracks carry cards; an empty card was not found."""
    rows = list(carried.items()) if isinstance(carried, Mapping) else list(carried)
    tracks = []
    for n, (track, card) in enumerate(rows):
        outcome = (outcomes or {}).get(track, Outcome.PLACED if card else Outcome.NO_CARD)
        tracks.append(
            TrackPlan(index=n, name=track, action=Action.KEEP, outcome=outcome, card_name=card, confidence=0.9)
        )
    files = [f"{name}_{n + 1}.wav" for n in range(len(rows))] if mono else [f"{name}.wav"]
    members = tuple(
        MemberPlan(
            file=SourceFile(path=path, bytes=1),
            output=path,
            first_track=n,
            frames=10,
            channels=1 if mono else len(rows),
        )
        for n, path in enumerate(files)
    )
    return TakePlan(
        take=name,
        mode=Mode.MIRROR,
        members=members,
        sample_rate_hz=RATE,
        frames=10,
        start_samples=round(start_s % 86_400 * RATE),
        fade_samples=0,
        tracks=tuple(tracks),
    )


def day(rows: Sequence[Mapping[str, str]], start_s: float = 10 * HOUR, **kinds: object) -> ConformPlan:
    """Takes T1, T2 … ten minutes apart."""
    takes = tuple(take(f"T{n + 1}", row, start_s + 600 * n, **kinds) for n, row in enumerate(rows))  # type: ignore[arg-type]
    return ConformPlan(mode=Mode.MIRROR, takes=takes)


def straight(people: Sequence[str] = PEOPLE[:3]) -> dict[str, str]:
    return {person: card_of(person) for person in people}


def with_swap(a: str = "Bram", b: str = "Runa", people: Sequence[str] = PEOPLE[:3]) -> dict[str, str]:
    return {**straight(people), a: card_of(b), b: card_of(a)}


def test_two_tracks_exchanged_in_one_take() -> None:
    found = crossed_tracks(day([straight(), straight(), with_swap(), straight()]))
    assert [c.takes for c in found.crossings] == [("T3",)]
    assert dict(zip(found.crossings[0].tracks, found.crossings[0].heard, strict=True)) == {"Bram": "C02", "Runa": "C01"}
    (one,) = found.findings
    assert (one.area, one.weight, one.kind) == (Area.MEDIA, Weight.WATCH, "tracks exchanged")
    assert one.what == "In T3 the tracks Bram and Runa are exchanged: Bram carries C02 and Runa carries C01."
    assert "C01 is Bram and C02 is Runa in 3 other takes" in one.why
    assert "exchange the names in T3" in one.remedy
    assert [(ref.path, ref.track) for ref in one.refs] == [("T3.wav", 1), ("T3.wav", 2)]
    assert found.explained == {("T3", 0), ("T3", 1)}
    assert not found.crossings[0].at_edge


def test_a_set_of_mono_files_is_pointed_to_file_by_file() -> None:
    found = crossed_tracks(day([straight(), with_swap("Runa", "Haru"), straight()], mono=True))
    assert [(ref.path, ref.track) for ref in found.findings[0].refs] == [("T2_2.wav", 1), ("T2_3.wav", 1)]


def test_a_day_as_it_should_be() -> None:
    found = crossed_tracks(day([straight()] * 4))
    assert (found.crossings, found.findings, found.explained) == ((), (), frozenset())


def test_a_sheet_wrong_all_day_is_no_exchange() -> None:
    """The sheet is for others to judge: here it only breaks ties."""
    sheet = {"Bram": "C02", "Runa": "C01"}
    assert crossed_tracks(day([straight()] * 3), sheet).findings == ()
    found = crossed_tracks(day([straight(), straight(), with_swap(), straight()]), sheet)
    assert [c.takes for c in found.crossings] == [("T3",)]


def test_one_card_on_two_tracks_is_no_exchange() -> None:
    doubled = {**straight(), "Runa": "C01"}
    assert crossed_tracks(day([straight(), doubled, straight()])).findings == ()


@pytest.mark.parametrize("outcome", [o for o in Outcome if o is not Outcome.PLACED])
def test_only_sound_is_a_witness(outcome: Outcome) -> None:
    """A place by the clock, a card that was refused, one of two that sound alike: none of these says whose voice it is.

    And without its second half a round is not closed.
    """
    takes = [take("T1", straight(), 0.0), take("T2", straight(), 600.0)]
    takes.append(take("T3", with_swap(), 1200.0, outcomes={"Runa": outcome}))
    takes.append(take("T4", straight(), 1800.0))
    assert crossed_tracks(ConformPlan(mode=Mode.MIRROR, takes=tuple(takes))).findings == ()


def test_from_one_take_on_the_packs_changed_hands() -> None:
    found = crossed_tracks(day([straight(), straight(), with_swap(), with_swap(), with_swap()]))
    (one,) = found.findings
    assert one.kind == "packs exchanged"
    assert one.what == "From T3 on, Bram and Runa wear each other's packs: Bram carries C02 and Runa carries C01."
    assert "C01 was Bram and C02 was Runa until then" in one.why
    assert found.explained == frozenset()


@pytest.mark.parametrize("sheet", [straight(), with_swap()])
def test_a_lasting_change_explains_a_sheet_that_is_right_on_one_side(sheet: dict[str, str]) -> None:
    rows = [straight(), straight(), with_swap(), with_swap(), with_swap()]
    assert crossed_tracks(day(rows), sheet).explained == {(f"T{n}", track) for n in range(1, 6) for track in (0, 1)}
    neither = {**sheet, "Bram": "C09"}
    assert {track for _, track in crossed_tracks(day(rows), neither).explained} == {1}


def test_a_lasting_change_is_told_from_where_it_begins_even_when_it_holds_for_most_of_the_day() -> None:
    found = crossed_tracks(day([with_swap(), with_swap(), straight(), straight(), straight()]))
    (crossing,) = found.crossings
    assert crossing.since == "T3"
    assert crossing.before == ("C02", "C01")
    assert crossing.after == ("C01", "C02")
    assert "From T3 on" in found.findings[0].what


def test_a_lasting_change_counts_takes_in_which_only_one_of_the_two_was_heard() -> None:
    alone = {**with_swap(), "Runa": ""}
    found = crossed_tracks(day([straight(), straight(), straight(), alone, with_swap()]))
    assert [c.since for c in found.crossings] == ["T4"]
    assert [ref.path for ref in found.findings[0].refs] == ["T4.wav", "T5.wav", "T5.wav"]


def test_an_exchange_in_the_middle_and_a_lasting_change_are_two_things() -> None:
    rows = [straight(), straight(), with_swap(), straight(), straight(), with_swap(), with_swap()]
    found = crossed_tracks(day(rows))
    assert sorted((c.takes, c.since) for c in found.crossings) == [(("T3",), ""), (("T6", "T7"), "T6")]


@pytest.mark.parametrize("at", [0, 3])
def test_at_the_edge_of_the_day_both_readings_are_told(at: int) -> None:
    rows = [with_swap() if n == at else straight() for n in range(4)]
    (one,) = crossed_tracks(day(rows)).findings
    assert one.kind == "tracks exchanged"
    assert "packs that changed hands would look the same" in one.why
    middle = [with_swap() if n == 1 else straight() for n in range(4)]
    assert "would look the same" not in crossed_tracks(day(middle)).findings[0].why


def test_one_take_against_one_take_is_settled_by_the_sheet_alone() -> None:
    (unsettled,) = crossed_tracks(day([straight(), with_swap()])).crossings
    assert unsettled.since == "T2"
    (second,) = crossed_tracks(day([straight(), with_swap()]), straight()).crossings
    assert (second.takes, second.since) == (("T2",), "")
    (first,) = crossed_tracks(day([straight(), with_swap()]), {"Bram": "C02", "Runa": "c01"}).crossings
    assert (first.takes, first.since) == (("T1",), "")


def test_a_pack_handed_on_to_somebody_else_is_no_exchange() -> None:
    rows = [straight(PEOPLE[:2])] * 3 + [{"Haru": "C01", "Runa": "C02"}] * 3
    assert crossed_tracks(day(rows)).findings == ()


def test_takes_are_read_in_the_order_of_their_time_code_through_midnight() -> None:
    """By name the last take comes first; after midnight the clock begins anew."""
    late = 22 * HOUR
    rows = [("Z", straight(), late), ("Y", straight(), late + HOUR), ("A", with_swap(), late + 3 * HOUR)]
    rows.append(("B", with_swap(), late + 4 * HOUR))
    takes = tuple(take(name, row, start) for name, row, start in sorted(rows, key=lambda r: r[0]))
    found = crossed_tracks(ConformPlan(mode=Mode.MIRROR, takes=takes))
    assert [c.since for c in found.crossings] == ["A"]


def test_two_tracks_of_one_name_are_told_apart_by_their_order() -> None:
    row = [("Radio", "C01"), ("Radio", "C02")]
    crossed = [("Radio", "C02"), ("Radio", "C01")]
    takes = tuple(take(f"T{n}", r, 600.0 * n) for n, r in enumerate((row, crossed, row)))
    assert [c.takes for c in crossed_tracks(ConformPlan(mode=Mode.MIRROR, takes=takes)).crossings] == [("T1",)]


def rounds_of(order: Sequence[int]) -> set[frozenset[tuple[str, str]]]:
    """Closed rounds of a permutation, as (track, card it carries), found by a walk of their own."""
    out, left = set(), {n for n, m in enumerate(order) if n != m}
    while left:
        at = begin = min(left)
        members = []
        while True:
            members.append((PEOPLE[at], card_of(PEOPLE[order[at]])))
            left.discard(at)
            at = order[at]
            if at == begin:
                break
        out.add(frozenset(members))
    return out


@st.composite
def permuted_days(draw: st.DrawFn) -> tuple[int, int, list[int], list[list[bool]], list[int]]:
    tracks = draw(st.integers(2, 6))
    takes = draw(st.integers(4, 8))
    at = draw(st.integers(1, takes - 2))
    order = draw(st.permutations(range(tracks)))
    # at most a third of the other takes' tracks are silent, the odd take's are all heard
    missing = [[draw(st.integers(0, 5)) == 0 for _ in range(tracks)] for _ in range(takes)]
    shuffles = [draw(st.permutations(range(tracks))) for _ in range(takes)]
    return takes, at, list(order), missing, [s[0] for s in shuffles]


@settings(max_examples=300, deadline=None)
@given(permuted_days())
def test_any_permutation_of_any_number_of_tracks_in_one_take_is_recovered(
    made: tuple[int, int, list[int], list[list[bool]], list[int]],
) -> None:
    """Also where other takes have silent tracks, as long as each track is heard at home before and after."""
    takes, at, order, missing, turns = made
    count = len(order)
    rows = []
    for n in range(takes):
        names = [PEOPLE[(k + turns[n]) % count] for k in range(count)]  # in another order in every take
        if n == at:
            rows.append({p: card_of(PEOPLE[order[PEOPLE.index(p)]]) for p in names})
        else:
            whole = n in (at - 1, at + 1)
            rows.append({p: "" if missing[n][PEOPLE.index(p)] and not whole else card_of(p) for p in names})
    found = crossed_tracks(day(rows))
    assert {frozenset(zip(c.tracks, c.heard, strict=True)) for c in found.crossings} == rounds_of(order)
    assert all(c.takes == (f"T{at + 1}",) and not c.since for c in found.crossings)
    assert {index for _, index in found.explained} == {
        list(rows[at]).index(PEOPLE[n]) for n in range(count) if order[n] != n
    }


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_without_a_permutation_nothing_is_said(data: st.DataObject) -> None:
    """Whoever is silent, absent or doubled: every card keeps to one track, so nothing changed places."""
    rows = []
    for _ in range(data.draw(st.integers(1, 8))):
        row = {}
        for person in data.draw(st.permutations(PEOPLE)):
            state = data.draw(st.sampled_from(["own", "own", "silent", "absent", "doubled"]))
            if state != "absent":
                row[person] = {"own": card_of(person), "silent": "", "doubled": "C01"}[state]
        if row:  # no file is without a track
            rows.append(row)
    assume(rows)
    assert crossed_tracks(day(rows)).findings == ()


# ---- by sound

SECONDS = 14.0
STARTS = (2.0, 18.0, 34.0, 50.0)


def voices() -> list[s.Audio]:
    own = [s.speech(70.0, 260 + n, pitch=p) for n, p in enumerate((110.0, 200.0, 150.0))]
    out = []
    for n in range(3):
        heard = own[n] + s.self_noise(own[n].size, -80.0, n)
        for m in range(3):
            if m != n:
                late = 150 + 60 * abs(n - m)
                heard = heard + np.float32(0.1) * np.concatenate([np.zeros(late, np.float32), own[m][:-late]])
        out.append(heard.astype(np.float32))
    return out


def heard_day(orders: Sequence[Sequence[int]]) -> list[TrackAlignment]:
    """Align three people's cards with takes whose tracks carry them in the given orders."""
    mics = voices()
    takes = []
    for n, (start, order) in enumerate(zip(STARTS, orders, strict=True)):
        span = slice(round(start * RATE), round((start + SECONDS) * RATE))
        tracks = [s.through_radio(mics[m][span], s.RadioPath(), 40 * n + m) for m in order]
        audio = np.stack(tracks, axis=1).astype(np.float32)
        begin = round((10 * HOUR + start) * RATE)
        takes.append(
            TakeSource(
                f"T{n + 1}",
                audio.shape[0],
                RATE,
                PEOPLE[:3],
                start_samples=begin,
                date="2031-02-18",
                reader=ArrayReader(audio),
            )
        )
    cards = [
        CardSource(
            card_of(PEOPLE[n]),
            (CardFile(f"{n}.wav", mic.size, RATE, 1, 10 * HOUR * RATE + 100, "2031-02-18", ArrayReader(mic)),),
        )
        for n, mic in enumerate(mics)
    ]
    return list(align_day(takes, cards, wearers=straight()).tracks)


def plan_of(found: Sequence[TrackAlignment]) -> ConformPlan:
    takes = []
    for n, name in enumerate(dict.fromkeys(each.take for each in found)):
        own = [each for each in found if each.take == name]
        takes.append(
            take(
                name,
                {each.track_name: each.card_name for each in own},
                STARTS[n],
                outcomes={each.track_name: each.outcome for each in own},
            )
        )
    return ConformPlan(mode=Mode.MIRROR, takes=tuple(takes))


@pytest.mark.parametrize(
    ("odd", "rounds"),
    [
        pytest.param((1, 0, 2), {frozenset({("Bram", "C02"), ("Runa", "C01")})}, marks=pytest.mark.soak),
        ((2, 0, 1), {frozenset({("Bram", "C03"), ("Runa", "C01"), ("Haru", "C02")})}),
        pytest.param((0, 1, 2), set(), marks=pytest.mark.soak),
    ],
)
def test_by_the_sound_of_a_day_against_the_sheet(odd: tuple[int, ...], rounds: set[frozenset[tuple[str, str]]]) -> None:
    same = (0, 1, 2)
    found = crossed_tracks(plan_of(heard_day((same, odd, same, same))), straight())
    assert {frozenset(zip(c.tracks, c.heard, strict=True)) for c in found.crossings} == rounds
    assert all(c.takes == ("T2",) for c in found.crossings)


def test_conform_tells_an_exchange_once_and_not_as_a_wrong_sheet() -> None:
    wearers = straight()

    def told(plan: ConformPlan, sheet: Mapping[str, str]) -> list[str]:
        kinds = [each.kind for each in findings_of_conform(plan, [], sheet)]
        return [kind for kind in kinds if kind in ("tracks exchanged", "sheet disagrees")]

    assert told(day([straight(), straight(), with_swap(), straight()]), wearers) == ["tracks exchanged"]
    assert told(day([straight()] * 4), {**wearers, "Bram": card_of("Haru")}) == ["sheet disagrees"]
