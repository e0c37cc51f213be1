"""iXML: every published element, every ambiguity met in the wild, edits that leave the rest alone."""

from __future__ import annotations

import pickle
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from rollsound.errors import InputError
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, FileSet, IXml, IXmlLoudness, IXmlTrack, SampleFormat, SyncPoint

# Every element of the published object list, values of our own.
EVERYTHING = b"""<?xml version="1.0" encoding="UTF-8"?>
<BWFXML>
  <IXML_VERSION>3.01</IXML_VERSION>
  <PROJECT>Northbound Ferry</PROJECT><SCENE>12A</SCENE><TAKE>WT1</TAKE><TAPE>R04</TAPE>
  <NOTE>gulls &amp; engine</NOTE><CIRCLED>TRUE</CIRCLED>
  <NO_GOOD>FALSE</NO_GOOD><FALSE_START>yes</FALSE_START><WILD_TRACK>1</WILD_TRACK>
  <TAKE_TYPE>WILD_TRACK, PICKUP</TAKE_TYPE>
  <FILE_UID>F00D</FILE_UID><UBITS>20260203</UBITS>
  <SYNC_POINT_LIST><SYNC_POINT_COUNT>2</SYNC_POINT_COUNT>
    <SYNC_POINT><SYNC_POINT_TYPE>RELATIVE</SYNC_POINT_TYPE>
      <SYNC_POINT_FUNCTION>PRE_RECORD_SAMPLECOUNT</SYNC_POINT_FUNCTION>
      <SYNC_POINT_LOW>480000</SYNC_POINT_LOW><SYNC_POINT_HIGH>0</SYNC_POINT_HIGH></SYNC_POINT>
    <SYNC_POINT><SYNC_POINT_TYPE>ABSOLUTE</SYNC_POINT_TYPE>
      <SYNC_POINT_FUNCTION>SLATE_GENERIC</SYNC_POINT_FUNCTION><SYNC_POINT_COMMENT>late</SYNC_POINT_COMMENT>
      <SYNC_POINT_LOW>7</SYNC_POINT_LOW><SYNC_POINT_HIGH>1</SYNC_POINT_HIGH>
      <SYNC_POINT_EVENT_DURATION>9</SYNC_POINT_EVENT_DURATION></SYNC_POINT>
  </SYNC_POINT_LIST>
  <SPEED><NOTE>cine speed</NOTE><MASTER_SPEED>24000/1001</MASTER_SPEED><CURRENT_SPEED>48/1</CURRENT_SPEED>
    <TIMECODE_RATE>30000/1001</TIMECODE_RATE><TIMECODE_FLAG>DF</TIMECODE_FLAG>
    <FILE_SAMPLE_RATE>48000</FILE_SAMPLE_RATE><AUDIO_BIT_DEPTH>24</AUDIO_BIT_DEPTH>
    <DIGITIZER_SAMPLE_RATE>48048</DIGITIZER_SAMPLE_RATE>
    <TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI>2</TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI>
    <TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO>5</TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO>
    <TIMESTAMP_SAMPLE_RATE>48048</TIMESTAMP_SAMPLE_RATE></SPEED>
  <LOUDNESS><LOUDNESS_VALUE>-23.1</LOUDNESS_VALUE><LOUDNESS_RANGE>7</LOUDNESS_RANGE>
    <MAX_TRUE_PEAK_LEVEL>-2.5</MAX_TRUE_PEAK_LEVEL><MAX_MOMENTARY_LOUDNESS>-19</MAX_MOMENTARY_LOUDNESS>
    <MAX_SHORT_TERM_LOUDNESS>-20</MAX_SHORT_TERM_LOUDNESS></LOUDNESS>
  <HISTORY><ORIGINAL_FILENAME>a.wav</ORIGINAL_FILENAME><PARENT_FILENAME>b.wav</PARENT_FILENAME>
    <PARENT_UID>P1</PARENT_UID><CURRENT_FILENAME>c.wav</CURRENT_FILENAME></HISTORY>
  <FILE_SET><TOTAL_FILES>8</TOTAL_FILES><FAMILY_UID>FAM</FAMILY_UID><FAMILY_NAME>12A-WT1</FAMILY_NAME>
    <FILE_SET_INDEX>B</FILE_SET_INDEX><FILE_SET_START_TIME_HI>1</FILE_SET_START_TIME_HI>
    <FILE_SET_START_TIME_LO>6</FILE_SET_START_TIME_LO></FILE_SET>
  <TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT>
    <TRACK><CHANNEL_INDEX>7</CHANNEL_INDEX><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>Oda</NAME>
      <FUNCTION>RIGHT</FUNCTION><DEFAULT_MIX><LEVEL>-6</LEVEL><PAN>30L</PAN></DEFAULT_MIX></TRACK>
    <TRACK><CHANNEL_INDEX>3</CHANNEL_INDEX><INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>Boom</NAME></TRACK>
  </TRACK_LIST>
  <BEXT><BWF_DESCRIPTION>sSCENE=12A</BWF_DESCRIPTION><BWF_TIME_REFERENCE_LOW>5</BWF_TIME_REFERENCE_LOW>
    <BWF_TIME_REFERENCE_HIGH>2</BWF_TIME_REFERENCE_HIGH></BEXT>
  <USER>free words<DIRECTOR_NAME>Imani Roe</DIRECTOR_NAME></USER>
  <LOCATION><LOCATION_NAME>Skarvik quay</LOCATION_NAME><LOCATION_GPS>63.1 8.2</LOCATION_GPS>
    <LOCATION_ALTITUDE>3</LOCATION_ALTITUDE><LOCATION_TYPE>EXT</LOCATION_TYPE><LOCATION_TIME>DAY</LOCATION_TIME></LOCATION>
  <ASWG><contentType>dialogue</contentType></ASWG>
  <!-- a maker's own -->
  <DECK_SENSOR unit="C"><SERIAL>42</SERIAL></DECK_SENSOR>
</BWFXML>
"""


