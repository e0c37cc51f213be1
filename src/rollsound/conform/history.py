"""What a file that was made from another says of itself: all that its parent says, a new identity, and one more line.

Source: EBU R 98 for coding history, iXML HISTORY (PARENT_UID, PARENT_FILENAME, ORIGINAL_FILENAME).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from rollsound.wave import Bext, Cue, IXml, WaveInfo, WaveReader, history_line

_REWRITTEN = frozenset({"bext", "ixml", "fmt ", "data", "ds64", "fact", "cue ", "list"})
_FILLING = frozenset({"junk", "pad ", "fllr", "filr"})
_OF_THE_SOUND = frozenset({"levl", "peak"})
"""Drawings and peaks of the sound: no longer true once it is another."""
_LARGEST_CHUNK_BYTES = 16 << 20
_MOST_NAMED = 8


@dataclass(frozen=True, eq=False)
class Sheet:
    """All that a file holds beside its audio."""

    bext: Bext | None
    ixml: IXml
    cues: tuple[Cue, ...]
    info_list: dict[str, str]
    extra: tuple[tuple[str, bytes], ...]


def derive(reader: WaveReader, file_uid: str, doing: str, changed: bool) -> Sheet:
    """The sheet of a file made from ``reader``'s; ``doing`` says how in a few words, for the coding history.

    When the sound was ``changed``, measurements that were true of the parent alone (loudness, peaks) are left out.
    """
    info = reader.info
    bext = info.bext.with_history(history_line(info.format, doing)) if info.bext else None
    if bext and changed:
        bext = replace(
            bext,
            loudness_value_lufs=None,
            loudness_range_lu=None,
            loudness_true_peak_dbtp=None,
            loudness_momentary_lufs=None,
            loudness_short_term_lufs=None,
        )
    ixml = info.ixml.copy() if info.ixml else IXml.build(tracks=info.track_names, start_samples=info.start_samples)
    ixml.derive(parent_filename=info.path.name, file_uid=file_uid)
    if ixml.get("HISTORY/CURRENT_FILENAME"):
        ixml.set("HISTORY/CURRENT_FILENAME", info.path.name)
    if changed:
        ixml.remove("LOUDNESS")
    if bext and ixml.bext_copy:
        ixml.set_bext_copy(bext)
    return Sheet(bext, ixml, info.cues, dict(info.info_list), _extra(reader, changed))


def _extra(reader: WaveReader, changed: bool) -> tuple[tuple[str, bytes], ...]:
    """Chunks of other kinds, as they are."""
    drop = _REWRITTEN | _FILLING | (_OF_THE_SOUND if changed else frozenset())
    return tuple(
        (chunk.id, reader.read_chunk(chunk))
        for chunk in reader.info.chunks
        if chunk.id.casefold() not in drop and chunk.size <= _LARGEST_CHUNK_BYTES
    )


def names_of_tracks(info: WaveInfo, channels: list[int]) -> str:
    """Track numbers for one line of history: ``tracks 1 3 4``; many are only counted."""
    if len(channels) > _MOST_NAMED:
        return f"{len(channels)} of {info.format.channels} tracks"
    return ("track " if len(channels) == 1 else "tracks ") + " ".join(str(channel + 1) for channel in channels)
