"""Names that every system can store."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.turnover.names import LONGEST_BYTES, distinct, safe_name


@pytest.mark.source("naming rules of FAT, exFAT and NTFS volumes, common practice, no source", kind="practice")
@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("31A-01.wav", "31A-01.wav"),
        ("Day 4: car deck", "Day 4- car deck"),
        ('a<b>c"d/e\\f|g?h*i', "a-b-c-d-e-f-g-h-i"),
        ("CON", "_CON"),
        ("nul.wav", "_nul.wav"),
        ("COM1.txt", "_COM1.txt"),
        ("tail. . ", "tail"),
        ("..", "unnamed"),
        ("", "unnamed"),
        ("Łucja Șerban 港.wav", "Łucja Șerban 港.wav"),
        ("e\u0301", "\u00e9"),
        ("a\nb\u202ec", "a bc"),
        (".hidden", "hidden"),
    ],
)
def test_safe_name(text: str, name: str) -> None:
    assert safe_name(text) == name


@given(st.text(max_size=300))
def test_every_text_becomes_a_name(text: str) -> None:
    name = safe_name(text)
    assert 0 < len(name.encode("utf-8")) <= LONGEST_BYTES + 1
    assert not set(name) & set('<>:"/\\|?*')
    assert name[-1] not in " ."
    assert all(unicodedata.category(sign)[0] != "C" for sign in name)
    assert safe_name(name) == name


@given(st.lists(st.sampled_from(["a.wav", "A.wav", "a (2).wav", "b"]), max_size=12))
def test_never_two_alike(names: list[str]) -> None:
    taken: set[str] = set()
    made = [distinct(name, taken).casefold() for name in names]
    assert len(set(made)) == len(made)
