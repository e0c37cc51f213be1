"""From a template and data to a PDF. The same data gives the same bytes, on every machine, at any time.

Templates lie in ``templates/`` and read their data with ``json(bytes(sys.inputs.data))``. Text is never code:
it reaches the page as a string, so no note can break a template.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import typst

from rollsound.errors import InputError, RollsoundError

_HERE = Path(__file__).parent
TEMPLATES = _HERE / "templates"
FONTS = _HERE / "fonts"

# What the shipped fonts print: Latin with its extensions, Greek, Cyrillic, Hebrew, Arabic, and the signs of a report.
_SHIPPED = (
    (0x0000, 0x024F),
    (0x02B0, 0x036F),
    (0x0370, 0x058F),
    (0x0590, 0x06FF),
    (0x0750, 0x077F),
    (0x08A0, 0x08FF),
    (0x1E00, 0x1FFF),
    (0x2000, 0x206F),
    (0x20A0, 0x20BF),
    (0x2122, 0x2122),
    (0x2212, 0x2212),
    (0xFB1D, 0xFDFF),
    (0xFE70, 0xFEFF),
)


def typeset(template: str, data: Mapping[str, Any]) -> bytes:
    """Typeset ``templates/<template>.typ`` with data that JSON can hold; returns the PDF.

    Raises
    ------
    InputError
        when there is no such template, or the data cannot be written as JSON
    RollsoundError
        when the typesetter refuses; the sentence holds its reason
    """
    path = TEMPLATES / f"{template}.typ"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in TEMPLATES.glob("*.typ") if not p.stem.startswith("_")))
        raise InputError(f"there is no report '{template}'; choose one of: {known}")
    try:
        text = json.dumps(_printable(data), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError(f"the report '{template}' cannot be typeset: its data is not plain ({error})") from error
    try:
        # The machine's own fonts are asked only for signs that ours lack, so that all other pages are alike anywhere.
        compiler = typst.Compiler(
            str(path), root=str(TEMPLATES), font_paths=[str(FONTS)], ignore_system_fonts=not _needs_more_fonts(text)
        )
        pdf = compiler.compile(format="pdf", sys_inputs={"data": text})
    except RuntimeError as error:
        reason = " ".join(str(getattr(error, "message", error)).split())
        detail = str(getattr(error, "diagnostic", ""))
        raise RollsoundError(
            f"the report '{template}' could not be typeset ({reason}); please send this sentence with your command",
            template=template,
            diagnostic=detail,
        ) from error
    if not isinstance(pdf, bytes):
        raise RollsoundError(f"the report '{template}' came out as something else than one PDF", template=template)
    return pdf


def _printable(value: Any) -> Any:
    """The same data with text that can stand on paper: no control signs, half letters or overrides of direction."""
    if isinstance(value, str):
        return "".join(_signs(value))
    if isinstance(value, Mapping):
        return {str(key): _printable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(item) for item in value]
    return value


def _signs(text: str) -> Iterator[str]:
    for sign in unicodedata.normalize("NFC", text):
        if sign in "\n\t":
            yield " "
        elif unicodedata.category(sign) == "Cs":
            yield "\ufffd"
        elif (
            unicodedata.category(sign) != "Cc" and sign not in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
        ):
            yield sign


def _needs_more_fonts(text: str) -> bool:
    return any(not any(first <= ord(sign) <= last for first, last in _SHIPPED) for sign in set(text))
