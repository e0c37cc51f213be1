"""The broadcast extension: layout by the standard, versions, unset loudness, text as it comes."""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.wave import AudioFormat, Bext, SampleFormat, history_line

FULL = Bext(
    description="sSCENE=12A\r\nsTAKE=3\r\nsTRK1=Boom\r\nsTRK3=Oda\r\nzNOTE=two = one\r\nfree text",
    originator="Corpus",
    originator_reference="NOSKA0000001120260203093000123456",
    origination_date="2026-02-03",
    origination_time="09:30:00",
    time_reference=0x123456789A,
    version=2,
    umid=bytes(range(1, 65)),
    loudness_value_lufs=-23.04,
    loudness_range_lu=0.0,
    loudness_true_peak_dbtp=-1.5,
    loudness_momentary_lufs=None,
    loudness_short_term_lufs=-18.25,
    coding_history="A=PCM,F=48000,W=24,M=multi\r\n",
)

# Offset, size, expected bytes. A wrong offset in this table makes the test red, as the one below shows.
LAYOUT = [
    (0, 16, b"sSCENE=12A\r\nsTAK"),
    (256, 32, b"Corpus" + bytes(26)),
    (288, 32, b"NOSKA000000112026020309300012345"),
    (320, 10, b"2026-02-03"),
    (330, 8, b"09:30:00"),
    (338, 4, struct.pack("<I", 0x3456789A)),
    (342, 4, struct.pack("<I", 0x12)),
    (346, 2, b"\x02\x00"),
    (348, 64, bytes(range(1, 65))),
    (412, 2, struct.pack("<h", -2304)),
    (414, 2, struct.pack("<h", 0)),
    (416, 2, struct.pack("<h", -150)),
    (418, 2, b"\xff\x7f"),
    (420, 2, struct.pack("<h", -1825)),
    (422, 180, bytes(180)),
    (602, 28, b"A=PCM,F=48000,W=24,M=multi\r\n"),
]


@pytest.mark.source("EBU Tech 3285 version 2 (2011), table of fields", kind="published")
@pytest.mark.parametrize(("offset", "size", "wanted"), LAYOUT)
def test_every_field_is_where_the_standard_puts_it(offset: int, size: int, wanted: bytes) -> None:
    assert FULL.to_bytes()[offset : offset + size] == wanted


def test_a_wrong_offset_would_be_noticed() -> None:
    payload = FULL.to_bytes()
    assert not any(payload[offset + 1 : offset + 1 + size] == wanted for offset, size, wanted in LAYOUT[:6])


@pytest.mark.source("EBU Tech 3285 version 2 (2011): 0x7FFF is unset, 0 is a value", kind="published")
def test_unset_loudness_is_not_zero() -> None:
    back = Bext.from_bytes(FULL.to_bytes())
    assert back.loudness_momentary_lufs is None
    assert back.loudness_range_lu == 0.0
    assert back.loudness_value_lufs == -23.04
    unset = Bext().to_bytes()
    assert unset[412:422] == b"\xff\x7f" * 5


@pytest.mark.parametrize("version", [0, 1, 2])
def test_versions_keep_to_their_fields(version: int) -> None:
    raw = bytearray(602)
    struct.pack_into("<H", raw, 346, version)
    raw[348:412] = b"\x11" * 64
    struct.pack_into("<5h", raw, 412, 1, 2, 3, 4, 5)
    read = Bext.from_bytes(bytes(raw))
    assert read.version == version
    assert read.umid == (b"\x11" * 64 if version else b"")
    assert read.loudness_value_lufs == (0.01 if version == 2 else None)
    assert read.to_bytes() == bytes(raw)


def test_filled_fields_raise_the_version() -> None:
    assert Bext.from_bytes(Bext(version=0, umid=b"\1").to_bytes()).version == 1
    assert Bext.from_bytes(Bext(version=0, loudness_value_lufs=-23.0).to_bytes()).version == 2


@pytest.mark.parametrize("value", [400.0, -327.69, 327.67, float("nan")])
def test_a_loudness_that_cannot_be_written_is_refused(value: float) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        Bext(loudness_value_lufs=value).to_bytes()


def test_text_full_to_the_last_byte_needs_no_nul() -> None:
    read = Bext.from_bytes(Bext(originator="x" * 32, description="d" * 300).to_bytes())
    assert read.originator == "x" * 32
    assert read.description == "d" * 256


def test_text_is_never_cut_inside_a_character() -> None:
    read = Bext.from_bytes(Bext(originator="ø" * 20 + "x").to_bytes())
    assert read.originator == "ø" * 16
    assert Bext.from_bytes(Bext(originator="x" + "ø" * 20).to_bytes()).originator == "x" + "ø" * 15


def test_latin_text_is_read_and_can_be_folded_to_ascii() -> None:
    raw = bytearray(602)
    raw[:5] = "Åse é".encode("latin-1")
    read = Bext.from_bytes(bytes(raw))
    assert read.description == "Åse é"
    assert read.ascii().description == "Ase e"
    assert replace(read, description="渡").ascii().to_bytes()[:2] == b"?\0"


def test_history_grows_by_lines() -> None:
    form = AudioFormat(48000, 2, SampleFormat.PCM24)
    once = Bext(coding_history="A=ANALOGUE").with_history(history_line(form, "mend, from card"))
    assert once.coding_history == "A=ANALOGUE\r\nA=PCM,F=48000,W=24,M=stereo,T=mend from card\r\n"
    assert once.with_history("x").coding_history.count("\r\n") == 3
    assert len(once.to_bytes()) % 2 == 0


@pytest.mark.source("key=value lines in the description", kind="practice")
def test_lines_of_the_description() -> None:
    assert FULL.lines == {"SCENE": "12A", "TAKE": "3", "TRK1": "Boom", "TRK3": "Oda", "NOTE": "two = one"}


@given(st.binary(max_size=800))
def test_any_bytes_become_fields_and_settle(raw: bytes) -> None:
    once = Bext.from_bytes(raw)
    again = once.to_bytes()
    assert len(again) % 2 == 0
    assert Bext.from_bytes(again).to_bytes() == again


@given(
    st.integers(0, (1 << 64) - 1),
    st.lists(st.none() | st.integers(-32768, 32766), min_size=5, max_size=5),
    st.binary(max_size=64).map(lambda raw: raw.rstrip(b"\0")),
)
def test_numbers_come_back(time: int, loudness: list[int | None], umid: bytes) -> None:
    values = [None if each is None else each / 100 for each in loudness]
    bext = Bext("d", "o", "r", "2026-02-03", "10:00:00", time, 2, umid, *values)
    assert Bext.from_bytes(bext.to_bytes()) == bext
