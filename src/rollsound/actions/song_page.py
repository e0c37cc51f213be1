"""What the page *Song* shows: the song map as far as takes were read, and some more of them with every question.

Takes are read a few at a time, within the question that asks, and kept while their files stay as they are: no thread
of its own goes on after the page is closed.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.plan_read import PlanRead

if TYPE_CHECKING:
    from rollsound.actions.song_model import SongMapResult
    from rollsound.report.charts import Chart
    from rollsound.show.folder import Show
    from rollsound.song.coverage import SongTake

AT_ONCE_S = 1.5
"""After which no further take is begun within one question."""
_KEPT_TAKES, _KEPT_RESULTS = 3000, 8
_one = threading.Lock()
_Look = tuple[tuple[str, int, int], ...]
_takes: OrderedDict[tuple[_Look, str], SongTake] = OrderedDict()
_results: OrderedDict[tuple[str, int], SongMapResult] = OrderedDict()


@dataclass(frozen=True)
class SongState:
    """The songs as the plan stands; no result where the plan has none. ``left`` takes are still to be read."""

    revision: int
    result: SongMapResult | None
    left: int = 0


def state_of(show: Show, *, read: bool = False) -> SongState:
    """The song map of all media that are there.

    Parameters
    ----------
    read
        whether takes that are not known yet are read, for about ``AT_ONCE_S``
    """
    revision, plan = show.store.head().revision, show.plan()
    if not plan.songs.songs:
        return SongState(revision, None)
    from rollsound.actions.song_read import media_of, read_songs, read_take, take_groups
    from rollsound.actions.songmap import nothing_there, of_takes
    from rollsound.progress import Progress

    whole = PlanRead(show.folder, "show", plan, show.document(), lambda _place: 0, {}, revision)
    songs = read_songs(whole)
    told = repr((sorted(songs.tracks.items()), [(song.id, song.scenes) for song in songs.clocks]))
    taken: list[SongTake] = []
    days: dict[str, str] = {}
    left, until = 0, time.monotonic() + AT_ONCE_S
    for media, folder in media_of(whole, ""):
        for group in take_groups(folder):
            key = (_look(group), told)
            with _one:
                kept = _takes.get(key)
            if kept is None and read and time.monotonic() < until:
                kept = read_take(group, songs, Progress())
                with _one:
                    _takes[key] = kept
                    while len(_takes) > _KEPT_TAKES:
                        _takes.popitem(last=False)
            if kept is None:
                left += 1
                continue
            taken.append(kept)
            days[kept.path] = media.day
    notes = [] if taken or left else [nothing_there(whole, "")]
    result = of_takes(whole, songs, taken, day_of=days, notes=notes)
    if not left:
        with _one:
            _results[(str(show.folder), revision)] = result
            while len(_results) > _KEPT_RESULTS:
                _results.popitem(last=False)
    return SongState(revision, result, left)


def known(show: Show) -> SongMapResult | None:
    """The song map, where somebody has looked since the plan was changed; nothing is read."""
    with _one:
        return _results.get((str(show.folder), show.store.head().revision))


def chart_of(result: SongMapResult, *, narrow: bool = False) -> Chart:
    """Songs and takes as a picture."""
    from rollsound.actions.songmap import song_chart

    return song_chart(result, narrow=narrow)


def _look(group: Sequence[Path]) -> _Look:
    """What a take's files look like from outside: a copy that grows or is replaced is read anew."""
    looks = []
    for path in group:
        try:
            stat = path.stat()
        except OSError:
            looks.append((str(path), -1, -1))
            continue
        looks.append((str(path), stat.st_size, stat.st_mtime_ns))
    return tuple(looks)
