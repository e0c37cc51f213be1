"""Bytes of an iXML chunk, as they come, to a tree. Nothing outside the chunk is ever fetched and no entity expanded.

Source: XML 1.0 (fifth edition), section 2.2 for the characters allowed and appendix F for telling encodings apart.
"""

from __future__ import annotations

import codecs
import re

from lxml import etree

_DECLARATION = re.compile(r"^\s*<\?xml\b(?P<body>[^>]*?)\?>", re.IGNORECASE)
_ENCODING = re.compile(r"""encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""", re.IGNORECASE)
_DOCTYPE = re.compile(r"<!DOCTYPE(?:[^\[>]|\[.*?\](?=\s*>))*>", re.DOTALL | re.IGNORECASE)
_BARE_AMPERSAND = re.compile(r"&(?!(?:#[0-9]{1,7}|#x[0-9A-Fa-f]{1,6}|amp|lt|gt|quot|apos);)")
_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
BROKEN = "its XML is broken, and what could be read of it was kept"
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def clean(text: str) -> str:
    """Text without the characters that XML cannot hold."""
    return _FORBIDDEN.sub("", text)


def decode_xml(raw: bytes) -> str:
    """Bytes to text: byte order mark, the pattern of zeros, UTF-8, what is declared, Windows Latin, in this order."""
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            return raw[len(mark) :].decode(encoding, "replace")
    if len(raw) >= 4 and raw[1] == 0 and raw[0] != 0:
        return raw[: len(raw) // 2 * 2].decode("utf-16-le", "replace")
    if len(raw) >= 4 and raw[0] == 0 and raw[1] != 0:
        return raw[: len(raw) // 2 * 2].decode("utf-16-be", "replace")
    raw = raw.rstrip(b"\0")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        pass
    declared = _ENCODING.search(raw[:200].decode("latin-1"))
    for encoding in (declared[1] if declared else "cp1252", "cp1252"):
        try:
            if len("<".encode(encoding)) == 1:
                return raw.decode(encoding)
        except (LookupError, UnicodeError):
            continue
    return raw.decode("latin-1")


def parse_xml(raw: bytes) -> tuple[etree._Element | None, tuple[str, ...]]:
    """The root element, and what had to be mended to get it. None if nothing can be made of the bytes."""
    text, mended = decode_xml(raw), []
    declaration = _DECLARATION.match(text)
    if declaration:
        text = text[declaration.end() :]
    if "<!" in text and _DOCTYPE.search(text):
        text = _DOCTYPE.sub("", text)
        mended.append("a document type declaration was left out")
    shorter = clean(text)
    if shorter.strip() != text.strip("\0 \t\r\n\ufeff"):
        mended.append("characters that XML does not allow were left out")
    text = shorter.strip()
    root = _parse(text, forgiving=False)
    if root is None and text:
        escaped = _BARE_AMPERSAND.sub("&amp;", text)
        root = _parse(escaped, forgiving=False)
        if root is not None:
            mended.append("a bare '&' was taken as text")
        else:
            root = _parse(escaped, forgiving=True)
            mended.append(BROKEN)
    return root, tuple(mended)


def _parse(text: str, *, forgiving: bool) -> etree._Element | None:
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        recover=forgiving,
        strip_cdata=False,
        encoding="utf-8",
    )
    try:
        return etree.fromstring(text.encode("utf-8", "replace"), parser)
    except (etree.XMLSyntaxError, ValueError):
        return None
