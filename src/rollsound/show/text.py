"""The plan as one readable text: out and in again, nothing lost."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rollsound.show.checked import checked
from rollsound.show.model import Plan
from rollsound.show.ordering import in_order
from rollsound.show.reading import Read, read_text
from rollsound.show.writing import written


def write_text(document: dict[str, Any], comments: Mapping[str, Any] | None = None) -> str:
    """The document's text, with its comments where they belong; those of values that are gone are left out."""
    return written(in_order(document), comments or {})


def read_plan(text: str, name: str = "the plan") -> tuple[Plan, Read]:
    """The plan that a text is, and the text's document and comments.

    Raises
    ------
    MistakesError
        with every mistake, its place and its line
    InputError
        when it is too large, or of a newer version than this program knows
    """
    read = read_text(text, name)
    return checked(read.document, name, read.line_of), read


def parse_plan(text: str, name: str = "the plan") -> Plan:
    """The plan that a text is; raises as ``read_plan``."""
    return read_plan(text, name)[0]


__all__ = ["Read", "parse_plan", "read_plan", "read_text", "write_text"]
