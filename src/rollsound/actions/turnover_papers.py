"""The papers of a turnover that was built, and pictures of their pages, kept beside the show's measurements."""

from __future__ import annotations

import hashlib
import json
import re
import threading
from dataclasses import dataclass
from pathlib import Path

from rollsound.actions.kept import index_folder, write_once
from rollsound.actions.media import OpenShow, place_of
from rollsound.errors import InputError, storage
from rollsound.report.pictures import page_pictures
from rollsound.turnover.names import safe_name

_turn = threading.Lock()
_LARGEST_BYTES = 64_000_000
_KEY = re.compile(r"[0-9a-f]{24}")


@dataclass(frozen=True)
class Paper:
    """One PDF of a turnover. ``id`` names its content; ``pages`` is None while it has no pictures yet."""

    id: str
    name: str
    path: Path
    size_bytes: int
    pages: int | None


def papers_of(show: OpenShow, media_id: str, day_name: str = "") -> tuple[Paper, ...]:
    """The PDFs of a day's turnover, newest first; none before it was built."""
    planned = next((each for each in show.plan().media if each.id == media_id), None)
    root = place_of(show.folder, planned.turnover) if planned is not None else None
    if root is None or planned is None:
        return ()
    day = next((each for each in show.plan().schedule.days if each.id == planned.day), None)
    label = f"Day {day.number}" if day is not None and day.number is not None else planned.day or media_id
    return papers_in(show.folder, root / safe_name(day_name or label, "day"))


def papers_in(show_folder: Path, folder: Path) -> tuple[Paper, ...]:
    """The PDFs that lie in a folder, newest first."""
    try:
        found = [(path, path.stat()) for path in folder.iterdir() if path.suffix.lower() == ".pdf"]
    except OSError:
        return ()
    found.sort(key=lambda each: (each[1].st_mtime_ns, each[0].name), reverse=True)
    papers = []
    for path, info in found:
        if info.st_size > _LARGEST_BYTES:
            continue
        try:
            key = hashlib.sha256(path.read_bytes()).hexdigest()[:24]
        except OSError:
            continue
        papers.append(Paper(key, path.name, path, info.st_size, _pages_kept(show_folder, key)))
    return tuple(papers)


def make_pictures(show_folder: Path, paper: Paper) -> int:
    """Make the pictures of a paper's pages unless they are kept; returns how many pages it has.

    Raises
    ------
    InputError
        when it is no PDF that can be shown
    """
    with _turn:
        kept = _pages_kept(show_folder, paper.id)
        if kept is not None:
            return kept
        with storage(paper.path):
            pictures = page_pictures(paper.path.read_bytes())
        for number, picture in enumerate(pictures, 1):
            write_once(_place(show_folder, paper.id) / f"{number}.png", picture)
        write_once(_place(show_folder, paper.id) / "pages.json", json.dumps(len(pictures)).encode())
        return len(pictures)


def picture_of_page(show_folder: Path, paper_id: str, page: int) -> bytes | None:
    """A page's picture; none when there is none of that name."""
    if not _KEY.fullmatch(paper_id):
        return None
    try:
        return (_place(show_folder, paper_id) / f"{page}.png").read_bytes()
    except OSError:
        return None


def _place(show_folder: Path, paper_id: str) -> Path:
    if not _KEY.fullmatch(paper_id):
        raise InputError("there is no such paper; look at the list again")
    return index_folder(show_folder) / "previews" / paper_id


def _pages_kept(show_folder: Path, key: str) -> int | None:
    try:
        return int(json.loads((_place(show_folder, key) / "pages.json").read_bytes()))
    except (OSError, ValueError):
        return None
