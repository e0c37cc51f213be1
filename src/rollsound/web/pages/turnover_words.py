"""The answer of the Turnover page, in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.turnover_check import TurnoverCheck


def answer_of(check: TurnoverCheck) -> str:
    """Whether the day can go, what goes, and how much post should know."""
    if not check.takes:
        return w("turnover.verdict_empty", day=check.label)
    if not check.can_go:
        number = number_of(check.blocking)
        return w("turnover.verdict_blocked", n=check.blocking, number=number, day=check.label)
    parts = [w("turnover.takes", n=check.takes)]
    if check.mode in ("mirror", "mend"):
        parts.append(w(f"turnover.tracks_{check.mode}", n=check.rebuilt_tracks))
    what = ", ".join(parts)
    if check.to_tell:
        tell = w("turnover.to_tell", n=check.to_tell, number=number_of(check.to_tell))
        return w("turnover.verdict_go_told", day=check.label, what=what, tell=tell)
    return w("turnover.verdict_go", day=check.label, what=what)


def number_of(n: int) -> str:
    """A small number as a word."""
    words = w("turnover.numbers").split()
    return words[n] if n < len(words) else str(n)
