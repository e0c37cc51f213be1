"""What the song map proves for Ready, once it was made: nobody reads hours of time code to show a page."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rollsound.actions.song_page import known
from rollsound.finding import Area
from rollsound.review.model import Place, Proof, Told

if TYPE_CHECKING:
    from rollsound.show.folder import Show


def song_proven(show: Show) -> Iterator[Proof]:
    """The takes against the songs; nothing before somebody has looked at the page Song."""
    made = known(show)
    if made is not None:
        told = tuple(Told(finding=each, place=Place(page="song")) for each in made.findings)
        yield Proof(area=Area.SYNC, what="takes cover the songs, at their true speed", told=told, recorded=True)
