"""What a revised script changes, and what it costs the days that are planned."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.script.breakdown import breakdown
from rollsound.script.compare import _longest_rising, compare
from rollsound.script.fountain import read_fountain
from rollsound.script.model import ScriptPart

OLD = """INT. CAR DECK - NIGHT #1#

RUNA
Where is Idris? I have looked on every deck of this ship.

EXT. QUAY - DAY #2#

IDRIS
Here, by the ropes, where I said that I would be.

INT. CHAPEL - DAY #3#

RUNA
~Northbound, northbound, over the bar

INT. WHEELHOUSE - NIGHT #4#

BRAM
Nobody goes out tonight.
"""
DAYS = [("day-1", ["1", "2"]), ("day-2", ["3", "4"])]


def part(text: str, known: ScriptPart | None = None) -> ScriptPart:
    return breakdown(read_fountain(text), known).part


def change(old: str, new: str):
    before = part(old)
    return compare(before, part(new, before), DAYS)


def test_the_same_script_changes_nothing():
    found = change(OLD, OLD)
    assert found.nothing
    assert found.days == ()


def test_who_speaks_more_and_whom_a_day_needs_now():
    found = change(OLD, OLD.replace("by the ropes", "by the big ropes") + "\nHARU\nI go.\n")
    assert [(each.number, each.kinds, each.days) for each in found.scenes] == [
        ("2", ("changed",), ("day-1",)),
        ("4", ("changed",), ("day-2",)),
    ]
    assert [each.sentence for each in found.scenes[0].people] == ["Idris speaks 1 word more"]
    assert [each.sentence for each in found.scenes[1].people] == ["Haru now speaks here, 2 words"]
    assert found.new_characters == ("Haru",)
    (cost,) = found.days
    assert (cost.day, cost.newly_needed, cost.most_before, cost.most) == ("day-2", ("haru",), 1, 2)


def test_a_scene_that_goes_is_missed_where_it_is_scheduled():
    without = OLD[: OLD.index("INT. WHEELHOUSE")]
    for new in (without, without + ".OMITTED #4#\n\n"):
        found = change(OLD, new)
        assert [(each.number, each.kinds) for each in found.scenes] == [("4", ("omitted",))]
        assert found.scheduled_and_gone == (("4", "day-2"),)
        assert found.gone_characters == ("Bram",)
        assert found.days[0].no_more == ("bram",)


def test_a_scene_that_comes_stands_on_no_day():
    found = change(OLD, OLD + "\nEXT. HARBOUR - DAWN #4A#\n\nIDRIS\n~Low water\n")
    (came,) = found.scenes
    assert (came.kinds, came.number, came.days) == (("added",), "4A", ())
    assert came.people[0].sentence == "Idris now sings here, 2 words"
    assert found.unscheduled == ("4A",)


def test_a_scene_with_another_number_is_the_same_scene():
    found = change(OLD, OLD.replace("#2#", "#2B#"))
    (again,) = found.scenes
    assert (again.kinds, again.number_before, again.number, again.days) == (("renumbered",), "2", "2B", ("day-1",))


def test_a_scene_put_in_before_all_others_renumbers_them_and_changes_none():
    later = OLD
    for number in (4, 3, 2, 1):
        later = later.replace(f"#{number}#", f"#{number + 1}#")
    found = change(OLD, "EXT. SEA - DAWN #1#\n\nOKELLO\nLand, and lights on it.\n\n" + later)
    assert [each.kinds for each in found.scenes] == [("added",)] + [("renumbered",)] * 4


def test_scenes_that_resemble_each_other_keep_their_own_through_new_numbers():
    def scenes(first: int) -> str:
        said = [f"RUNA\n{'word ' * (3 + 2 * n)}\n\nBRAM\n{'word ' * (30 - 3 * n)}" for n in range(8)]
        return "".join(f"INT. CAR DECK - NIGHT #{n}#\n\n{each}\n\n" for n, each in enumerate(said, first))

    found = change(scenes(1), "EXT. SEA - DAWN #1#\n\nOKELLO\nLand.\n\n" + scenes(2))
    assert [each.kinds for each in found.scenes] == [("added",)] + [("renumbered",)] * 8


def test_one_scene_moved_is_one_scene_told():
    blocks = OLD.split("\n\nINT. WHEELHOUSE")
    moved = "INT. WHEELHOUSE" + blocks[1] + "\n" + blocks[0]
    found = change(OLD, moved)
    assert [(each.number, each.kinds) for each in found.scenes] == [("4", ("moved",))]


def test_what_is_sung_and_what_is_heard_is_told():
    found = change(OLD, OLD.replace("BRAM\nNobody", "The telephone rings.\n\nBRAM\n~Nobody"))
    (changed,) = found.scenes
    assert "it is sung now" in changed.told
    assert "new to be heard: telephone" in changed.told
    assert found.days[0].newly_sung == ("4",)


@given(st.permutations(range(7)))
def test_what_stays_in_order_is_the_longest_run(order):
    stays = _longest_rising(order)
    run = [order[at] for at in sorted(stays)]
    assert run == sorted(run)
    best = max(
        (mask for mask in range(1, 2**7) if _rises([order[at] for at in range(7) if mask >> at & 1])), key=int.bit_count
    )
    assert len(run) == best.bit_count()


def _rises(values: list[int]) -> bool:
    return values == sorted(values)


LINES = (
    "INT. A - DAY #1#", "EXT. B - NIGHT", ".OMITTED #2#", "RUNA", "RUNA AND BRAM ^", "@bram (V.O.)", "~la la", "(low)",
    "Words are said.", "", "", "[[", "]]", "/*", "*/", "> END <", "#", "= told", "A telephone rings.",
)  # fmt: skip
TEXTS = st.lists(st.sampled_from(LINES), max_size=24).map("\n".join)


@settings(max_examples=40)
@given(TEXTS, TEXTS)
def test_any_two_texts_are_compared_and_one_with_itself_is_the_same(one: str, other: str):
    before, after = part(one), part(other)
    assert compare(before, before, DAYS).nothing
    found = compare(before, after, DAYS)
    there = sum(not scene.omitted for scene in after.scenes)
    assert sum(not each.omitted for each in before.scenes) - len(found.of("omitted")) + len(found.of("added")) == there
