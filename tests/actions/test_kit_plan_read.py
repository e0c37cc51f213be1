"""A plan is read from a show or from a text, and what is wrong is told with its line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.actions.plan_read import read_plan
from rollsound.errors import InputError, MistakesError, StorageError
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.wrong import Wrong

TEXT = """\
kit:
  items:
    - id: cart
      name: Cart
      mass: 38 kg
    - id: slate
      name: Slate
"""


def test_a_text_may_hold_only_the_kit(tmp_path: Path) -> None:
    path = tmp_path / "northbound.yaml"
    path.write_text(TEXT)
    read = read_plan(path)
    assert (read.form, read.name, read.folder, read.revision) == ("text", "northbound", tmp_path, None)
    assert [item.id for item in read.plan.kit.items] == ["cart", "slate"]
    assert read.line(("kit", "items", "slate", "name")) == 7
    assert read.line(("kit", "items", "slate", "mass")) == 6
    assert read.line(("kit", "items", "nobody")) == read.line(("kit", "items"))


def test_json_and_a_show_are_read_alike(tmp_path: Path) -> None:
    document = {"show": {"title": "Northbound Ferry"}, "kit": {"items": [{"id": "cart", "name": "Cart"}]}}
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(document, indent=1))
    with Show.new(tmp_path / "show", document, Author(person="mina")):
        pass
    of_json, of_show = read_plan(path), read_plan(tmp_path / "show")
    assert of_json.plan.kit == of_show.plan.kit
    assert of_json.is_json
    assert of_json.line(("kit", "items", "cart", "name")) == 9
    assert of_show.form == "show"
    assert of_show.revision == 1
    assert of_show.line(("kit", "items", "cart")) == 0
    assert of_show.folder == tmp_path / "show"


def test_mistakes_beyond_the_form_carry_their_lines(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(TEXT)
    read = read_plan(path)
    read.refuse([])
    with pytest.raises(MistakesError, match="line 7, items slate, name: is no name") as caught:
        read.refuse([Wrong(("kit", "items", "slate", "name"), "is no name")])
    assert [each.line for each in caught.value.mistakes] == [7]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("kit:\n  items:\n    - id: a\n      name: A\n      mass: 3\n", "line 5.*needs a number and its unit"),
        ("foo: 1\n", "holds no part of a plan; begin with one of: show"),
        ("[1]", "holds no|group"),
        ("", "empty|holds"),
        ("kit:\n  items: [{id: a, name: A}, {id: a, name: B}]\n", "line 2.*stands in this list already"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(text)
    with pytest.raises(InputError, match=f"(?s){sentence}"):
        read_plan(path)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"plan\.yaml is not there"):
        read_plan(tmp_path / "plan.yaml")
