"""Everything a file says about itself, with the precedence that the trade's formats ask for.

Scene, take, roll and notes: iXML before the lines of the bext description. Rate, bits and time stamp: the format chunk
and bext before iXML, because general tools rewrite those and leave iXML as it was.

Source: iXML usage guidelines (gallery.co.uk/ixml); the second half is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from rollsound.errors import InputError
from rollsound.timecode import Rate
from rollsound.wave.bext import FIXED_BYTES, Bext
from rollsound.wave.disk import ByteSource
from rollsound.wave.ixml import IXml
from rollsound.wave.ixml_parts import read_flag, read_rate
from rollsound.wave.layout import Layout, lay_out
from rollsound.wave.lists import parse_cues, parse_info
from rollsound.wave.model import Assumption, AudioFormat, Chunk, Cue, MoreAudio

LARGEST_METADATA_BYTES = 16 << 20


@dataclass(frozen=True)
class WaveInfo:
    """What is known of one file without reading its audio.

    ``frames`` counts whole frames that are really there. ``start_samples`` counts from midnight at the file's rate.
    ``more_audio`` lists audio chunks after the first, which are no part of ``frames``. ``assumptions`` is empty for a
    sound file; ``disagreements`` are sentences about its metadata contradicting itself.
    """

    path: Path
    format: AudioFormat
    frames: int
    container: str
    data_offset: int
    bext: Bext | None = None
    ixml: IXml | None = None
    cues: tuple[Cue, ...] = ()
    info_list: dict[str, str] = field(default_factory=dict)
    chunks: tuple[Chunk, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    disagreements: tuple[str, ...] = ()
    track_names: tuple[str, ...] = ()
    start_samples: int = 0
    has_timecode: bool = False
    rate: Rate | None = None
    project: str = ""
    scene: str = ""
    take: str = ""
    sound_roll: str = ""
    note: str = ""
    circled: bool = False
    take_types: tuple[str, ...] = ()
    file_uid: str = ""
    extensible: bool = False
    channel_mask: int = 0
    valid_bits: int = 0
    more_audio: tuple[MoreAudio, ...] = ()

    @property
    def take_type(self) -> str:
        """The kinds of take as one text; empty for a normal take."""
        return ",".join(self.take_types)

    @property
    def duration_seconds(self) -> float:
        """Length at the nominal sample rate."""
        return self.frames / self.format.sample_rate_hz

    @property
    def name(self) -> str:
        """The file's name."""
        return self.path.name


def read_info(path: Path | str, *, assume: AudioFormat | None = None) -> WaveInfo:
    """Read what a file says about itself.

    Parameters
    ----------
    assume
        format to take when the file's header is destroyed

    Raises
    ------
    BrokenFileError
        when no audio can be made out
    StorageError
        when the file cannot be read
    """
    with ByteSource(Path(path)) as source:
        return describe(source, lay_out(source, assume))


def describe(source: ByteSource, layout: Layout) -> WaveInfo:
    """Read the metadata chunks of a file whose layout is known."""
    gathered = _Gathered(source, layout)
    bext, ixml = gathered.bext(), gathered.ixml()
    lines = bext.lines if bext else {}
    form = layout.fmt.format

    def text(value: str, *names: str) -> str:
        return value or next((lines[name] for name in names if lines.get(name)), "")

    stamp = ixml.speed.timestamp_samples if ixml else None
    info_list, cues = gathered.info_list(), gathered.cues()
    return WaveInfo(
        path=source.path,
        format=form,
        frames=layout.data_bytes // form.frame_bytes,
        container=layout.container,
        data_offset=layout.data_offset,
        bext=bext,
        ixml=ixml,
        cues=cues,
        info_list=info_list,
        chunks=layout.chunks,
        assumptions=layout.assumptions + tuple(gathered.notes),
        disagreements=_disagreements(form, bext, ixml),
        track_names=_track_names(form.channels, lines, ixml),
        start_samples=bext.time_reference if bext else stamp or 0,
        has_timecode=bool(bext and bext.time_reference) or stamp is not None,
        rate=(ixml.rate if ixml else None) or _rate_of_lines(lines),
        project=text(ixml.project if ixml else "", "PROJECT"),
        scene=text(ixml.scene if ixml else "", "SCENE"),
        take=text(ixml.take if ixml else "", "TAKE"),
        sound_roll=text(ixml.sound_roll if ixml else "", "TAPE", "ROLL"),
        note=text(ixml.note if ixml else "", "NOTE", "NOTES"),
        circled=read_flag(text(ixml.get("CIRCLED") if ixml else "", "CIRCLED", "CIRCLE")),
        take_types=ixml.take_types if ixml else (),
        file_uid=ixml.file_uid if ixml else "",
        extensible=layout.fmt.extensible,
        channel_mask=layout.fmt.channel_mask,
        valid_bits=layout.fmt.valid_bits or form.sample_format.bits,
        more_audio=layout.more_audio,
    )


