"""Scripts in the wrong encoding: read still, and told."""

from __future__ import annotations

import pytest

from rollsound.errors import BrokenFileError, InputError
from rollsound.script.decoding import decode

TEXT = "INT. CAFÉ - NIGHT\n\nJØRGEN\nDas Schiff fährt, Signý.\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-32", "utf-16-le", "utf-16-be"])
def test_unicode_is_read_without_a_word(encoding: str) -> None:
    assert decode(TEXT.encode(encoding), "a.fountain") == decode(TEXT.encode(), "a.fountain")
    assert decode(TEXT.encode(encoding), "a.fountain").note == ""
    assert decode(TEXT.encode(encoding), "a.fountain").text == TEXT


def test_a_code_page_is_told_with_its_line() -> None:
    found = decode(TEXT.encode("cp1252"), "a.fountain")
    assert found.text == TEXT
    assert "line 1" in found.note
    assert "1252" in found.note


def test_single_spoilt_bytes_leave_the_rest_as_it_is() -> None:
    found = decode(TEXT.encode().replace("ä".encode(), b"\xff"), "a.fountain")
    assert found.text == TEXT.replace("ä", "\ufffd")
    assert "line 4" in found.note


def test_half_a_character_at_the_end_is_told() -> None:
    for encoding in ("utf-8-sig", "utf-16"):
        data = (TEXT + "é").encode(encoding)[:-1]
        found = decode(data, "a.fountain")
        assert found.text.startswith(TEXT)
        assert "line 5" in found.note


@pytest.mark.parametrize("data", [b"%PDF-1.7 \xff", b"PK\x03\x04\x00\x00", b"{\\rtf1", b'<?xml version="1.0"?>'])
def test_other_documents_are_named(data: bytes) -> None:
    with pytest.raises(InputError, match="export the script as Fountain"):
        decode(data, "a.pdf")


def test_what_is_no_text() -> None:
    with pytest.raises(BrokenFileError, match="no text"):
        decode(bytes(range(256)) * 4, "a.fountain")
