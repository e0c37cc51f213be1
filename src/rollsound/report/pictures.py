"""Pages of a PDF as pictures, made from the very file that is handed over."""

from __future__ import annotations

import tempfile
from itertools import count
from pathlib import Path

import typst

from rollsound.errors import InputError

_PAGE = b'#set page(width: auto, height: auto, margin: 0pt)\n#image("pages.pdf", page: int(sys.inputs.page))\n'
MOST_PAGES = 400


def page_pictures(pdf: bytes, *, ppi: float = 96.0) -> list[bytes]:
    """Every page as a PNG.

    Parameters
    ----------
    ppi
        pixels an inch

    Raises
    ------
    InputError
        when it is no PDF that can be read
    """
    with tempfile.TemporaryDirectory() as folder:  # the typesetter takes what is no text from files only
        template = Path(folder, "page.typ")
        template.write_bytes(_PAGE)
        Path(folder, "pages.pdf").write_bytes(pdf)
        compiler = typst.Compiler(str(template), root=folder, ignore_system_fonts=True)
        pictures: list[bytes] = []
        for number in count(1):
            if number > MOST_PAGES:
                raise InputError(f"a PDF with more than {MOST_PAGES} pages is not shown here; open the file itself")
            try:
                made = compiler.compile(format="png", ppi=ppi, sys_inputs={"page": str(number)})
            except RuntimeError as error:
                if pictures and "does not exist" in str(error):
                    break
                raise InputError("this is no PDF that can be shown; build the turnover again") from error
            if not isinstance(made, bytes):
                raise InputError("a page of this PDF came out as more than one; open the file itself")
            pictures.append(made)
    return pictures