def doc(body: str) -> IXml:
    return IXml.from_bytes(f"<BWFXML>{body}</BWFXML>".encode())


@pytest.mark.source("iXML specification 3.x, object details (gallery.co.uk/ixml)", kind="published")
def test_every_published_element_is_read() -> None:
    x = IXml.from_bytes(EVERYTHING)
    assert x.mended == ()
    assert (x.version, x.project, x.scene, x.take, x.sound_roll) == ((3, 1), "Northbound Ferry", "12A", "WT1", "R04")
    assert (x.note, x.circled, x.file_uid, x.user_bits) == ("gulls & engine", True, "F00D", "20260203")
    assert x.take_types == ("WILD_TRACK", "PICKUP", "FALSE_START")
    assert x.pre_record_samples == 480_000
    assert x.sync_points[1] == SyncPoint("SLATE_GENERIC", (1 << 32) + 7, True, "late", 9)
    s = x.speed
    assert (s.note, s.master, s.current) == ("cine speed", Fraction(24000, 1001), Fraction(48))
    assert s.rate == Rate(30000, 1001, 30, True)
    assert (s.file_sample_rate_hz, s.bit_depth, s.digitizer_sample_rate_hz) == (48000, 24, 48048)
    assert (s.timestamp_samples, s.timestamp_sample_rate_hz) == ((2 << 32) + 5, 48048)
    assert (x.loudness.value_lufs, x.loudness.range_lu, x.loudness.true_peak_dbtp) == (-23.1, 7.0, -2.5)
    assert (x.loudness.momentary_lufs, x.loudness.short_term_lufs) == (-19.0, -20.0)
    h = x.history
    assert (h.original_filename, h.parent_filename, h.parent_uid, h.current_filename) == (
        "a.wav",
        "b.wav",
        "P1",
        "c.wav",
    )
    assert x.file_set == FileSet(8, "FAM", "12A-WT1", "B", (1 << 32) + 6)
    assert x.tracks == (IXmlTrack(3, 1, "Boom", ""), IXmlTrack(7, 2, "Oda", "RIGHT", "-6", "30L"))
    assert x.bext_copy == {"DESCRIPTION": "sSCENE=12A", "TIME_REFERENCE_LOW": "5", "TIME_REFERENCE_HIGH": "2"}
    assert x.user == {"": "free words", "DIRECTOR_NAME": "Imani Roe"}
    assert (x.location.name, x.location.gps, x.location.altitude) == ("Skarvik quay", "63.1 8.2", "3")
    assert (x.location.type, x.location.time) == ("EXT", "DAY")


def test_nothing_is_compulsory() -> None:
    x = doc("")
    assert (x.version, x.scene, x.circled, x.take_types, x.tracks, x.sync_points) == ((), "", False, (), (), ())
    assert x.speed.rate is None
    assert x.speed.timestamp_samples is None
    assert x.file_set == FileSet()
    assert x.pre_record_samples is None


