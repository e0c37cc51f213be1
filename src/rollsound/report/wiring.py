"""A wiring drawing as SVG: boxes with their ports, lines by medium, one way lit, or what failed struck out.

Ink on paper: it serves the page and the printer alike. Lines differ by dash and thickness and are lettered where they
begin; nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Literal

from fast_sugiyama import from_edges

Mark = Literal["", "lit", "failed", "lost"]

_ROW, _TOP, _PAD = 15, 34, 8
_WIDTH, _GAP_X, _GAP_Y = 176, 74, 16
_MARGIN, _LEGEND = 28, 64
_STYLES = {
    "air": ("1.2", "2 4"),
    "radio": ("1.4", "7 5"),
    "analogue": ("1.2", ""),
    "digital mic": ("2", ""),
    "aes3": ("2", "12 3"),
    "aes10": ("3.2", ""),
    "network": ("3.2", "14 4"),
    "usb": ("2", "3 2"),
    "other": ("0.9", "1 3"),
}
_LETTERS = {
    "air": "sound",
    "radio": "radio",
    "analogue": "analogue",
    "digital mic": "digital microphone",
    "aes3": "AES3",
    "aes10": "AES10",
    "network": "network",
    "usb": "USB",
    "other": "clock, time code, steering",
}
_CSS = (
    "text{font-family:Hyper,'Atkinson Hyperlegible Next',sans-serif;fill:#1d1b18;fill:var(--ink,#1d1b18)}"
    ".t{font-size:13px;font-weight:600}"
    ".s{font-size:10.5px;fill:#625c52;fill:var(--soft,#625c52)}"
    ".p{font-size:10.5px}"
    ".h{font-size:17px;font-weight:700}"
    ".b{fill:#fff;fill:var(--sheet,#fff);stroke:#1d1b18;stroke:var(--line-strong,#1d1b18);stroke-width:1.1}"
    ".paper{fill:#fff;fill:var(--sheet,#fff)}"
    ".port{fill:#1d1b18;fill:var(--ink,#1d1b18)}"
    ".w{fill:none;stroke:#1d1b18;stroke:var(--ink,#1d1b18)}"
    ".dim{opacity:.22}"
    ".lit .b{stroke-width:2.6}"
    ".lit.w{stroke:#0b5c8a;stroke:var(--series-1,#0b5c8a);stroke-width:3.6px}"
    ".failed .b{stroke:#b3261e;stroke:var(--stop,#b3261e);stroke-width:2.6}"
    ".failed.w{stroke:#b3261e;stroke:var(--stop,#b3261e);stroke-width:3px}"
    ".x{stroke:#b3261e;stroke:var(--stop,#b3261e);stroke-width:3}"
    ".lost .b{stroke:#b3261e;stroke:var(--stop,#b3261e);stroke-dasharray:4 3}"
    ".l{font-size:10px;fill:#625c52;fill:var(--soft,#625c52)}"
)


@dataclass(frozen=True)
class Box:
    """A piece: its ports in use on the left (in) and right (out), each an id and its lettering."""

    id: str
    title: str
    under: str = ""
    ins: tuple[tuple[str, str], ...] = ()
    outs: tuple[tuple[str, str], ...] = ()
    mark: Mark = ""
    says: str = ""
    """What is told of it, such as a delay; stands at its foot."""


@dataclass(frozen=True)
class Wire:
    """A line from a port of one box to a port of another."""

    id: str
    start: str
    start_port: str
    end: str
    end_port: str
    medium: str
    label: str = ""
    mark: Mark = ""


@dataclass
class _Laid:
    x: float
    y: float
    height: float
    ports: dict[tuple[str, str], float] = field(default_factory=dict)


def wiring_svg(title: str, under: str, boxes: Sequence[Box], wires: Sequence[Wire]) -> str:
    """Draw it.

    Parameters
    ----------
    title, under
        lettered above; ``under`` says which combination or failure it shows
    boxes, wires
        where any is marked, what is not stands back

    Returns
    -------
    str
        an SVG of its own size, for page and print
    """
    laid, width, height = _lay_out(boxes, wires)
    marked = any(box.mark for box in boxes) or any(wire.mark for wire in wires)
    kinds = [kind for kind in _STYLES if any(_kind(wire.medium) == kind for wire in wires)]
    width = max(width, 640.0)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height + _LEGEND:.0f}" '
        f'width="{width:.0f}" height="{height + _LEGEND:.0f}" role="img" '
        f'aria-label="{escape(title)}. {escape(under)}">',
        f"<style>{_CSS}</style>",
        '<rect width="100%" height="100%" fill="#fff" class="paper"/>',
        f'<text class="h" x="{_MARGIN}" y="30">{escape(title)}</text>',
        f'<text class="s" x="{_MARGIN}" y="48">{escape(under)}</text>',
    ]
    by_id = {box.id: box for box in boxes}
    parts += [
        _wire(wire, laid, marked) for wire in sorted(wires, key=lambda each: bool(each.mark)) if _drawn(wire, by_id)
    ]
    parts += [_box(box, laid[box.id], marked) for box in boxes]
    parts.append(_legend(kinds, height))
    parts.append("</svg>")
    return "\n".join(parts)


def _drawn(wire: Wire, boxes: Mapping[str, Box]) -> bool:
    return wire.start in boxes and wire.end in boxes


def _kind(medium: str) -> str:
    for kind in ("aes10", "aes3", "network"):
        if medium.startswith(kind):
            return kind
    return medium if medium in _STYLES else "other"


def _height(box: Box) -> float:
    rows = max(len(box.ins), len(box.outs))
    return _TOP + rows * _ROW + _PAD + (_ROW if box.says else 0)


def _lay_out(boxes: Sequence[Box], wires: Sequence[Wire]) -> tuple[dict[str, _Laid], float, float]:
    """Columns by the way that sound goes, each box in its column where fewest lines cross."""
    known = {box.id for box in boxes}
    edges = dict.fromkeys((wire.start, wire.end) for wire in wires if {wire.start, wire.end} <= known)
    edges = {(one, other): None for one, other in edges if one != other}
    placed = {str(id): (float(x), float(y)) for id, (x, y) in _layered(list(edges)).items() if id in known}
    depths = sorted({y for _, y in placed.values()}, reverse=True)
    columns: list[list[Box]] = [[] for _ in range(max(len(depths), 1))]
    for box in boxes:
        columns[depths.index(placed[box.id][1]) if box.id in placed else -1].append(box)
    order = {box.id: number for number, box in enumerate(boxes)}
    for column in columns:
        column.sort(key=lambda box: (placed.get(box.id, (1e9, 0.0))[0], order[box.id]))
    heights = [sum(_height(box) + _GAP_Y for box in column) for column in columns]
    tallest = max(heights, default=0.0)
    laid: dict[str, _Laid] = {}
    for number, (column, height) in enumerate(zip(columns, heights, strict=True)):
        y = 66 + (tallest - height) / 2
        x = _MARGIN + number * (_WIDTH + _GAP_X)
        for box in column:
            laid[box.id] = _Laid(x, y, _height(box), _ports(box, y))
            y += _height(box) + _GAP_Y
    return laid, 2 * _MARGIN + len(columns) * (_WIDTH + _GAP_X) - _GAP_X, 66 + tallest + _GAP_Y


def _layered(edges: list[tuple[str, str]]) -> dict[str, tuple[float, float]]:
    """Places by the library, layers downwards. It is given numbers: with names its order differs from run to run."""
    names = list(dict.fromkeys(name for edge in edges for name in edge))
    number = {name: at for at, name in enumerate(names)}
    if not edges:
        return {}
    placed = from_edges([(number[one], number[other]) for one, other in edges]).to_dict()  # type: ignore[no-untyped-call]
    return {names[at]: place for at, place in placed.items() if at < len(names)}


def _ports(box: Box, y: float) -> dict[tuple[str, str], float]:
    found = {("in", id): y + _TOP + _ROW * (n + 0.5) for n, (id, _) in enumerate(box.ins)}
    return found | {("out", id): y + _TOP + _ROW * (n + 0.5) for n, (id, _) in enumerate(box.outs)}


def _box(box: Box, at: _Laid, marked: bool) -> str:
    cls = box.mark or ("dim" if marked else "")
    lines = [
        f'<g class="{cls}" data-piece="{escape(box.id)}"><title>{escape(box.title)}</title>',
        f'<rect class="b" x="{at.x:.1f}" y="{at.y:.1f}" width="{_WIDTH}" height="{at.height:.1f}"/>',
        f'<text class="t" x="{at.x + 8:.1f}" y="{at.y + 15:.1f}">{escape(_short(box.title, 23))}</text>',
        f'<text class="s" x="{at.x + 8:.1f}" y="{at.y + 28:.1f}">{escape(_short(box.under, 31))}</text>',
    ]
    for side, rows, x, anchor in (("in", box.ins, at.x + 8, "start"), ("out", box.outs, at.x + _WIDTH - 8, "end")):
        for id, letter in rows:
            y = at.ports[side, id]
            dot = at.x if side == "in" else at.x + _WIDTH
            lines.append(f'<circle cx="{dot:.1f}" cy="{y:.1f}" r="2.6" fill="#1d1b18" class="port"/>')
            lines.append(
                f'<text class="p" x="{x:.1f}" y="{y + 3.5:.1f}" text-anchor="{anchor}">'
                f"{escape(_short(letter, 16))}</text>"
            )
    if box.says:
        foot = at.y + at.height - 6
        lines.append(f'<text class="s" x="{at.x + 8:.1f}" y="{foot:.1f}">{escape(_short(box.says, 31))}</text>')
    if box.mark == "failed":
        left, right, top, low = at.x - 5, at.x + _WIDTH + 5, at.y - 5, at.y + at.height + 5
        lines.append(
            f'<path class="x" d="M{left:.0f} {top:.0f}L{right:.0f} {low:.0f}'
            f'M{left:.0f} {low:.0f}L{right:.0f} {top:.0f}"/>'
        )
    return "".join(lines) + "</g>"


def _wire(wire: Wire, laid: Mapping[str, _Laid], marked: bool) -> str:
    start, end = laid[wire.start], laid[wire.end]
    forward = end.x > start.x
    x1, y1 = _at(start, wire.start_port, "out")
    x2, y2 = _at(end, wire.end_port, "in")
    bend = max(36.0, abs(x2 - x1) * 0.45) if forward else 58.0
    low = max(start.y + start.height, end.y + end.height) + 9
    if forward:
        path = f"M{x1:.1f} {y1:.1f}C{x1 + bend:.1f} {y1:.1f} {x2 - bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f}"
    else:  # a way back runs under the boxes
        path = (
            f"M{x1:.1f} {y1:.1f}C{x1 + bend:.1f} {y1:.1f} {x1 + bend:.1f} {low:.1f} {x1:.1f} {low:.1f}"
            f"L{x2:.1f} {low:.1f}C{x2 - bend:.1f} {low:.1f} {x2 - bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f}"
        )
    thick, dash = _STYLES[_kind(wire.medium)]
    cls = wire.mark or ("dim" if marked else "")
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    label = f" {wire.label}" if wire.label else ""
    drawn = (
        f'<path class="w {cls}" data-link="{escape(wire.id)}" stroke-width="{thick}"{dashes} d="{path}">'
        f"<title>{escape(wire.id)}: {escape(wire.medium)}{escape(label)}</title></path>"
    )
    if wire.label and forward:
        drawn += (
            f'<text class="l {"dim" if marked and not wire.mark else ""}" x="{x1 + 6:.1f}" y="{y1 - 4:.1f}">'
            f"{escape(wire.label)}</text>"
        )
    if wire.mark == "failed":
        x, y = (x1 + x2) / 2, (y1 + y2) / 2 if forward else low
        drawn += f'<path class="x" d="M{x - 8:.0f} {y - 8:.0f}l16 16m0 -16l-16 16"/>'
    return drawn


def _at(laid: _Laid, port: str, side: str) -> tuple[float, float]:
    y = laid.ports.get((side, port))
    if y is None:
        y = laid.y + 18
    return (laid.x + (_WIDTH if side == "out" else 0), y)


def _legend(kinds: Sequence[str], y: float) -> str:
    x, parts = float(_MARGIN), []
    for kind in kinds:
        thick, dash = _STYLES[kind]
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(f'<path class="w" stroke-width="{thick}"{dashes} d="M{x:.0f} {y + 30:.0f}h44"/>')
        parts.append(f'<text class="p" x="{x + 50:.0f}" y="{y + 34:.0f}">{escape(_LETTERS[kind])}</text>')
        x += 62 + 6.4 * len(_LETTERS[kind])
    return "".join(parts)


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"
