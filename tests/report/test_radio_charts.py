"""Pictures of radio: every format and theme, the true figures in them, and small enough to send."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree

from rollsound.report.charts import THEMES, Chart, draw
from rollsound.report.radio_charts import CarrierMark, Level, Stretch, Weighed, _apart, spectrum
from rollsound.report.radio_ground_chart import BANDS, Drawn, GroundDrawing, Heat, Marked, contour, ground_map
from rollsound.report.radio_margins_chart import MarginBar, margins
from rollsound.report.radio_walk_chart import WalkPoint, walk_residuals

CARRIERS = [CarrierMark("Pack 1", 471.0), CarrierMark("Pack 2", 471.4, broken=True), CarrierMark("Boom", 480.0, "boom")]
X, Y = np.arange(0.5, 200), np.arange(0.5, 200)
DISTANCE = np.hypot(*np.meshgrid(X - 60, Y - 100))
HEAT = Heat(X, Y, 40 - DISTANCE / 2, 1 - np.minimum(1.0, 10 ** (-(40 - DISTANCE / 2) / 10)))
GROUND = GroundDrawing(
    200,
    200,
    [Drawn("wall", ((10, 10), (10, 90)))],
    [Marked("A", (60, 100), 0.0)],
    [Drawn("Ramp", ((1, 1), (9, 1), (9, 9)))],
)


def charts(narrow: bool) -> list[Chart]:
    scan = [Level(470 + n / 10, -100.0 + 40 * (n == 30)) for n in range(120)]
    return [
        spectrum(
            "a plan",
            CARRIERS,
            television=[Stretch(470, 478, "21"), Stretch(478, 486, "22")],
            excluded=[Stretch(478, 486, "television")],
            scan=scan,
            threshold_dbm=-85,
            products=[Weighed(471, 472, -3.0, 3), Weighed(473, 474, -20.0, 2)],
            narrow=narrow,
        ),
        margins("a plan", [MarginBar("Pack 1", 25.0, "Pack 2"), MarginBar("Pack 2", -50.0)], narrow=narrow),
        ground_map("Pack 1", GROUND, HEAT, narrow=narrow),
        walk_residuals("the deck", [WalkPoint("r1", 3, -9, 1), WalkPoint("r2", 9, -20, 18, True)], narrow=narrow),
    ]


@pytest.mark.parametrize("narrow", [False, True])
def test_every_picture_is_drawn_in_every_format(narrow: bool) -> None:
    beginnings = {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF-"}
    for number, chart in enumerate(charts(narrow)):
        form = list(beginnings)[number % 3]
        theme = list(THEMES)[number % len(THEMES)]
        assert draw(chart, form, theme).startswith(beginnings[form])  # type: ignore[arg-type]
        assert len(draw(chart, "svg")) < 900_000
        assert chart.alt


def test_a_spectrum_tells_names_channels_and_what_is_not_kept() -> None:
    chart = charts(False)[0]
    told = " ".join(etree.fromstring(draw(chart, "svg")).itertext())
    for words in ("Pack 1", "Boom", "21", "MHz", "dBm"):
        assert words in told
    assert "3 carriers from 471.000 to 480.000 MHz" in chart.alt
    assert "Not kept: Pack 2." in chart.alt
    assert "1 of 120 points of the scan lie above −85 dBm." in chart.alt


def test_margins_tell_the_least_and_what_is_broken() -> None:
    chart = charts(False)[1]
    assert "the least is that of Pack 2, broken, −50 kHz" in chart.alt
    told = " ".join(etree.fromstring(draw(chart, "svg")).itertext())
    assert "25 kHz: Pack 2" in told


def test_names_stand_apart_in_order_and_near_their_carriers() -> None:
    places = _apart([10.0, 10.1, 10.2, 50.0], 2.0, 0.0, 60.0)
    assert np.diff(places).min() >= 2.0 - 1e-9
    assert places[1] == pytest.approx(10.1)
    assert places[3] == 50.0
    assert _apart([59.9, 60.0], 2.0, 0.0, 60.0) == pytest.approx([58.0, 60.0])


def test_a_contour_is_where_the_value_is() -> None:
    strokes = contour(DISTANCE, X, Y, 30.0)
    ends = np.array(strokes).reshape(-1, 2)
    assert np.abs(np.hypot(ends[:, 0] - 60, ends[:, 1] - 100) - 30).max() < 0.05
    length = sum(np.hypot(x2 - x1, y2 - y1) for x1, y1, x2, y2 in strokes)
    assert length == pytest.approx(2 * np.pi * 30, rel=0.005)
    assert contour(DISTANCE, X, Y, 1e9) == []


def test_bands_cover_the_ground_once_and_are_never_kinder_than_the_map() -> None:
    rows = ground_map("Pack 1", GROUND, HEAT).spec["vconcat"][0]["layer"][0]["data"]["values"]
    step = 2 * 200 / 200  # two rows of the map are one of the picture
    area = sum((row["x2"] - row["x"]) * step for row in rows)
    assert area == pytest.approx(200 * 200, rel=1e-6)
    under = HEAT.margin_db < 0
    drawn = sum((row["x2"] - row["x"]) * step for row in rows if row["band"] == BANDS[0])
    assert under.sum() <= drawn <= under.sum() * 1.05


def test_a_walk_test_tells_how_far_readings_lie_off() -> None:
    chart = walk_residuals(
        "the deck", [WalkPoint("r1", 3, -6, 1), WalkPoint("r2", 9, -8, -1), WalkPoint("r3", 9, 0, 18, True)]
    )
    assert "by 7.1 dB before the fit and 1.0 dB after" in chart.alt
    assert "Not fitting: r3." in chart.alt