def test_unknown_elements_and_comments_survive_an_edit() -> None:
    x = IXml.from_bytes(EVERYTHING)
    x.set("SCENE", "13")
    x.set_tracks([IXmlTrack(3, 1, "Boom 1"), IXmlTrack(7, 2, "Oda", "RIGHT")])
    written = x.to_bytes().decode()
    for kept in (
        "<!-- a maker's own -->",
        '<DECK_SENSOR unit="C"><SERIAL>42</SERIAL>',
        "<contentType>",
        "<PAN>30L</PAN>",
    ):
        assert kept in written
    assert x.scene == "13"


def test_an_edit_changes_only_what_it_names() -> None:
    before = IXml.from_bytes(EVERYTHING).to_bytes()
    x = IXml.from_bytes(EVERYTHING)
    x.set("SCENE", "13")
    wanted = before.replace(b"<SCENE>12A</SCENE>", b"<SCENE>13</SCENE>")
    assert x.to_bytes().rstrip() == wanted.rstrip()


@pytest.mark.source("spellings met in public files", kind="practice")
@pytest.mark.parametrize(
    ("rate", "flag", "wanted"),
    [
        ("24000/1001", "NDF", Rate(24000, 1001, 24)),
        ("23.976", "NDF", Rate(24000, 1001, 24)),
        ("23.98", "", Rate(24000, 1001, 24)),
        ("25", "", Rate(25, 1, 25)),
        ("25/1", "NDF", Rate(25, 1, 25)),
        ("25/1", "DF", Rate(25, 1, 25)),
        ("2997ND", "NDF", Rate(30000, 1001, 30)),
        ("29.97", "DF", Rate(30000, 1001, 30, True)),
        ("2997DF", "", Rate(30000, 1001, 30, True)),
        ("30000/1001", "df", Rate(30000, 1001, 30, True)),
        ("30000/1001", "ND", Rate(30000, 1001, 30)),
        ("2997DF", "NDF", Rate(30000, 1001, 30, True)),
        ("60000/1001", "DF", Rate(60000, 1001, 60, True)),
        ("0/0", "NDF", None),
        ("fast", "NDF", None),
        ("", "DF", None),
    ],
)
def test_rates_as_they_occur(rate: str, flag: str, wanted: Rate | None) -> None:
    x = doc(f"<SPEED><TIMECODE_RATE>{rate}</TIMECODE_RATE><TIMECODE_FLAG>{flag}</TIMECODE_FLAG></SPEED>")
    assert x.speed.rate == wanted


def test_a_wrong_row_of_rates_would_be_noticed() -> None:
    x = doc("<SPEED><TIMECODE_RATE>23.976</TIMECODE_RATE></SPEED>")
    assert x.speed.rate not in (None, Rate(24, 1, 24), Rate(30000, 1001, 30))


@pytest.mark.parametrize(
    ("high", "low", "wanted"),
    [
        ("0", "1728000000", 1_728_000_000),
        ("1", "0", 1 << 32),
        ("", "5", 5),
        ("0", "8000000000", 8_000_000_000),
        ("1", "", None),
        ("-1", "5", None),
        ("x", "5", None),
        ("4294967295", "4294967295", (1 << 64) - 1),
        ("4294967296", "0", None),
    ],
)
def test_two_words_are_one_number(high: str, low: str, wanted: int | None) -> None:
    name = "TIMESTAMP_SAMPLES_SINCE_MIDNIGHT"
    assert (
        doc(f"<SPEED><{name}_HI>{high}</{name}_HI><{name}_LO>{low}</{name}_LO></SPEED>").speed.timestamp_samples
        == wanted
    )


@pytest.mark.parametrize(
    ("places", "wanted"),
    [
        (("1", "2", "3"), "abc"),
        (("0", "1", "2"), "abc"),
        (("3", "1", "2"), "bca"),
        (("2", "0", "1"), "bca"),
        ((None, None, None), "abc"),
        (("1", "1", "2"), "abc"),
        (("-4", "x", "99999999"), "abc"),
    ],
)
def test_tracks_are_ordered_by_interleave(places: tuple[str | None, ...], wanted: str) -> None:
    body = "".join(
        f"<TRACK>{'' if place is None else f'<INTERLEAVE_INDEX>{place}</INTERLEAVE_INDEX>'}<NAME>{name}</NAME></TRACK>"
        for place, name in zip(places, "abc", strict=True)
    )
    tracks = doc(f"<TRACK_LIST>{body}</TRACK_LIST>").tracks
    assert "".join(track.name for track in tracks) == wanted
    assert [track.interleave_index for track in tracks] == [1, 2, 3]


