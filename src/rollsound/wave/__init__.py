"""The only floor that opens audio files: read, write, describe, recover.

Names are fetched from their modules when they are first asked for: who only opens or names files loads no signal code.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rollsound.wave.bext import Bext, history_line
    from rollsound.wave.info import WaveInfo, read_info
    from rollsound.wave.ixml import IXml
    from rollsound.wave.ixml_parts import FileSet, History, IXmlLoudness, IXmlTrack, SyncPoint
    from rollsound.wave.model import Assumption, AudioFormat, Chunk, Cue, MoreAudio, SampleFormat
    from rollsound.wave.overview import StoredOverview, read_overview, write_overview
    from rollsound.wave.reader import WaveReader, open_wave
    from rollsound.wave.recovery import recover, recover_more
    from rollsound.wave.sets import TakeReader, group_sets, open_set
    from rollsound.wave.writer import WaveWriter

__all__ = [
    "Assumption",
    "AudioFormat",
    "Bext",
    "Chunk",
    "Cue",
    "FileSet",
    "History",
    "IXml",
    "IXmlLoudness",
    "IXmlTrack",
    "MoreAudio",
    "SampleFormat",
    "StoredOverview",
    "SyncPoint",
    "TakeReader",
    "WaveInfo",
    "WaveReader",
    "WaveWriter",
    "group_sets",
    "history_line",
    "open_set",
    "open_wave",
    "read_info",
    "read_overview",
    "recover",
    "recover_more",
    "write_overview",
]

_MODULES = {
    "bext": (
        "Bext",
        "history_line",
    ),
    "info": (
        "WaveInfo",
        "read_info",
    ),
    "ixml": ("IXml",),
    "ixml_parts": (
        "FileSet",
        "History",
        "IXmlLoudness",
        "IXmlTrack",
        "SyncPoint",
    ),
    "model": (
        "Assumption",
        "AudioFormat",
        "Chunk",
        "Cue",
        "MoreAudio",
        "SampleFormat",
    ),
    "overview": (
        "StoredOverview",
        "read_overview",
        "write_overview",
    ),
    "reader": (
        "WaveReader",
        "open_wave",
    ),
    "recovery": (
        "recover",
        "recover_more",
    ),
    "sets": (
        "TakeReader",
        "group_sets",
        "open_set",
    ),
    "writer": ("WaveWriter",),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = found
    return found
