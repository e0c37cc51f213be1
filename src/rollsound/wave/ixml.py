"""The iXML chunk: read, edited and written so that everything that is not edited stays as it was.

The tree that was read is the tree that is written: unknown elements, comments and order stay.

Source: iXML specification (gallery.co.uk/ixml): object details, usage guidelines, dictionaries.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy

from lxml import etree

from rollsound.errors import InputError
from rollsound.timecode import Rate
from rollsound.wave.bext import Bext
from rollsound.wave.ixml_parts import (
    LEGACY_FLAGS,
    LOUDNESS_NAMES,
    TOP_LEVEL,
    FileSet,
    IXmlLoudness,
    IXmlTrack,
    SyncPoint,
    read_int,
    samples_to_words,
    words_to_samples,
)
from rollsound.wave.ixml_read import IXmlReading, position_of
from rollsound.wave.model import AudioFormat
from rollsound.wave.xmltext import BROKEN, clean, parse_xml
from rollsound.wave.xmltree import append, child_or_new, children, detach, name_of, part, put_text, write

ROOT = "BWFXML"
VERSION = "2.10"


class IXml(IXmlReading):
    """A document, edited in place. Two are equal when they would be written alike."""

    @classmethod
    def from_bytes(cls, payload: bytes) -> IXml:
        """Read a chunk's payload, forgiving whatever can be forgiven.

        Raises
        ------
        InputError
            when there is no iXML document in it at all
        """
        root, mended = parse_xml(payload)
        if root is not None and name_of(root) != ROOT.casefold():
            root = next((each for each in root.iter() if name_of(each) == ROOT.casefold()), None)
        if root is None:
            raise InputError("its iXML chunk holds no iXML document")
        if BROKEN in mended:
            _lift(root)
        return cls(root, mended)

    @classmethod
    def build(
        cls,
        *,
        project: str = "",
        scene: str = "",
        take: str = "",
        sound_roll: str = "",
        note: str = "",
        circled: bool = False,
        take_types: Sequence[str] = (),
        file_uid: str = "",
        rate: Rate | None = None,
        audio: AudioFormat | None = None,
        start_samples: int | None = None,
        tracks: Sequence[IXmlTrack | str] = (),
        file_set: FileSet | None = None,
        original_filename: str = "",
        bext: Bext | None = None,
        user: Mapping[str, str] | None = None,
    ) -> IXml:
        """A complete document for a new file. What is left out is left out of the file as well.

        Parameters
        ----------
        tracks
            tracks, or only their names: then track n stands at place n
        start_samples
            samples from midnight to the first sample; by default the time reference of ``bext``
        bext
            copied into the BEXT element, which must equal the chunk
        """
        document = cls.empty()
        texts = {"PROJECT": project, "SCENE": scene, "TAKE": take, "TAPE": sound_roll, "NOTE": note}
        for name, text in texts.items():
            if clean(text):
                document.set(name, text)
        document.set("CIRCLED", "TRUE" if circled else "FALSE")
        document.set_take_types(take_types)
        if file_uid:
            document.set("FILE_UID", file_uid)
        if start_samples is None and bext is not None:
            start_samples = bext.time_reference
        document._set_speed(rate, audio, start_samples)
        if file_set is not None:
            document.set_file_set(file_set)
        if original_filename:
            document.set("HISTORY/ORIGINAL_FILENAME", original_filename)
        if tracks:
            document.set_tracks(
                [IXmlTrack(n, n, each) if isinstance(each, str) else each for n, each in enumerate(tracks, 1)]
            )
        if bext is not None:
            document.set_bext_copy(bext)
        for name, text in (user or {}).items():
            document.set(f"USER/{name}", text)
        return document

    @classmethod
    def empty(cls) -> IXml:
        """A document that says only its version."""
        document = cls(etree.Element(ROOT))
        document.set("IXML_VERSION", VERSION)
        return document

    def to_bytes(self) -> bytes:
        """The chunk's payload: UTF-8 with declaration, of even length."""
        body = etree.tostring(self._root, encoding="UTF-8", xml_declaration=True, with_tail=False)
        return body + (b"\n" if len(body) % 2 else b"\n ")

    def copy(self) -> IXml:
        """A second document, edited apart from this one."""
        return IXml(deepcopy(self._root), self.mended)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, IXml) and self.to_bytes() == other.to_bytes()

    def __hash__(self) -> int:
        return hash(self.to_bytes())

    def __reduce__(self) -> tuple[Callable[[bytes], IXml], tuple[bytes]]:
        return IXml.from_bytes, (self.to_bytes(),)

    def set(self, path: str, value: str | int) -> None:
        """Write the text of one element, making it (and what holds it) if it is not there."""
        parent = self._root
        for name in path.split("/"):
            parent = child_or_new(parent, name)
        put_text(parent, clean(str(value)))

    def remove(self, path: str) -> None:
        """Take away every element at a path."""
        for element in self._find(path):
            holder = element.getparent()
            if holder is not None:
                detach(holder, element)

    def set_take_types(self, types: Sequence[str]) -> None:
        """Write TAKE_TYPE and, so that older readers agree, the three flags it replaced."""
        self.set("TAKE_TYPE", ",".join(types) if types else "DEFAULT")
        for flag in LEGACY_FLAGS:
            self.set(flag, "TRUE" if flag in types else "FALSE")

    def set_rate(self, rate: Rate) -> None:
        """Write the time code rate as a fraction, and its flag."""
        self.set("SPEED/TIMECODE_RATE", f"{rate.numerator}/{rate.denominator}")
        self.set("SPEED/TIMECODE_FLAG", "DF" if rate.drop else "NDF")

    def set_timestamp(self, samples: int, sample_rate_hz: int | None = None) -> None:
        """Write the count of samples since midnight as its two words, and the rate that turns it into time of day."""
        high, low = samples_to_words(samples)
        self.set("SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI", high)
        self.set("SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO", low)
        if sample_rate_hz is not None:
            self.set("SPEED/TIMESTAMP_SAMPLE_RATE", sample_rate_hz)

    def _set_speed(self, rate: Rate | None, audio: AudioFormat | None, start_samples: int | None) -> None:
        if rate is not None:
            for name in ("MASTER_SPEED", "CURRENT_SPEED"):
                self.set(f"SPEED/{name}", f"{rate.numerator}/{rate.denominator}")
            self.set_rate(rate)
        if audio is not None:
            for name in ("FILE_SAMPLE_RATE", "DIGITIZER_SAMPLE_RATE"):
                self.set(f"SPEED/{name}", audio.sample_rate_hz)
            self.set("SPEED/AUDIO_BIT_DEPTH", audio.sample_format.bits)
        if start_samples is not None:
            self.set_timestamp(start_samples, audio.sample_rate_hz if audio else None)

    def set_loudness(self, value: IXmlLoudness) -> None:
        """Write LOUDNESS; what is not measured is left out."""
        figures = (value.value_lufs, value.range_lu, value.true_peak_dbtp, value.momentary_lufs, value.short_term_lufs)
        for name, figure in zip(LOUDNESS_NAMES, figures, strict=True):
            if figure is None:
                self.remove(f"LOUDNESS/{name}")
            else:
                self.set(f"LOUDNESS/{name}", f"{figure:.2f}")

    def set_bext_copy(self, bext: Bext) -> None:
        """Write the BEXT element, so that it equals the chunk."""
        high, low = samples_to_words(bext.time_reference)
        fields = {
            "DESCRIPTION": bext.description,
            "ORIGINATOR": bext.originator,
            "ORIGINATOR_REFERENCE": bext.originator_reference,
            "ORIGINATION_DATE": bext.origination_date,
            "ORIGINATION_TIME": bext.origination_time,
            "TIME_REFERENCE_LOW": low,
            "TIME_REFERENCE_HIGH": high,
            "VERSION": str(bext.version),
            "UMID": bext.umid.hex().upper(),
            "CODING_HISTORY": bext.coding_history,
        }
        for name, text in fields.items():
            if text or self._find(f"BEXT/BWF_{name}"):
                self.set(f"BEXT/BWF_{name}", text)

    def add_sync_point(self, point: SyncPoint) -> None:
        """Append one SYNC_POINT."""
        listing = self._list("SYNC_POINT_LIST")
        child_or_new(listing, "SYNC_POINT_COUNT")
        element = append(listing, "SYNC_POINT")
        high, low = samples_to_words(point.position)
        fields = {
            "SYNC_POINT_TYPE": "ABSOLUTE" if point.absolute else "RELATIVE",
            "SYNC_POINT_FUNCTION": point.function,
            "SYNC_POINT_COMMENT": point.comment,
            "SYNC_POINT_LOW": low,
            "SYNC_POINT_HIGH": high,
            "SYNC_POINT_EVENT_DURATION": str(point.duration),
        }
        for name, value in fields.items():
            if value:
                append(element, name).text = clean(value)
        self._count("SYNC_POINT_LIST", "SYNC_POINT_COUNT", "SYNC_POINT")

    def trim(self, first_sample: int, length_samples: int | None = None) -> None:
        """Make the document fit a file that starts ``first_sample`` later: time stamp and sync points move together.

        Points that fall outside the new file go; the pre-roll, which is a length, is shortened.
        """
        stamp = self.speed.timestamp_samples
        if stamp is not None:
            self.set_timestamp(stamp + first_sample)
        self._move_bext_copy(first_sample)
        for element in self._find("SYNC_POINT_LIST/SYNC_POINT"):
            position = position_of(element)
            if position is None or part(element, "SYNC_POINT_TYPE").upper().startswith("ABS"):
                continue
            moved = position - first_sample
            if part(element, "SYNC_POINT_FUNCTION").upper() == "PRE_RECORD_SAMPLECOUNT":
                moved = max(moved, 0)
            if moved < 0 or (length_samples is not None and moved > length_samples):
                detach(self._list("SYNC_POINT_LIST"), element)
                continue
            high, low = samples_to_words(moved)
            write(element, "SYNC_POINT_HIGH", high)
            write(element, "SYNC_POINT_LOW", low)
        if self._find("SYNC_POINT_LIST"):
            self._count("SYNC_POINT_LIST", "SYNC_POINT_COUNT", "SYNC_POINT")

    def _move_bext_copy(self, first_sample: int) -> None:
        copied = words_to_samples(self.get("BEXT/BWF_TIME_REFERENCE_HIGH"), self.get("BEXT/BWF_TIME_REFERENCE_LOW"))
        if copied is not None:
            high, low = samples_to_words(copied + first_sample)
            self.set("BEXT/BWF_TIME_REFERENCE_HIGH", high)
            self.set("BEXT/BWF_TIME_REFERENCE_LOW", low)

    def derive(self, *, parent_filename: str, file_uid: str) -> None:
        """Make this the document of a file made from another: it gets its own id, and says where it comes from."""
        parent = self.file_uid
        if not self.get("HISTORY/ORIGINAL_FILENAME"):
            self.set("HISTORY/ORIGINAL_FILENAME", parent_filename)
        self.set("HISTORY/PARENT_FILENAME", parent_filename)
        if parent:
            self.set("HISTORY/PARENT_UID", parent)
        self.set("FILE_UID", file_uid)

    def set_file_set(self, value: FileSet) -> None:
        """Write FILE_SET."""
        self.set("FILE_SET/TOTAL_FILES", value.total_files)
        for name in ("family_uid", "family_name"):
            if getattr(value, name):
                self.set(f"FILE_SET/{name.upper()}", getattr(value, name))
        if value.index:
            self.set("FILE_SET/FILE_SET_INDEX", value.index)
        if value.start_samples is not None:
            high, low = samples_to_words(value.start_samples)
            self.set("FILE_SET/FILE_SET_START_TIME_HI", high)
            self.set("FILE_SET/FILE_SET_START_TIME_LO", low)

    def set_tracks(self, tracks: Sequence[IXmlTrack]) -> None:
        """Write TRACK_LIST. Tracks that were there before, by interleave index, keep what else was said of them."""
        before = {read_int(part(each, "INTERLEAVE_INDEX")): each for each in self._find("TRACK_LIST/TRACK")}
        listing = self._list("TRACK_LIST")
        child_or_new(listing, "TRACK_COUNT")
        for element in before.values():
            detach(listing, element)
        for element in children(listing, "TRACK"):
            detach(listing, element)
        for track in tracks:
            kept = before.get(track.interleave_index)
            element = append(listing, "TRACK") if kept is None else kept
            if kept is not None:
                listing.append(kept)
            write(element, "CHANNEL_INDEX", str(track.channel_index))
            write(element, "INTERLEAVE_INDEX", str(track.interleave_index))
            for name, value in (("NAME", track.name), ("FUNCTION", track.function)):
                if value or children(element, name):
                    write(element, name, clean(value))
            for name, value in (("LEVEL", track.mix_level), ("PAN", track.mix_pan)):
                if value:
                    write(child_or_new(element, "DEFAULT_MIX"), name, clean(value))
        self._count("TRACK_LIST", "TRACK_COUNT", "TRACK")

    def _list(self, name: str) -> etree._Element:
        return child_or_new(self._root, name)

    def _count(self, listing: str, counter: str, name: str) -> None:
        number = len(self._find(f"{listing}/{name}"))
        write(self._list(listing), counter, str(number))


def _lift(root: etree._Element) -> None:
    """Put elements back under the root that a missing end tag left inside others."""
    for element in list(root.iter()):
        name, parent = name_of(element), element.getparent()
        if (
            parent is None
            or parent is root
            or not (name in TOP_LEVEL or (name == "note" and name_of(parent) != "speed"))
        ):
            continue
        detach(parent, element)
        root.append(element)