def test_gaps_in_the_recorder_s_inputs_are_kept() -> None:
    body = "".join(
        f"<TRACK><CHANNEL_INDEX>{channel}</CHANNEL_INDEX><INTERLEAVE_INDEX>{place}</INTERLEAVE_INDEX></TRACK>"
        for place, channel in enumerate((1, 4, 9), 1)
    )
    assert [each.channel_index for each in doc(f"<TRACK_LIST>{body}</TRACK_LIST>").tracks] == [1, 4, 9]


def test_versions_compare_as_whole_numbers() -> None:
    assert doc("<IXML_VERSION>1.6</IXML_VERSION>").version < doc("<IXML_VERSION>1.51</IXML_VERSION>").version
    assert doc("<IXML_VERSION>2.10</IXML_VERSION>").version == (2, 10)
    assert doc("<IXML_VERSION>new</IXML_VERSION>").version == ()


@pytest.mark.parametrize("word", ["TRUE", "true", "1", "YES", " yes "])
def test_true_in_every_spelling(word: str) -> None:
    assert doc(f"<CIRCLED>{word}</CIRCLED>").circled
    assert not doc("<CIRCLED>FALSE</CIRCLED>").circled


def test_take_types_are_written_both_ways() -> None:
    x = IXml.empty()
    x.set_take_types(["NO_GOOD", "PICKUP"])
    assert (x.get("TAKE_TYPE"), x.get("NO_GOOD"), x.get("WILD_TRACK")) == ("NO_GOOD,PICKUP", "TRUE", "FALSE")
    x.set_take_types([])
    assert (x.get("TAKE_TYPE"), x.get("NO_GOOD"), x.take_types) == ("DEFAULT", "FALSE", ())


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "cp1252"]
)
@pytest.mark.parametrize("declared", ["", "right", "UTF-16", "nonsense"])
def test_every_encoding_with_any_declaration(encoding: str, declared: str) -> None:
    name = {"utf-8-sig": "utf-8", "cp1252": "windows-1252"}.get(encoding, encoding)
    head = f'<?xml version="1.0" encoding="{name if declared == "right" else declared}"?>' if declared else ""
    raw = f"{head}<BWFXML><PROJECT>Åse – ferry</PROJECT></BWFXML>".replace("–", "-" if encoding == "latin-1" else "–")
    assert IXml.from_bytes(raw.encode(encoding)).project.startswith("Åse ")


@pytest.mark.parametrize(
    "raw",
    [
        b"<BWFXML><SCENE>7</SCENE><PROJECT>A & B</PROJECT></BWFXML>",
        b"<BWFXML><SCENE>7</SCENE><PROJECT>A &wave; B</PROJECT></BWFXML>",
        b"<BWFXML><PROJECT>A</TAKE><SCENE>7</SCENE></BWFXML>",
        b"<BWFXML><PROJECT>A\x01\x02B</PROJECT><SCENE>7</SCENE></BWFXML>",
        b"<BWFXML><PROJECT>A<SCENE>7</SCENE></BWFXML>",
        b"<BWFXML><SCENE>7</SCENE><PROJECT>cut here",
        b"<BWFXML><SCENE>7</SCENE></BWFXML>" + bytes(100),
        b"  \n<BWFXML><SCENE>7</SCENE></BWFXML> trailing",
        b"<a><BWFXML><SCENE>7</SCENE></BWFXML></a>",
        b"<bwfxml><scene>7</scene></bwfxml>",
        b"<x:BWFXML xmlns:x='urn:x'><x:SCENE>7</x:SCENE></x:BWFXML>",
        b"<BWFXML><SCENE></SCENE><SCENE>7</SCENE></BWFXML>",
        b"<BWFXML><SCENE><![CDATA[7]]></SCENE></BWFXML>",
        b"<BWFXML><SCENE>&#55;</SCENE></BWFXML>",
    ],
)
def test_broken_documents_give_what_they_hold(raw: bytes) -> None:
    assert IXml.from_bytes(raw).scene == "7"


@pytest.mark.parametrize("raw", [b"", b"\0\0\0", b"no xml", b"<OTHER/>", b"\xff\xfe", b"<"])
def test_no_document_is_said(raw: bytes) -> None:
    with pytest.raises(InputError, match="no iXML document"):
        IXml.from_bytes(raw)


def test_deep_nesting_is_no_harm() -> None:
    raw = b"<BWFXML><SCENE>7</SCENE>" + b"<a>" * 100_000
    assert IXml.from_bytes(raw).scene == "7"


