"""A show through the doors that both faces use."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.actions.show import (
    author_of,
    backup,
    compare,
    export_plan,
    history,
    import_plan,
    new_show,
    redo,
    restore,
    undo,
)
from rollsound.demo.example import example_to_begin_with
from rollsound.errors import InputError, MistakesError
from rollsound.log.model import DATABASE
from rollsound.show.folder import ClashError
from rollsound.show.text import parse_plan

FERRY = Path(__file__).parents[1] / "reference" / "show" / "ferry.yaml"


@pytest.fixture
def ferry(tmp_path: Path) -> Path:
    folder = tmp_path / "northbound-ferry"
    new_show(folder, example=FERRY.read_text("utf-8"))
    return folder


def _changed(ferry: Path, old: str, new: str, *, revision: int | None = None) -> Path:
    """A file with the plan's text, something in it replaced."""
    text = export_plan(ferry, revision=revision).text
    assert old in text
    path = ferry.parent / "plan.yaml"
    path.write_text(text.replace(old, new), "utf-8")
    return path


def test_the_example_is_a_plan_and_keeps_its_comments_on_the_way_round(ferry: Path) -> None:
    assert parse_plan(FERRY.read_text("utf-8")).show.title == "Northbound Ferry"
    text = export_plan(ferry).text
    assert "# moves to the quay after lunch" in text
    other = new_show(ferry.parent / "copy", plan=_changed(ferry, "Northbound", "Northbound"))
    assert export_plan(Path(other.folder)).text == text


def test_a_show_begins_nearly_empty_with_its_mixer(tmp_path: Path) -> None:
    result = new_show(tmp_path / "the_harbour-choir", name="Mina Sørvaag")
    assert result.title == "The harbour choir"
    plan = parse_plan(export_plan(tmp_path / "the_harbour-choir").text)
    assert [(each.id, each.name, each.role) for each in plan.people] == [("mina-s-rvaag", "Mina Sørvaag", "mixer")]


def test_a_title_stands_in_whatever_a_show_begins_with(ferry: Path) -> None:
    result = new_show(ferry.parent / "south", plan=_changed(ferry, "Northbound", "Northbound"), title="Southbound")
    assert result.title == "Southbound"
    assert "# moves to the quay after lunch" in export_plan(ferry.parent / "south").text


def test_a_plan_with_mistakes_makes_no_show(ferry: Path) -> None:
    path = _changed(ferry, "50 mW", "50 metres")
    with pytest.raises(MistakesError) as caught:
        new_show(ferry.parent / "other", plan=path)
    lines = [number for number, line in enumerate(path.read_text("utf-8").splitlines(), 1) if "50 metres" in line]
    assert [mistake.line for mistake in caught.value.mistakes] == lines
    assert len(lines) == 2
    assert not (ferry.parent / "other").exists()


def test_an_import_says_what_it_changed_and_can_be_taken_back(ferry: Path) -> None:
    before = export_plan(ferry).text
    result = import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"))
    (change,) = result.changes
    assert (result.revision, change.path) == (2, "/kit/items/pack-1/mass")
    assert (change.before, change.after) == ("95 g", "110 g")
    undone = undo(ferry)
    assert (undone.revision, export_plan(ferry).text) == (3, before)
    assert redo(ferry).changes == result.changes
    entries = history(ferry).entries
    assert [(entry.number, entry.kind, entry.person) for entry in entries] == [
        (4, "redo", "Mina Sørvaag"),
        (3, "undo", "Mina Sørvaag"),
        (2, "import", "Mina Sørvaag"),
        (1, "new", "Mina Sørvaag"),
    ]
    assert compare(ferry, 1).changes == result.changes
    assert compare(ferry, 1, 3).changes == ()


def test_an_import_of_the_same_changes_nothing(ferry: Path) -> None:
    result = import_plan(ferry, _changed(ferry, "Northbound", "Northbound"))
    assert (result.number, result.revision, result.changes) == (None, 1, ())


def test_an_import_with_its_base_keeps_what_others_did(ferry: Path) -> None:
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"), name="Tarek Obuya")
    mine = _changed(ferry, "draw: 18 W", "draw: 21 W", revision=1)
    import_plan(ferry, mine, base=1)
    text = export_plan(ferry).text
    assert "mass: 110 g" in text
    assert "draw: 21 W" in text
    # Without its base the same text takes the other's edit away, and says so.
    (change,) = import_plan(ferry, mine).changes
    assert (change.before, change.after) == ("110 g", "95 g")


