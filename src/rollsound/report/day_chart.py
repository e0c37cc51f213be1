"""The day's takes in order, each with what became of its radio tracks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart

REBUILT, MENDED, RECORDED, LOST = "rebuilt", "mended", "as recorded", "lost"
STATES = (REBUILT, MENDED, RECORDED, LOST)
_ROW_PX = 34
_WIDE_PX, _NARROW_PX = 600, 330


@dataclass(frozen=True)
class TakeBar:
    """One take: what it is called, and how many radio tracks are in each state."""

    name: str
    rebuilt: int = 0
    mended: int = 0
    recorded: int = 0
    lost: int = 0

    @property
    def counts(self) -> dict[str, int]:
        """Tracks by state, in the order of STATES."""
        return dict(zip(STATES, (self.rebuilt, self.mended, self.recorded, self.lost), strict=True))

    @property
    def told(self) -> str:
        """The bar in words."""
        return ", ".join(f"{n} {state}" for state, n in self.counts.items() if n) or "no radio track"


def day_chart(label: str, takes: Sequence[TakeBar], *, narrow: bool = False) -> Chart:
    """Radio tracks by take over a day.

    Parameters
    ----------
    label
        what the day is called
    narrow
        for a phone: words stand above each bar instead of beside it
    """
    names = [take.name for take in takes]
    rows: list[dict[str, Any]] = []
    ends: list[dict[str, Any]] = []
    for take in takes:
        start = 0
        for order, (state, count) in enumerate(take.counts.items()):
            if count:
                rows.append({"take": take.name, "state": state, "from": start, "to": start + count, "order": order})
                start += count
        ends.append({"take": take.name, "end": start, "told": take.told})
    most = max([1, *(each["end"] for each in ends)])
    place: dict[str, Any] = {"field": "take", "type": "ordinal", "sort": names}
    across: dict[str, Any] = {"type": "quantitative", "scale": {"domain": [0, most if narrow else most * 1.65]}}
    axis = None if narrow else {"title": None, "ticks": False, "domain": False, "labelPadding": 8}
    bar: dict[str, Any] = {
        "data": {"values": rows},
        "mark": {"type": "bar", "height": 12 if narrow else 18},
        "encoding": {
            "y": {**place, "axis": axis},
            "x": {**across, "field": "from", "axis": None},
            "x2": {"field": "to"},
            "color": {"field": "state", "type": "nominal", "scale": {"domain": list(STATES)}},
        },
    }
    if narrow:
        words = [_words(ends, place, across, "take", align="left", at=0, dy=-18, style="told")]
        words.append(_words(ends, place, across, "told", align="right", at=most, dy=-18, style="told-soft"))
    else:
        words = [_words(ends, place, across, "told", align="left", at=None, dy=0, style="told")]
    spec = {
        "width": _NARROW_PX if narrow else _WIDE_PX,
        "height": {"step": 46 if narrow else _ROW_PX},
        "layer": [bar, *words],
    }
    return Chart(spec, _alt(label, takes))


def _words(
    ends: Sequence[dict[str, Any]],
    place: dict[str, Any],
    across: dict[str, Any],
    field: str,
    *,
    align: str,
    at: float | None,
    dy: int,
    style: str,
) -> dict[str, Any]:
    x = {**across, "field": "end", "axis": None} if at is None else {**across, "datum": at, "axis": None}
    mark = {
        "type": "text",
        "align": align,
        "baseline": "middle",
        "dx": 8 if at is None else 0,
        "dy": dy,
        "style": style,
    }
    return {
        "data": {"values": list(ends)},
        "mark": mark,
        "encoding": {"y": {**place, "axis": None} if at is not None else place, "x": x, "text": {"field": field}},
    }


def _alt(label: str, takes: Sequence[TakeBar]) -> str:
    sums = {state: sum(take.counts[state] for take in takes) for state in STATES}
    told = ", ".join(f"{n} {state}" for state, n in sums.items() if n) or "none"
    lost = [take.name for take in takes if take.lost]
    where = f" Lost on {', '.join(lost)}." if lost else ""
    return f"Radio tracks by take over {label}: {told} in {len(takes)} takes.{where}"
