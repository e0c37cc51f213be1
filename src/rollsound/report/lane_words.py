"""Words over the bars of a chart, readable whatever lies below them."""

from __future__ import annotations

from typing import Any


def lane_words(
    rows: list[dict[str, Any]], place: dict[str, Any], style: str, y: dict[str, Any], x: dict[str, Any]
) -> list[dict[str, Any]]:
    """Words over whatever lies below them: first their edge in the colour of the paper, then themselves.

    Parameters
    ----------
    rows
        the data; ``told`` is the words
    place
        of the mark: alignment, shift and limit
    style
        ``told`` or ``told-small``
    y, x
        encodings
    """
    if not rows:
        return []
    size = {"fontSize": 12} if style == "told-small" else {}
    encoding = {"y": y, "x": x, "text": {"field": "told"}}
    return [
        {
            "data": {"values": rows},
            "mark": {"type": "text", "baseline": "middle", "style": each, **place, **size},
            "encoding": encoding,
        }
        for each in ("halo", style)
    ]