def test_the_same_field_changed_twice_names_both_and_waits_for_a_choice(ferry: Path) -> None:
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"), name="Tarek Obuya")
    mine = _changed(ferry, "mass: 95 g", "mass: 100 g", revision=1)
    with pytest.raises(ClashError, match=r"Tarek Obuya has made it 110 g, Mina Sørvaag would make it 100 g"):
        import_plan(ferry, mine, base=1)
    assert import_plan(ferry, mine, base=1, take="theirs").changes == ()
    assert "mass: 110 g" in export_plan(ferry).text
    import_plan(ferry, mine, base=1, take="mine")
    assert "mass: 100 g" in export_plan(ferry).text


def test_what_somebody_else_changed_since_is_not_taken_back_but_named(ferry: Path) -> None:
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"))
    import_plan(ferry, _changed(ferry, "mass: 110 g", "mass: 120 g"), name="Tarek Obuya")
    with pytest.raises(ClashError, match="Tarek Obuya has made it 120 g"):
        undo(ferry)
    assert "mass: 120 g" in export_plan(ferry).text
    undo(ferry, name="tarek")
    undo(ferry)
    assert "mass: 95 g" in export_plan(ferry).text
    with pytest.raises(InputError, match="nothing of Mina Sørvaag to take back"):
        undo(ferry)


def test_a_history_is_asked_by_person_and_place(ferry: Path) -> None:
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"), name="Tarek Obuya")
    assert [entry.number for entry in history(ferry, person="Tarek Obuya").entries] == [2]
    assert [entry.number for entry in history(ferry, path="/kit").entries] == [2]
    assert history(ferry, path="/radio").entries == ()
    assert [entry.number for entry in history(ferry, before=2).entries] == [1]
    with pytest.raises(InputError, match="no place in the plan"):
        history(ferry, path="kit")
    with pytest.raises(InputError, match="limit"):
        history(ferry, limit=0)


def test_backup_and_restore(ferry: Path) -> None:
    made = backup(ferry).made
    assert made is not None
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"))
    result = restore(ferry, Path(made.path).name)
    assert (result.backup_revision, result.revision) == (1, 3)
    assert "mass: 95 g" in export_plan(ferry).text
    listed = backup(ferry, make=False)
    assert listed.made is None
    assert [(each.kind, each.revision) for each in listed.backups] == [("aside", 2), ("show", 1)]
    assert history(ferry, limit=1).entries[0].person == "Mina Sørvaag"
    with pytest.raises(InputError, match="no backup nowhere"):
        restore(ferry, "nowhere")


def test_a_damaged_show_comes_back(ferry: Path) -> None:
    backup(ferry)
    import_plan(ferry, _changed(ferry, "mass: 95 g", "mass: 110 g"))
    database = ferry / DATABASE
    database.write_bytes(database.read_bytes().replace(b"110 g", b"999 g"))
    for act in (export_plan, history, undo, backup):
        with pytest.raises(InputError, match=r"damaged.*rollsound restore"):
            act(ferry)
    restore(ferry)
    assert "mass: 95 g" in export_plan(ferry).text


def test_the_author_is_who_was_named_or_the_mixer_or_this_computers_user(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = parse_plan(FERRY.read_text("utf-8"))
    assert author_of(plan).person == "Mina Sørvaag"
    assert author_of(plan, "TAREK OBUYA").person_id == "tarek"
    assert author_of(plan, "lene").person == "Lene Castellan"
    assert (author_of(plan, "Nobody").person, author_of(plan, "Nobody").person_id) == ("Nobody", "")
    monkeypatch.setattr("getpass.getuser", lambda: "aboard")
    assert author_of(None).person == "aboard"


def test_no_show_is_said(tmp_path: Path) -> None:
    for act in (export_plan, history, undo, redo, backup, restore):
        with pytest.raises(InputError, match="holds no show"):
            act(tmp_path)


def test_a_text_that_is_none_is_said(ferry: Path) -> None:
    path = ferry.parent / "plan.yaml"
    path.write_bytes(b"version: 1\nshow:\n  title: B\xe5t\n")
    with pytest.raises(InputError, match=r"line 3.*UTF-8"):
        import_plan(ferry, path)
    with pytest.raises(InputError, match="leave one of"):
        new_show(ferry.parent / "x", plan=path, example=FERRY.read_text("utf-8"))


def test_the_example_holds_no_recordings_and_is_a_plan() -> None:
    text = example_to_begin_with()
    plan = parse_plan(text)
    assert plan.media == ()
    assert plan.people
    assert plan.show.title == "Northbound Ferry"
