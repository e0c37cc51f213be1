"""Charts from specifications: one Vega-Lite dictionary makes SVG, PNG and PDF, in our fonts and a theme of the pages.

Nothing is fetched: data stand in the specification itself, and addresses in one are refused. Series are told by words
beside them, never by colour alone; the colours are a set that colour-blind eyes tell apart.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import json
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any, Literal

from rollsound.errors import InputError, RollsoundError

Format = Literal["svg", "png", "pdf"]
ThemeName = Literal["day", "night", "print"]
VERSION = "6.1"
"""The version of the specification language that charts are written in."""

_FONT = "Atkinson Hyperlegible Next"
_MONO = "Atkinson Hyperlegible Mono"
_PNG_SCALE = 2.0
_PICTURES = tuple(f"data:image/{kind};base64," for kind in ("png", "jpeg", "webp"))
_turn = threading.Lock()


@dataclass(frozen=True)
class Theme:
    """Colours of a theme; ``series`` in the order they are given out, ``ramp`` from what is lost to what is safe."""

    paper: str
    ink: str
    soft: str
    line: str
    series: tuple[str, ...]
    ramp: tuple[str, ...]


THEMES: Mapping[ThemeName, Theme] = {
    "day": Theme(
        "#f5f5f2",
        "#1d1b18",
        "#625c52",
        "#d8d1c3",
        ("#0b5c8a", "#b8560f", "#1f6b4f", "#8a3d7a", "#5a5a5a"),
        ("#b8560f", "#e0995f", "#f0d9bd", "#dfe7ea", "#a9c6d6", "#6fa3bf"),
    ),
    "night": Theme(
        "#12110f",
        "#d9d2c4",
        "#a2998a",
        "#332f29",
        ("#8cc3e6", "#f0a868", "#7cc7a5", "#d9a3cc", "#b5b0a6"),
        ("#d98443", "#9a5a2b", "#563720", "#22292d", "#233e4d", "#2a5a75"),
    ),
    "print": Theme(
        "#ffffff",
        "#000000",
        "#444444",
        "#bbbbbb",
        ("#0b5c8a", "#b8560f", "#1f6b4f", "#8a3d7a", "#5a5a5a"),
        ("#b8560f", "#e0995f", "#f0d9bd", "#e6eef1", "#b3cedd", "#7fb0ca"),
    ),
}


@dataclass(frozen=True)
class Chart:
    """A chart's specification, and one sentence that says what it shows to whoever does not see it."""

    spec: Mapping[str, Any]
    alt: str


@dataclass(frozen=True)
class Face:
    """A font that goes along in an SVG: a picture in a page has no access to the page's fonts."""

    weight: int
    woff2: bytes


def draw(chart: Chart, format: Format, theme: ThemeName = "day", faces: Sequence[Face] = ()) -> bytes:
    """A chart as a picture.

    Parameters
    ----------
    faces
        fonts to put into an SVG; the other formats hold what they need themselves

    Raises
    ------
    InputError
        when the specification names data elsewhere
    RollsoundError
        when it cannot be drawn; the sentence holds the reason
    """
    import vl_convert

    _register(vl_convert)
    _refuse_addresses(chart.spec)
    given: dict[str, Any] = {"vl_version": VERSION, "config": config_of(THEMES[theme]), "allowed_base_urls": []}
    try:
        with _turn:
            if format == "png":
                return vl_convert.vegalite_to_png(dict(chart.spec), scale=_PNG_SCALE, **given)
            if format == "pdf":
                return vl_convert.vegalite_to_pdf(dict(chart.spec), **given)
            svg = vl_convert.vegalite_to_svg(dict(chart.spec), **given)
    except ValueError as error:
        reason = str(error).strip().splitlines()[0]
        raise RollsoundError(f"a chart could not be drawn ({reason}); please send this sentence") from error
    return _with_faces(_with_title(svg, chart.alt), faces).encode()


def content_key(chart: Chart, format: Format, theme: ThemeName) -> str:
    """Names a picture by what it is made of: the same name, the same picture."""
    told = json.dumps([chart.spec, chart.alt, format, theme, VERSION, config_of(THEMES[theme])], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def config_of(theme: Theme) -> dict[str, Any]:
    """What every chart of a theme shares."""
    words = {"font": _FONT, "fontSize": 14, "color": theme.ink}
    return {
        "background": theme.paper,
        "font": _FONT,
        "padding": 4,
        "view": {"stroke": None},
        "axis": {
            "labelFont": _FONT,
            "titleFont": _FONT,
            "labelFontSize": 14,
            "titleFontSize": 13,
            "titleFontWeight": 400,
            "labelColor": theme.ink,
            "titleColor": theme.soft,
            "domainColor": theme.ink,
            "tickColor": theme.line,
            "gridColor": theme.line,
            "labelLimit": 400,
        },
        "bar": {"stroke": theme.paper, "strokeWidth": 2},
        "text": words,
        "title": {"font": _FONT, "color": theme.ink},
        "style": {
            "told": words,
            "told-soft": {**words, "color": theme.soft},
            "told-small": {**words, "fontSize": 12},
            "told-figure": {**words, "font": _MONO, "fontSize": 12},
            "ink": {"color": theme.ink, "stroke": theme.ink},
            "ink-filled": {"color": theme.ink, "fill": theme.ink, "stroke": theme.paper},
            "soft": {"color": theme.soft, "stroke": theme.soft},
            "ground": {"color": theme.line, "fill": theme.line, "stroke": None},
            "paper": {"color": theme.paper, "stroke": theme.paper},
            "halo": {**words, "stroke": theme.paper, "strokeWidth": 3, "strokeJoin": "round"},
        },
        "range": {"category": list(theme.series), "ordinal": list(theme.ramp)},
        "legend": {"disable": True},
    }


@functools.cache
def _register(converter: Any) -> None:
    converter.register_font_directory(str(resources.files("rollsound.report").joinpath("fonts")))


def _refuse_addresses(value: Any) -> None:
    if isinstance(value, Mapping):
        if "url" in value and not _is_picture(value["url"]):
            raise InputError("a chart's data stand in its specification; it may not name an address")
        for part in value.values():
            _refuse_addresses(part)
    elif isinstance(value, list | tuple):
        for part in value:
            _refuse_addresses(part)


def _is_picture(address: Any) -> bool:
    """Whether it is a picture that stands in the specification itself."""
    return isinstance(address, str) and address.startswith(_PICTURES)


def _with_title(svg: str, alt: str) -> str:
    head, _, rest = svg.partition(">")
    text = alt.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return f'{head} role="img"><title>{text}</title>{rest}'


def _with_faces(svg: str, faces: Sequence[Face]) -> str:
    if not faces:
        return svg
    rules = "".join(
        f"@font-face{{font-family:'{_FONT}';font-weight:{face.weight};"
        f"src:url(data:font/woff2;base64,{base64.b64encode(face.woff2).decode()}) format('woff2')}}"
        for face in faces
    )
    head, mark, rest = svg.partition("</title>")
    return f"{head}{mark}<style>{rules}</style>{rest}" if mark else svg
