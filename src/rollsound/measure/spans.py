"""Spans of one track that are kept in bounded memory: near ones are joined, more so the more there are."""

from __future__ import annotations

MOST_SPANS = 2000

Span = tuple[str, int, int, float, dict[str, float]]

_GREATEST = ("longest", "greatest", "highest")


class SpanBook:
    """Keeps spans (kind, first sample, sample after the last, top value, numbers) that come in order of their end.

    Spans of one kind nearer than ``gap`` samples become one; their numbers add up, except the ``longest...`` ones.
    Once there are too many, the gap doubles.
    """

    def __init__(self, gap: float, most: int = MOST_SPANS) -> None:
        self._gap = gap
        self._most = most
        self._spans: list[Span] = []

    def add(self, kind: str, first: int, last: int, top: float, numbers: dict[str, float]) -> None:
        """Note one span."""
        self._join(self._spans, (kind, first, last, top, numbers))
        while len(self._spans) > self._most:
            self._gap = max(2.0 * self._gap, 1.0)
            spans, self._spans = self._spans, []
            for span in spans:
                self._join(self._spans, span)

    def _join(self, spans: list[Span], new: Span) -> None:
        if spans and spans[-1][0] == new[0] and new[1] - spans[-1][2] <= self._gap:
            kind, first, last, top, numbers = spans[-1]
            spans[-1] = (kind, first, max(last, new[2]), max(top, new[3]), _sum(numbers, new[4]))
        else:
            spans.append(new)

    def spans(self) -> list[Span]:
        """All spans so far, in order."""
        return self._spans


def _sum(a: dict[str, float], b: dict[str, float]) -> dict[str, float]:
    return {k: max(a[k], b[k]) if k.startswith(_GREATEST) else a[k] + b[k] for k in a}
