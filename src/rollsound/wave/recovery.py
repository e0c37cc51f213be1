"""Make a whole copy of a broken file beside it; the source is only read."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from rollsound.errors import InputError
from rollsound.progress import Progress
from rollsound.wave.bext import Bext, history_line
from rollsound.wave.info import WaveInfo, read_info
from rollsound.wave.ixml import IXml
from rollsound.wave.model import AudioFormat
from rollsound.wave.reader import WaveReader, open_wave
from rollsound.wave.writer import Payload, WaveWriter

_REBUILT = frozenset({"ds64", "junk", "pad ", "fllr", "fmt ", "fact", "data", "bext", "ixml", "cue ", "list"})
_COPY_BYTES = 4 << 20
_BOUND_TO_TIME = (
    "SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI",
    "SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO",
    "SYNC_POINT_LIST",
    "FILE_SET",
    "LOUDNESS",
)


def recover(
    path: Path | str, out: Path | str, *, assume: AudioFormat | None = None, progress: Progress | None = None
) -> WaveInfo:
    """Copy what is sound of ``path`` into a new, whole file ``out`` and return what that file says of itself.

    Samples are copied bit for bit. All metadata goes along; bext gets a line of coding history and iXML its own id
    and the id of its parent. Chunks that nobody here knows are copied as they are.

    Raises
    ------
    BrokenFileError
        when no audio can be made out
    StorageError
        when ``out`` exists, or the disk fails
    """
    with open_wave(path, assume=assume) as reader:
        info = reader.info
        bext = info.bext.with_history(history_line(info.format, "recovered copy")) if info.bext else None
        copy_with(reader, out, bext, _document(reader, bext, Path(out)), progress, "recover")
    return read_info(out)


def recover_more(
    path: Path | str,
    out: Path | str,
    number: int,
    *,
    assume: AudioFormat | None = None,
    progress: Progress | None = None,
) -> WaveInfo:
    """Copy audio chunk ``number`` of ``path`` (2 is the first after the file's own) into a new, whole file ``out``.

    The file's bext and iXML go along without their time stamps: nothing says when that sound began. Raises as
    ``recover`` does, and IndexError when there is no such chunk.
    """
    with open_wave(path, assume=assume) as reader:
        info = reader.info
        audio = info.more_audio[number - 2]
        bext = None
        if info.bext:
            line = history_line(audio.format, f"recovered from audio chunk {number} without a start time")
            bext = replace(
                info.bext,
                time_reference=0,
                umid=b"",
                loudness_value_lufs=None,
                loudness_range_lu=None,
                loudness_true_peak_dbtp=None,
                loudness_momentary_lufs=None,
                loudness_short_term_lufs=None,
            ).with_history(line)
        document = _document(reader, bext, Path(out)) if audio.format == info.format else None
        with WaveWriter(
            out, audio.format, bext=bext, ixml=_unstamped(document), expected_frames=audio.frames
        ) as writer:
            step = max(1, _COPY_BYTES // audio.format.frame_bytes)
            for start in range(0, audio.frames, step):
                writer.write_bytes(reader.more_bytes(audio, start, step))
                done = min(start + step, audio.frames)
                (progress or Progress()).tell("recover", done, audio.frames, "frames", info.name)
    return read_info(out)


def _unstamped(document: bytes | None) -> bytes | None:
    """An iXML document without the start of the sound, nor anything that points into it; None if unreadable."""
    if document is None:
        return None
    try:
        found = IXml.from_bytes(document)
    except InputError:
        return None
    for name in _BOUND_TO_TIME:
        found.remove(name)
    return found.to_bytes()


def copy_with(
    reader: WaveReader,
    out: Path | str,
    bext: Bext | None,
    ixml: IXml | bytes | None,
    progress: Progress | None,
    doing: str,
) -> None:
    """Copy a file with this bext and iXML: its audio bit for bit, cue points, texts and all other chunks as they are.

    ``doing`` is the name under which it is told how far the copy is.
    """
    info = reader.info
    with WaveWriter(
        out,
        info.format,
        bext=bext,
        ixml=ixml,
        cues=[cue for cue in info.cues if cue.frame <= info.frames],
        info_list=info.info_list,
        extra_chunks=_others(reader),
        expected_frames=info.frames,
        extensible=info.extensible or None,
        channel_mask=info.channel_mask,
    ) as writer:
        step = max(1, _COPY_BYTES // info.format.frame_bytes)
        for start in range(0, info.frames, step):
            writer.write_bytes(reader.read_bytes(start, step))
            (progress or Progress()).tell(doing, min(start + step, info.frames), info.frames, "frames", info.name)


def _document(reader: WaveReader, bext: Bext | None, out: Path) -> bytes | None:
    """The iXML chunk of the copy; one that cannot be read goes along as it is, so that nothing is lost."""
    info = reader.info
    if info.ixml is None:
        chunk = next((chunk for chunk in info.chunks if chunk.id == "iXML"), None)
        return reader.read_chunk(chunk) if chunk else None
    document = info.ixml.copy()
    mark = f"{info.file_uid}|{info.name}|{info.frames}|{out.name}".encode("utf-8", "surrogatepass")
    document.derive(parent_filename=info.name, file_uid=hashlib.sha256(mark).hexdigest()[:32].upper())
    if bext is not None and document.bext_copy:
        document.set_bext_copy(bext)
    return document.to_bytes()


def _others(reader: WaveReader) -> list[tuple[str, Payload]]:
    """Every chunk that the writer does not build itself."""
    found: list[tuple[str, Payload]] = []
    for chunk in reader.info.chunks:
        known = chunk.id.casefold() in _REBUILT
        if chunk.id == "LIST":
            known = next(reader.chunk_pieces(chunk), b"")[:4] in (b"INFO", b"adtl")
        if not known:
            found.append((chunk.id, (chunk.size, reader.chunk_pieces(chunk))))
    return found
