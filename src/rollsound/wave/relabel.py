"""Make a copy of a file with other labels (scene, take, roll, circled, names of tracks); the source is only read."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from rollsound.progress import Progress
from rollsound.wave.bext import Bext, history_line
from rollsound.wave.info import WaveInfo, read_info
from rollsound.wave.ixml import IXml
from rollsound.wave.ixml_parts import IXmlTrack
from rollsound.wave.reader import open_wave
from rollsound.wave.recovery import copy_with

_LINE = re.compile(r"^([a-z]?)([A-Z][A-Z0-9_]*)=(.*)$")


@dataclass(frozen=True)
class NewLabels:
    """What is to stand in the copy; None leaves a label as it is."""

    scene: str | None = None
    take: str | None = None
    sound_roll: str | None = None
    circled: bool | None = None
    take_types: tuple[str, ...] | None = None
    track_names: Mapping[int, str] = field(default_factory=dict)
    """By place in the file, from 1."""


def relabel(path: Path | str, out: Path | str, new: NewLabels, *, progress: Progress | None = None) -> WaveInfo:
    """Copy a file with other labels, in iXML and in the lines of the bext description alike.

    Samples and every other chunk are copied bit for bit; bext gets a line of coding history, and iXML its own id and
    the id of its parent.

    Raises
    ------
    BrokenFileError
        when no audio can be made out
    StorageError
        when ``out`` exists, or the disk fails
    """
    with open_wave(path) as reader:
        info = reader.info
        bext = _described(info.bext, new) if info.bext else None
        if bext is not None:
            bext = bext.with_history(history_line(info.format, "labels corrected"))
        copy_with(reader, out, bext, _document(info, new, bext, Path(out)), progress, "correct")
    return read_info(out)


def _document(info: WaveInfo, new: NewLabels, bext: Bext | None, out: Path) -> IXml:
    """The iXML of the copy; one is made where the file has none, since its labels must stand somewhere."""
    document = info.ixml.copy() if info.ixml else IXml.build(tracks=info.track_names, start_samples=info.start_samples)
    texts = {"SCENE": new.scene, "TAKE": new.take, "TAPE": new.sound_roll}
    for name, text in texts.items():
        if text is not None:
            document.set(name, text)
    if new.circled is not None:
        document.set("CIRCLED", "TRUE" if new.circled else "FALSE")
    if new.take_types is not None:
        document.set_take_types(new.take_types)
    if new.track_names:
        document.set_tracks(_tracks(info, new.track_names))
    mark = f"{info.file_uid}|{info.name}|{info.frames}|{out.name}|{new}".encode("utf-8", "surrogatepass")
    document.derive(parent_filename=info.name, file_uid=hashlib.sha256(mark).hexdigest()[:32].upper())
    if bext is not None and document.bext_copy:
        document.set_bext_copy(bext)
    return document


def _tracks(info: WaveInfo, names: Mapping[int, str]) -> list[IXmlTrack]:
    """All tracks of the file; those that iXML does not list come along under their place."""
    known = {track.interleave_index: track for track in (info.ixml.tracks if info.ixml else ())}
    found = []
    for place, name in enumerate(info.track_names, 1):
        track = known.get(place) or IXmlTrack(place, place, name)
        found.append(replace(track, name=names.get(place, track.name)))
    return found


def _described(bext: Bext, new: NewLabels) -> Bext:
    """The description with the new labels in the lines that are there; no line is added."""
    texts = {"SCENE": new.scene, "TAKE": new.take, "TAPE": new.sound_roll, "ROLL": new.sound_roll}
    if new.circled is not None:
        texts |= dict.fromkeys(("CIRCLED", "CIRCLE"), "TRUE" if new.circled else "FALSE")
    inputs = sorted(int(name[3:]) for name in bext.lines if name.startswith("TRK") and name[3:].isdecimal())
    # These count the recorder's inputs; only armed ones are in the file, in this order.
    texts |= {f"TRK{inputs[place - 1]}": name for place, name in new.track_names.items() if place <= len(inputs)}
    parts = re.split(r"(\r\n|\n|\r)", bext.description)
    for at, part in enumerate(parts):
        form = _LINE.match(part)
        text = texts.get(form[2]) if form else None
        if form and text is not None:
            parts[at] = f"{form[1]}{form[2]}={text}"
    return replace(bext, description="".join(parts))
