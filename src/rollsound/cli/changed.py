"""How the commands of a show tell what was changed."""

from __future__ import annotations

from rich.console import Console

from rollsound.actions.show_model import ChangedValue, EditResult
from rollsound.cli.frame import out
from rollsound.cli.lines import line
from rollsound.quantities import count

_MOST = 40
_TOLD_IN_SENTENCE = 3


def tell_changes(console: Console, changes: tuple[ChangedValue, ...], *, indent: str = "  ") -> None:
    """One line a value: where, what it was, what it is."""
    for change in changes[:_MOST]:
        text = f"{change.place}: {change.before_words} → {change.after_words}"
        line(console, text, head=indent, hang=len(indent) + 2)
    if len(changes) > _MOST:
        line(console, f"{indent}and {count(len(changes) - _MOST, 'more value')}; --json tells all")


def tell_edit(result: EditResult) -> None:
    """What an edit did, and which revision that made."""
    console = out()
    if result.number is None:
        line(console, f"{result.sentence}; the plan stays at revision {result.revision}.")
        return
    line(console, f"{result.sentence} (revision {result.revision}).", style="bold")
    if len(result.changes) > _TOLD_IN_SENTENCE:
        tell_changes(console, result.changes)