def test_trim_moves_everything_together() -> None:
    x = IXml.from_bytes(EVERYTHING)
    x.add_sync_point(SyncPoint("MARKER_GENERIC", 1_000_000))
    x.add_sync_point(SyncPoint("MARKER_GENERIC", 100))
    x.trim(500_000, 200_000)
    assert x.speed.timestamp_samples == (2 << 32) + 500_005
    assert x.bext_copy["TIME_REFERENCE_LOW"] == "500005"
    assert [(each.function, each.position) for each in x.sync_points] == [
        ("PRE_RECORD_SAMPLECOUNT", 0),
        ("SLATE_GENERIC", (1 << 32) + 7),
    ]
    assert x.get("SYNC_POINT_LIST/SYNC_POINT_COUNT") == "2"


def test_a_derived_file_names_its_parent() -> None:
    x = IXml.from_bytes(EVERYTHING)
    x.derive(parent_filename="12A-WT1.wav", file_uid="NEW")
    assert (x.file_uid, x.history.parent_uid, x.history.parent_filename) == ("NEW", "F00D", "12A-WT1.wav")
    assert x.history.original_filename == "a.wav"


def test_a_built_document_says_all_it_was_told() -> None:
    form = AudioFormat(48000, 2, SampleFormat.PCM24)
    bext = Bext(description="d", time_reference=(1 << 32) + 9, umid=b"\1\2")
    x = IXml.build(
        project="Northbound Ferry",
        scene="12A",
        take="3",
        sound_roll="R04",
        note="a < b & c\x01",
        circled=True,
        take_types=["PICKUP"],
        file_uid="U",
        rate=Rate(25, 1, 25),
        audio=form,
        tracks=["Boom", "Oda"],
        file_set=FileSet(2, "FAM", "fam", "1", 5),
        original_filename="a.wav",
        bext=bext,
        user={"SOUND_MIXER_NAME": "Yusra Falk"},
    )
    x = IXml.from_bytes(x.to_bytes())
    assert (x.scene, x.note, x.circled, x.take_types) == ("12A", "a < b & c", True, ("PICKUP",))
    assert (x.speed.timestamp_samples, x.speed.timestamp_sample_rate_hz) == ((1 << 32) + 9, 48000)
    assert x.get("SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI") == "1"
    assert (x.rate, x.speed.master) == (Rate(25, 1, 25), Fraction(25))
    assert x.tracks == (IXmlTrack(1, 1, "Boom"), IXmlTrack(2, 2, "Oda"))
    assert x.file_set == FileSet(2, "FAM", "fam", "1", 5)
    assert x.bext_copy["UMID"] == "0102"
    assert x.user == {"SOUND_MIXER_NAME": "Yusra Falk"}
    assert x.mended == ()


def test_loudness_is_written_as_far_as_it_is_known() -> None:
    x = IXml.from_bytes(EVERYTHING)
    x.set_loudness(IXmlLoudness(-24.0, None, -3.25, None, None))
    assert IXml.from_bytes(x.to_bytes()).loudness == IXmlLoudness(-24.0, None, -3.25, None, None)


def test_a_time_before_midnight_is_refused() -> None:
    with pytest.raises(InputError, match="cannot be written as a time"):
        doc("").set_timestamp(-1)


def test_copies_and_pickles_are_apart() -> None:
    x = IXml.from_bytes(EVERYTHING)
    twin, frozen = x.copy(), pickle.loads(pickle.dumps(x))
    assert twin == x == frozen
    twin.set("SCENE", "99")
    assert x.scene == "12A"
    assert twin != x
    x.remove("SPEED/NOTE")
    assert x.speed.note == ""
    assert x.note == "gulls & engine"


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60), st.sampled_from(["SCENE", "SPEED/NOTE", "A/B/C"]))
def test_any_text_can_be_set_and_is_well_formed(text: str, path: str) -> None:
    x = IXml.from_bytes(EVERYTHING)
    x.set(path, text)
    raw = x.to_bytes()
    etree.fromstring(raw)
    assert len(raw) % 2 == 0
    assert IXml.from_bytes(raw).get(path) == x.get(path)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300), st.integers(0, len(EVERYTHING)), st.integers(0, 200))
def test_any_bytes_give_a_document_or_our_error(junk: bytes, at: int, cut: int) -> None:
    for raw in (junk, EVERYTHING[:at] + junk + EVERYTHING[at + cut :]):
        try:
            x = IXml.from_bytes(raw)
        except InputError:
            continue
        x.tracks, x.speed, x.sync_points, x.file_set, x.user, x.bext_copy, x.loudness, x.version  # noqa: B018
        x.trim(10, 100)
        IXml.from_bytes(x.to_bytes())
