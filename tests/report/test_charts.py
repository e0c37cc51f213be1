"""Charts: every format and theme, words for whoever does not see them, and nothing fetched."""

from __future__ import annotations

import socket
import threading

import pytest
from lxml import etree

from rollsound.errors import InputError, RollsoundError
from rollsound.report.charts import THEMES, Chart, Face, content_key, draw
from rollsound.report.day_chart import TakeBar, day_chart

DAY = day_chart("Day 4", [TakeBar("NF04_T1", rebuilt=8, recorded=1), TakeBar("NF04_T2", rebuilt=7, mended=1, lost=2)])
BEGINNINGS = {"svg": b"<svg", "png": b"\x89PNG\r\n\x1a\n", "pdf": b"%PDF-"}


@pytest.mark.parametrize("theme", list(THEMES))
@pytest.mark.parametrize("form", list(BEGINNINGS))
def test_one_specification_makes_every_format_in_every_theme(form: str, theme: str) -> None:
    assert draw(DAY, form, theme).startswith(BEGINNINGS[form])  # type: ignore[arg-type]


def test_the_picture_tells_each_take_and_state_in_words() -> None:
    told = " ".join(etree.fromstring(draw(DAY, "svg")).itertext())
    for words in ("NF04_T1", "8 rebuilt, 1 as recorded", "7 rebuilt, 1 mended, 2 lost"):
        assert words in told


def test_the_sentence_for_whoever_does_not_see_it_has_the_sums() -> None:
    assert (
        DAY.alt
        == "Radio tracks by take over Day 4: 15 rebuilt, 1 mended, 1 as recorded, 2 lost in 2 takes. Lost on NF04_T2."
    )
    assert etree.fromstring(draw(DAY, "svg"))[0].text == DAY.alt


def test_names_are_never_markup() -> None:
    chart = day_chart("</title><script>", [TakeBar("<b>&", rebuilt=1)])
    drawn = etree.fromstring(draw(chart, "svg"))
    assert not [each for each in drawn.iter() if str(each.tag).endswith(("}script", "}b"))]
    assert "<b>&" in " ".join(drawn.itertext())


def test_segments_are_as_long_as_their_counts() -> None:
    values = DAY.spec["layer"][0]["data"]["values"]
    spans = {(row["take"], row["state"]): row["to"] - row["from"] for row in values}
    assert spans == {
        ("NF04_T1", "rebuilt"): 8,
        ("NF04_T1", "as recorded"): 1,
        ("NF04_T2", "rebuilt"): 7,
        ("NF04_T2", "mended"): 1,
        ("NF04_T2", "lost"): 2,
    }
    ends = {(row["take"], row["state"]): (row["from"], row["to"]) for row in values}
    assert ends["NF04_T2", "mended"] == (7, 8)
    assert ends["NF04_T2", "lost"] == (8, 10)


def test_the_same_chart_has_the_same_name_and_another_one_another() -> None:
    assert content_key(DAY, "svg", "day") == content_key(DAY, "svg", "day")
    other = day_chart("Day 5", [TakeBar("NF04_T1", rebuilt=8)])
    names = {content_key(chart, form, theme) for chart in (DAY, other) for form in ("svg", "png") for theme in THEMES}  # type: ignore[arg-type]
    assert len(names) == 12


def test_fonts_go_along_where_they_are_given() -> None:
    assert b"data:font/woff2;base64,Zm9udA==" in draw(DAY, "svg", "day", (Face(400, b"font"),))
    assert b"@font-face" not in draw(DAY, "svg")


@pytest.fixture
def listener():
    """A server that notes whoever calls."""
    calls: list[str] = []
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.2)
        over = threading.Event()

        def listen() -> None:
            while not over.is_set():
                try:
                    connection, _ = server.accept()
                except TimeoutError:
                    continue
                calls.append("called")
                connection.close()

        thread = threading.Thread(target=listen)
        thread.start()
        yield server.getsockname()[1], calls
        over.set()
        thread.join()


def test_an_address_in_a_specification_is_refused_and_nobody_is_called(listener) -> None:
    port, calls = listener
    away = {"data": {"url": f"http://127.0.0.1:{port}/a.json"}, "mark": "bar", "encoding": {"x": {"field": "a"}}}
    for spec in (away, {"layer": [away]}):
        with pytest.raises(InputError, match="may not name an address"):
            draw(Chart(spec, "A chart."), "svg")
    assert calls == []


def test_the_engine_itself_refuses_addresses_as_it_is_called(listener, monkeypatch: pytest.MonkeyPatch) -> None:
    port, calls = listener
    monkeypatch.setattr("rollsound.report.charts._refuse_addresses", lambda spec: None)
    away = {"data": {"url": f"http://127.0.0.1:{port}/a.json"}, "mark": "bar", "encoding": {"x": {"field": "a"}}}
    with pytest.raises(RollsoundError, match="could not be drawn"):
        draw(Chart(away, "A chart."), "svg")
    assert calls == []


def test_what_is_no_chart_is_refused_in_a_sentence() -> None:
    with pytest.raises(RollsoundError, match="could not be drawn") as raised:
        draw(Chart({"mark": "nonsense"}, "A chart."), "svg")
    assert "\n" not in raised.value.sentence


def _light(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    lights = sorted((_light(one), _light(other)))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


@pytest.mark.source("WCAG 2.2, 1.4.3 and 1.4.11", kind="published")
@pytest.mark.parametrize("theme", list(THEMES))
def test_words_and_series_stand_out_from_the_paper(theme: str) -> None:
    colours = THEMES[theme]  # type: ignore[index]
    assert min(_contrast(each, colours.paper) for each in (colours.ink, colours.soft)) >= 4.5
    assert min(_contrast(each, colours.paper) for each in colours.series) >= 3.0
