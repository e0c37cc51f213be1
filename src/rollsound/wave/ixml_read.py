"""What an iXML document says: every published element by a typed getter.

Nothing in a document is compulsory, and no element can be relied on; a getter answers with an empty value where the
file says nothing.

Source: iXML specification (gallery.co.uk/ixml): object details, usage guidelines, dictionaries.
"""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from rollsound.timecode import Rate
from rollsound.wave.ixml_parts import (
    LEGACY_FLAGS,
    LOUDNESS_NAMES,
    FileSet,
    History,
    IXmlLoudness,
    IXmlTrack,
    Location,
    Speed,
    SyncPoint,
    read_flag,
    read_float,
    read_fraction,
    read_int,
    read_rate,
    words_to_samples,
)
from rollsound.wave.xmltree import child, children, elements, part, text_of


class IXmlReading:
    """A document's typed getters."""

    def __init__(self, root: etree._Element, mended: tuple[str, ...] = ()) -> None:
        self._root = root
        self.mended = mended
        """What had to be mended to read it, one phrase each."""

    def get(self, path: str) -> str:
        """The text at a path such as ``SPEED/NOTE``; empty if there is none. Of several, the first with text counts."""
        texts = (text_of(element) for element in self._find(path))
        return next((text for text in texts if text), "")

    def _find(self, path: str) -> list[etree._Element]:
        level = [self._root]
        for name in path.split("/"):
            level = [each for parent in level for each in children(parent, name)]
        return level

    @property
    def version(self) -> tuple[int, ...]:
        """The version as whole numbers: 1.51 is (1, 51) and later than 1.6."""
        parts = self.get("IXML_VERSION").split(".")
        return tuple(int(part) for part in parts) if all(part.isdecimal() and len(part) < 10 for part in parts) else ()

    @property
    def project(self) -> str:
        """PROJECT."""
        return self.get("PROJECT")

    @property
    def scene(self) -> str:
        """SCENE."""
        return self.get("SCENE")

    @property
    def take(self) -> str:
        """TAKE."""
        return self.get("TAKE")

    @property
    def note(self) -> str:
        """NOTE."""
        return self.get("NOTE")

    @property
    def sound_roll(self) -> str:
        """TAPE."""
        return self.get("TAPE")

    @property
    def file_uid(self) -> str:
        """FILE_UID."""
        return self.get("FILE_UID")

    @property
    def user_bits(self) -> str:
        """UBITS, eight hexadecimal digits."""
        return self.get("UBITS")

    @property
    def circled(self) -> bool:
        """CIRCLED."""
        return read_flag(self.get("CIRCLED"))

    @property
    def take_types(self) -> tuple[str, ...]:
        """TAKE_TYPE together with the older flags, without DEFAULT: empty for a normal take."""
        written = [word.strip().upper().replace(" ", "_") for word in self.get("TAKE_TYPE").split(",")]
        written += [flag for flag in LEGACY_FLAGS if read_flag(self.get(flag))]
        return tuple(dict.fromkeys(word for word in written if word and word != "DEFAULT"))

    @property
    def pre_record_samples(self) -> int | None:
        """Length of the pre-roll: the sync point of that name, or the element that stood for it before 1.4."""
        for point in self.sync_points:
            if point.function == "PRE_RECORD_SAMPLECOUNT":
                return point.position
        return read_int(self.get("PRE_RECORD_SAMPLECOUNT"))

    @property
    def location(self) -> Location:
        """LOCATION."""
        names = ("NAME", "GPS", "ALTITUDE", "TYPE", "TIME")
        return Location(*(self.get(f"LOCATION/LOCATION_{name}") for name in names))

    @property
    def user(self) -> dict[str, str]:
        """USER: its named fields, and its free text under the empty name."""
        fields = {str(each.tag): text_of(each) for group in self._find("USER") for each in elements(group)}
        free = "".join(group.text or "" for group in self._find("USER")).strip()
        return {**fields, "": free} if free else fields

    @property
    def bext_copy(self) -> dict[str, str]:
        """BEXT: the copies of the broadcast extension's fields, by their names without ``BWF_``."""
        found = (each for group in self._find("BEXT") for each in elements(group))
        return {str(each.tag).upper().removeprefix("BWF_"): text_of(each) for each in found}

    @property
    def loudness(self) -> IXmlLoudness:
        """LOUDNESS."""
        return IXmlLoudness(*(read_float(self.get(f"LOUDNESS/{name}")) for name in LOUDNESS_NAMES))

    @property
    def speed(self) -> Speed:
        """SPEED."""

        def text(name: str) -> str:
            return self.get(f"SPEED/{name}")

        return Speed(
            note=text("NOTE"),
            master=read_fraction(text("MASTER_SPEED")),
            current=read_fraction(text("CURRENT_SPEED")),
            rate=read_rate(text("TIMECODE_RATE"), text("TIMECODE_FLAG")),
            file_sample_rate_hz=read_int(text("FILE_SAMPLE_RATE")),
            bit_depth=read_int(text("AUDIO_BIT_DEPTH")),
            digitizer_sample_rate_hz=read_int(text("DIGITIZER_SAMPLE_RATE")),
            timestamp_samples=words_to_samples(
                text("TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI"), text("TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO")
            ),
            timestamp_sample_rate_hz=read_int(text("TIMESTAMP_SAMPLE_RATE")),
        )

    @property
    def rate(self) -> Rate | None:
        """The frame rate of the time code."""
        return self.speed.rate

    @property
    def sync_points(self) -> tuple[SyncPoint, ...]:
        """SYNC_POINT_LIST; points without a readable position are passed over."""
        found = ((element, position_of(element)) for element in self._find("SYNC_POINT_LIST/SYNC_POINT"))
        return tuple(
            SyncPoint(
                function=part(element, "SYNC_POINT_FUNCTION").upper(),
                position=position,
                absolute=part(element, "SYNC_POINT_TYPE").upper().startswith("ABS"),
                comment=part(element, "SYNC_POINT_COMMENT"),
                duration=read_int(part(element, "SYNC_POINT_EVENT_DURATION")) or 0,
            )
            for element, position in found
            if position is not None
        )

    @property
    def history(self) -> History:
        """HISTORY."""
        names = ("ORIGINAL_FILENAME", "PARENT_FILENAME", "PARENT_UID", "CURRENT_FILENAME")
        return History(*(self.get(f"HISTORY/{name}") for name in names))

    @property
    def file_set(self) -> FileSet:
        """FILE_SET."""

        def text(name: str) -> str:
            return self.get(f"FILE_SET/{name}")

        start = words_to_samples(text("FILE_SET_START_TIME_HI"), text("FILE_SET_START_TIME_LO"))
        total = read_int(text("TOTAL_FILES")) or 1
        return FileSet(total, text("FAMILY_UID"), text("FAMILY_NAME"), text("FILE_SET_INDEX"), start)

    @property
    def tracks(self) -> tuple[IXmlTrack, ...]:
        """TRACK_LIST in order of the interleave, counted from 1.

        Where writers counted from 0, left the interleave out or gave two tracks one place, it is mended here: by one
        added to all, or by the order in the document.
        """
        found = [
            IXmlTrack(
                read_int(part(element, "CHANNEL_INDEX")) or 0,
                _small(part(element, "INTERLEAVE_INDEX")),
                part(element, "NAME"),
                part(element, "FUNCTION"),
                *_default_mix(element),
            )
            for element in self._find("TRACK_LIST/TRACK")
        ]
        places = [track.interleave_index for track in found]
        if found and min(places) == 0 and len(set(places)) == len(places):
            found = [replace(track, interleave_index=track.interleave_index + 1) for track in found]
        elif len(set(places)) != len(places) or (found and min(places) < 1):
            found = [replace(track, interleave_index=place) for place, track in enumerate(found, 1)]
        return tuple(sorted(found, key=lambda track: track.interleave_index))


def position_of(element: etree._Element) -> int | None:
    """The position of a SYNC_POINT element."""
    return words_to_samples(part(element, "SYNC_POINT_HIGH"), part(element, "SYNC_POINT_LOW"))


def _small(text: str) -> int:
    """A place in an interleave: 0 when missing or absurd, so that the order in the document decides."""
    value = read_int(text)
    return value if value is not None and 0 <= value <= 0xFFFF else 0


def _default_mix(track: etree._Element) -> tuple[str, str]:
    """Level and pan of a TRACK's DEFAULT_MIX."""
    mix = child(track, "DEFAULT_MIX")
    return ("", "") if mix is None else (part(mix, "LEVEL"), part(mix, "PAN"))
