"""What lies in a day's folder: takes, cards, sheets, and what was rebuilt. A bare folder of files will do too.

recorder/        the recorder's files (or all audio in the folder, when there is no such folder)
cards/<name>/    one folder a card
<any>/conform.json   what `conform` left behind, with its files
takes.csv, wearers.csv
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from rollsound.actions.gather import audio_files, in_order
from rollsound.errors import InputError, storage
from rollsound.log import TakeRow, WearerRow, read_takes, read_wearers
from rollsound.wave import group_sets

RowT = TypeVar("RowT", TakeRow, WearerRow)

RECORDER, CARDS, TAKES, WEARERS, CONFORMED = "recorder", "cards", "takes.csv", "wearers.csv", "conform.json"


@dataclass(frozen=True)
class DayFolder:
    """Where the parts of a day lie."""

    takes: tuple[tuple[Path, ...], ...]
    conformed: tuple[Path, ...]
    take_rows: tuple[TakeRow, ...]
    wearer_rows: tuple[WearerRow, ...]


def day_folder(
    day: Path,
    *,
    conformed: Sequence[Path] = (),
    takes_sheet: Path | None = None,
    wearers_sheet: Path | None = None,
) -> DayFolder:
    """Look through a day's folder.

    Parameters
    ----------
    conformed
        folders elsewhere that conform wrote, beside those in the day's folder

    Raises
    ------
    InputError, StorageError
        when there is no recorder file, a folder holds nothing that conform made, or a sheet has mistakes
    """
    with storage(day):
        if not day.stat() or not day.is_dir():
            raise InputError(f"{day} is a file; name the folder of the day")
    for folder in conformed:
        with storage(folder):
            if not (folder / CONFORMED).is_file():
                raise InputError(f"{folder} holds no {CONFORMED}; name a folder that conform wrote")
    inside = sorted(path.parent for path in day.rglob(CONFORMED) if not _hidden(path, day))
    known = {path.resolve() for path in inside}
    recorder = day / RECORDER
    files = audio_files([recorder if recorder.is_dir() else day], leave_out=[day / CARDS, *inside, *conformed])
    return DayFolder(
        takes=take_sets(files),
        conformed=(*inside, *(folder for folder in conformed if folder.resolve() not in known)),
        take_rows=tuple(_sheet(day / TAKES, takes_sheet, read_takes)),
        wearer_rows=tuple(_sheet(day / WEARERS, wearers_sheet, read_wearers)),
    )


def take_sets(files: Iterable[Path]) -> tuple[tuple[Path, ...], ...]:
    """Files grouped by take: one poly file, or the monos of a set; in the order of their names."""
    groups = [tuple(group) for group in group_sets(list(files))]
    return tuple(sorted(groups, key=lambda group: in_order(str(group[0]))))


def card_folders(cards: Path, files: Iterable[Path]) -> list[tuple[str, tuple[Path, ...]]]:
    """The cards' files by card: each folder with audio in it is one; a file lying loose is one, by its stem."""
    found: dict[str, list[Path]] = {}
    for path in files:
        inside = path.relative_to(cards).parts if path != cards else (path.name,)
        name = inside[0] if len(inside) > 1 else path.stem
        found.setdefault(name, []).append(path)
    return [(name, tuple(found[name])) for name in sorted(found, key=in_order)]


def row_of(files: Sequence[Path], rows: Iterable[TakeRow]) -> TakeRow | None:
    """The sheet's line for a take: its file's name, with or without ending, or the common stem of its monos."""
    names = {text.casefold() for path in files for text in (path.name, path.stem)}
    stems = [path.stem.casefold() for path in files]
    for row in rows:
        wanted = row.file.casefold()
        bare = wanted.removesuffix(Path(wanted).suffix) if Path(wanted).suffix in {".wav", ".bwf"} else wanted
        if wanted in names or bare in names:
            return row
        if len(stems) > 1 and all(stem.startswith(bare) and not stem[len(bare) :][:1].isdigit() for stem in stems):
            return row
    return None


def _hidden(path: Path, day: Path) -> bool:
    return any(part.startswith(".") for part in path.relative_to(day).parts)


def _sheet(usual: Path, given: Path | None, read: Callable[[Path], list[RowT]]) -> list[RowT]:
    if given is not None:
        return read(given)
    return read(usual) if usual.is_file() else []