class _Gathered:
    """The metadata chunks, each read so that one that is broken costs nothing but itself."""

    def __init__(self, source: ByteSource, layout: Layout) -> None:
        self.source = source
        self.chunks = layout.chunks
        self.notes: list[Assumption] = []

    def _payload(self, chunk: Chunk) -> bytes:
        if chunk.size > LARGEST_METADATA_BYTES:
            sentence = (
                f"The chunk '{chunk.id}' holds {chunk.size} bytes; only the first {LARGEST_METADATA_BYTES} were read."
            )
            self.notes.append(Assumption("metadata-size", sentence, numbers={"size": chunk.size}))
        return self.source.read(chunk.offset, min(chunk.size, LARGEST_METADATA_BYTES))

    def _all(self, name: str) -> list[bytes]:
        return [self._payload(chunk) for chunk in self.chunks if chunk.id.casefold() == name.casefold()]

    def bext(self) -> Bext | None:
        for payload in self._all("bext")[:1]:
            if len(payload) < FIXED_BYTES:
                sentence = (
                    f"The bext chunk has {len(payload)} of {FIXED_BYTES} bytes; what is missing was taken as empty."
                )
                self.notes.append(Assumption("bext-short", sentence, numbers={"size": len(payload)}))
            return Bext.from_bytes(payload)
        return None

    def ixml(self) -> IXml | None:
        trouble = ""
        for payload in self._all("iXML"):
            try:
                document = IXml.from_bytes(payload)
            except InputError:
                trouble = "The iXML chunk holds no readable document; it was left aside."
                continue
            if document.mended:
                sentence = f"The iXML chunk was mended to be read: {'; '.join(document.mended)}."
                self.notes.append(Assumption("ixml-mended", sentence))
            return document
        if trouble:
            self.notes.append(Assumption("ixml-unreadable", trouble))
        return None

    def _lists(self, kind: bytes) -> list[bytes]:
        return [payload for payload in self._all("LIST") if payload[:4] == kind]

    def info_list(self) -> dict[str, str]:
        texts: dict[str, str] = {}
        for payload in self._lists(b"INFO"):
            texts = {**parse_info(payload), **texts}
        return texts

    def cues(self) -> tuple[Cue, ...]:
        labels = b"".join(payload[0 if n == 0 else 4 :] for n, payload in enumerate(self._lists(b"adtl")))
        return tuple(cue for payload in self._all("cue ")[:1] for cue in parse_cues(payload, labels))


def _track_names(channels: int, lines: dict[str, str], ixml: IXml | None) -> tuple[str, ...]:
    """Names in order of the interleave: iXML, then the description's ``TRKn``, then the plain number."""
    names = {track.interleave_index: track.name for track in (ixml.tracks if ixml else ()) if track.name}
    written = {int(key[3:]): text for key, text in lines.items() if key[:3] == "TRK" and key[3:].isdecimal() and text}
    if len(written) == channels:
        # These count the recorder's inputs, and only armed ones are in the file: they stand in order.
        written = dict(enumerate((written[key] for key in sorted(written)), 1))
    return tuple(names.get(n) or written.get(n) or f"Track {n}" for n in range(1, channels + 1))


def _rate_of_lines(lines: dict[str, str]) -> Rate | None:
    """A rate as descriptions write it: ``sSPEED=025.000-NDF``."""
    rate, _, flag = lines.get("SPEED", "").partition("-")
    return read_rate(rate, flag)


def _disagreements(form: AudioFormat, bext: Bext | None, ixml: IXml | None) -> tuple[str, ...]:
    """Where iXML says other than the chunks it repeats."""
    if ixml is None:
        return ()
    speed, found = ixml.speed, []
    if speed.file_sample_rate_hz not in (None, form.sample_rate_hz):
        found.append(f"iXML says {speed.file_sample_rate_hz} Hz, the format chunk {form.sample_rate_hz} Hz.")
    if speed.bit_depth not in (None, form.sample_format.bits):
        found.append(f"iXML says {speed.bit_depth} bits, the format chunk {form.sample_format.bits}.")
    if bext and speed.timestamp_samples not in (None, bext.time_reference):
        found.append(f"iXML starts at sample {speed.timestamp_samples} from midnight, bext at {bext.time_reference}.")
    if speed.timestamp_sample_rate_hz not in (None, form.sample_rate_hz):
        found.append(
            f"The time stamp counts at {speed.timestamp_sample_rate_hz} Hz, the file plays at {form.sample_rate_hz} Hz."
        )
    if ixml.tracks and len(ixml.tracks) != form.channels:
        found.append(f"iXML lists {len(ixml.tracks)} tracks, the file holds {form.channels}.")
    lines = bext.lines if bext else {}
    for name, value in (("SCENE", ixml.scene), ("TAKE", ixml.take), ("TAPE", ixml.sound_roll)):
        if value and lines.get(name, value) != value:
            found.append(f"iXML says {name.lower()} '{value}', the bext description '{lines[name]}'.")
    return tuple(found)
