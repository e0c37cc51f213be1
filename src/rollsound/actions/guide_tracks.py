"""Which tracks of a take are live voices, and which the guide, by their names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.song_read import track_of
from rollsound.errors import InputError
from rollsound.quantities import several

if TYPE_CHECKING:
    from rollsound.wave import WaveReader
    from rollsound.wave.sets import TakeReader

_NO_VOICE = re.compile(
    r"\bmix|boom|click|playback|guide|time ?code|\btc\b|ltc|plant|ambien|room|talk ?back", re.IGNORECASE
)
GUIDE = re.compile(r"guide|playback|\bpb\b", re.IGNORECASE)
_CLICK = re.compile(r"click", re.IGNORECASE)


def is_click(name: str) -> bool:
    """Whether a track is named as a click."""
    return bool(_CLICK.search(name))


def by_name(names: Sequence[str]) -> int:
    """The track named as guide or playback, else as click; 0 when there is none."""
    for wanted in (GUIDE, _CLICK):
        found = next((n for n, name in enumerate(names, 1) if wanted.search(name)), 0)
        if found:
            return found
    return 0


def live_tracks_of(reader: WaveReader | TakeReader, guide_track: int) -> list[int]:
    """Tracks that may be live voices: neither mix nor boom nor anything that is played back."""
    names = reader.info.track_names
    voices = [n for n, name in enumerate(names, 1) if n != guide_track and not _NO_VOICE.search(name)]
    return voices or [n for n in range(1, len(names) + 1) if n != guide_track]


def number_of(reader: WaveReader | TakeReader, text: str, path: Path) -> int:
    """The number of a track that is named or numbered.

    Raises
    ------
    InputError
        when the take has none such
    """
    number = track_of(text, reader.info.track_names)
    if not number:
        raise InputError(f"{path.name} has no track '{text}'; it has {several(reader.info.track_names, 12)}")
    return number


def only(reader: WaveReader, text: str, path: Path) -> int:
    """The track of a file that is named, its only one, or the one named as a guide.

    Raises
    ------
    InputError
        when it has several and none is meant
    """
    if text:
        return number_of(reader, text, path)
    if reader.info.format.channels == 1:
        return 1
    number = by_name(reader.info.track_names)
    if not number:
        names = several(reader.info.track_names, 8)
        raise InputError(f"{path.name} has several tracks ({names}); name the guide with --guide-track")
    return number
