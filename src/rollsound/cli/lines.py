"""How lines of words stand on a screen: broken between words, never inside a number, hanging under their own start."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

_UNIT = re.compile(
    r"(?<=\d) (?=(?:dBFS|dBTP|LUFS|dB|ms|s|min|h|Hz|kHz|bytes|kB|MB|GB|TB|ppm|samples?|tracks?|%)(?!\w))"
)
_COMMAND = re.compile(r"'rollsound[^']*'|rollsound [a-z]+ (?:'[^']*'|\S+)")  # to be copied as it stands
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_NARROWEST = 40
_FIRST_WORD = re.compile(r"[a-z]+(?='s |[ ,;:.]*\s|[.,;:]?$)")


def line(console: Console, text: str, *, head: str = "", head_style: str = "", style: str = "", hang: int = 2) -> None:
    """Print one sentence, or a head of its own style and a sentence after it.

    On a terminal it is broken between words and goes on ``hang`` columns in; a file or pipe gets it as one line, so
    that it can be searched. Names from files keep no power over the screen: control characters are shown as a mark.
    """
    whole = plain(head + text)
    rows = [whole]
    if console.is_terminal and console.width >= _NARROWEST:
        rows = textwrap.wrap(
            _COMMAND.sub(lambda found: found[0].replace(" ", "\u00a0"), _UNIT.sub("\u00a0", whole)),
            console.width,
            subsequent_indent=" " * hang,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    for number, row in enumerate(rows):
        shown = Text(row.replace("\u00a0", " "), style=style)
        if number == 0 and head:
            shown = Text().append(row[: len(head)].replace("\u00a0", " "), style=head_style)
            shown.append(row[len(head) :].replace("\u00a0", " "), style=style)
        console.print(shown, soft_wrap=True)


def begun(sentence: str, given: Sequence[str] = ()) -> str:
    """A sentence with a capital, unless its first word is a name: one that was ``given``, a path, a figure, quoted."""
    first = _FIRST_WORD.match(sentence)
    if first is None or any(first[0] in (each, each.partition("=")[2]) for each in given):
        return sentence
    return sentence[:1].upper() + sentence[1:]


def plain(text: str) -> str:
    """A text from a file as it may be shown: every control character becomes a visible mark."""
    return _CONTROL.sub("\ufffd", text)
