"""A plan with the radio part of radio.yaml, for tests of the pages Radio and Reach."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.show.text import read_text

PART = Path(__file__).with_name("radio.yaml")
INES = Author("Ines", "ines", "this machine")


def radio_part() -> dict[str, Any]:
    """The radio part, as it is written."""
    return copy.deepcopy(read_text(PART.read_text("utf-8")).document["radio"])


def with_radio(show: Show, part: dict[str, Any] | None = None) -> None:
    """Give a show this radio part."""
    before = show.document().get("radio", ABSENT)
    show.edit([Change("/radio", before, part or radio_part())], INES)
