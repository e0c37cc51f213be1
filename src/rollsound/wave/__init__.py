"""The only floor that opens audio files: read, write, describe, recover."""

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
