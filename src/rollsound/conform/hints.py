"""What names say about who wore what: hints, never orders."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from rollsound.conform.sources import CardSource
from rollsound.log import WearerRow

_NOT_RADIO = re.compile(
    r"^(mix|boom|playback|pb|click|guide|time ?code|ltc|tc|smpte|slate|talkback|spare|empty|track \d+ unused)\b", re.I
)


def plain(name: str) -> str:
    """A name without case, spaces and signs."""
    return re.sub(r"[\W_]+", "", name).casefold()


def may_be_radio(track: str, wearers: Sequence[WearerRow]) -> bool:
    """Whether a track may have a card: any but mixes, booms and the like, unless the wearers sheet names it."""
    return not _NOT_RADIO.match(track.strip()) or bool(_rows(track, wearers))


def hinted_cards(track: str, cards: Sequence[CardSource], wearers: Sequence[WearerRow]) -> tuple[tuple[str, ...], str]:
    """Names of the cards that sheet or names claim for a track, and which of the two did ("sheet", "name" or "")."""
    wanted = {plain(row.card) for row in _rows(track, wearers) if row.card}
    by_sheet = tuple(c.name for c in cards if plain(c.name) in wanted)
    if by_sheet:
        return by_sheet, "sheet"
    key = plain(track)
    by_name = tuple(c.name for c in cards if len(key) >= 2 and _names(c, key))
    return by_name, "name" if by_name else ""


def _rows(track: str, wearers: Sequence[WearerRow]) -> list[WearerRow]:
    key = plain(track)
    return [row for row in wearers if key and key in (plain(row.track), plain(row.character), plain(row.performer))]


def _names(card: CardSource, key: str) -> bool:
    if key in plain(card.name) or (len(card.name) >= 3 and plain(card.name) in key):
        return True
    return any(key in plain(Path(file.path).stem) for file in card.files)
