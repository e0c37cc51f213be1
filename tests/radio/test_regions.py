"""What regions list, how it is told, and the show's own regions before them."""

from __future__ import annotations

import pytest

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart, Unit, Use
from rollsound.radio.regions import Verdict, bands_for, notes, region, regions, verdict
from rollsound.radio.television import rasters

MHZ = 1e6
Signal = tuple[str, float, float | None, Unit, Use]


def says(name: str, mhz: float, mw: float | None = None, unit: Unit = "e.i.r.p.", use: Use = "body pack") -> Verdict:
    """The first thing that a region says of a carrier 200 kHz wide."""
    return verdict(regions()[name], (mhz - 0.1) * MHZ, (mhz + 0.1) * MHZ, mw, unit, use)[0].verdict


def wrong(table: dict[tuple[object, ...], Verdict]) -> list[tuple[object, ...]]:
    return [signal for signal, expected in table.items() if says(*signal) is not expected]  # type: ignore[arg-type]


UNLICENSED = {
    ("usa-unlicensed", 655.0, 10): Verdict.NOT_ALLOWED,
    ("usa-unlicensed", 660.0, 20): Verdict.LISTED,
    ("usa-unlicensed", 660.0, 50): Verdict.TOO_STRONG,
    ("usa-unlicensed", 612.0, 10): Verdict.NOT_ALLOWED,
    ("usa-unlicensed", 700.0, 10): Verdict.NOT_ALLOWED,
    ("usa-unlicensed", 500.0, 50): Verdict.LISTED,
    ("usa-unlicensed", 500.0, 100): Verdict.TOO_STRONG,
    ("usa-unlicensed", 470.05, 10): Verdict.NOT_LISTED,
    ("usa-unlicensed", 470.10, 10): Verdict.LISTED,
    ("usa-unlicensed", 615.0, 20): Verdict.LISTED,
    ("usa-unlicensed", 615.0, 21): Verdict.TOO_STRONG,
    ("usa-unlicensed", 640.0, 10): Verdict.NOT_ALLOWED,
    ("usa-unlicensed", 680.0, 10): Verdict.NOT_ALLOWED,
    ("usa-unlicensed", 180.0, 50): Verdict.LISTED,
    ("usa-unlicensed", 700.0, None): Verdict.NOT_ALLOWED,
}


@pytest.mark.source(
    "47 CFR 15.236 (2021 text and a digest of it); channel 37 and 653-657 MHz from memory", kind="published"
)
def test_usa_without_licence() -> None:
    assert wrong(UNLICENSED) == []
    for signal, expected in UNLICENSED.items():
        other = Verdict.LISTED if expected is not Verdict.LISTED else Verdict.NOT_LISTED
        assert wrong({**UNLICENSED, signal: other}) == [signal]


@pytest.mark.source(
    "47 CFR part 74 subpart H: 250 mW conducted in UHF (digest, 2013 text); 698-806 MHz", kind="published"
)
def test_usa_with_licence() -> None:
    assert says("usa-licensed", 500.0, 250, "conducted") is Verdict.LISTED
    assert says("usa-licensed", 500.0, 260, "conducted") is Verdict.TOO_STRONG
    assert says("usa-licensed", 700.0, 10) is Verdict.NOT_ALLOWED
    assert says("usa-licensed", 950.0, 1000, "conducted") is Verdict.LISTED
    # conducted against radiated power goes through the antenna
    loud = verdict(regions()["usa-licensed"], 499.9e6, 500.1e6, 400, "e.i.r.p.", "body pack", gain_dbi=3.0)
    assert loud[0].verdict is Verdict.LISTED


@pytest.mark.source("47 CFR 74.861(e)(1): VHF 50 mW, 653-657 MHz 20 mW, 200 kHz", kind="memory")
def test_usa_with_licence_as_remembered() -> None:
    assert says("usa-licensed", 655.0, 20) is Verdict.LISTED
    assert says("usa-licensed", 655.0, 50) is Verdict.TOO_STRONG
    assert says("usa-licensed", 180.0, 50) is Verdict.LISTED
    gap = next(b for b in regions()["usa-licensed"].bands if b.id == "duplex-gap")
    assert gap.status == "from memory"
    told = verdict(regions()["usa-licensed"], 654.9e6, 655.1e6, 20)[0]
    assert "from memory" in told.sentence


@pytest.mark.source(
    "EN 300 422-1 scope; report of ERC/REC 25-10; Spanish table UN-36, UN-119 (secondary)", kind="published"
)
def test_europe() -> None:
    assert says("europe", 864.0, 10, "e.r.p.") is Verdict.LISTED
    assert says("europe", 864.0, 16.4, "e.i.r.p.") is Verdict.LISTED
    assert says("europe", 864.0, 20, "e.i.r.p.") is Verdict.TOO_STRONG
    assert says("europe", 600.0, 50, "e.r.p.") is Verdict.LISTED
    assert says("europe", 600.0, 250, "e.r.p.") is Verdict.TOO_STRONG
    assert says("europe", 1790.0, 50) is Verdict.LISTED
    assert says("europe", 1790.0, 50, use="boom") is Verdict.TOO_STRONG
    assert says("europe", 1790.0, 20, use="boom") is Verdict.LISTED
    assert says("europe", 700.0, 10) is Verdict.NOT_LISTED
    wide = verdict(regions()["europe"], 180.0e6, 180.4e6, 10, "e.r.p.")
    assert [each.verdict for each in wide] == [Verdict.TOO_WIDE]


@pytest.mark.source("2014/641/EU annex: 823-826 MHz 20 mW hand-held, 100 mW worn; 826-832 MHz 100 mW", kind="memory")
def test_europe_as_remembered() -> None:
    assert says("europe", 824.5, 100) is Verdict.LISTED
    assert says("europe", 824.5, 100, use="talkback") is Verdict.TOO_STRONG
    # over the edge between two bands both count
    assert says("europe", 826.0, 100, use="talkback") is Verdict.TOO_STRONG
    assert says("europe", 826.0, 20, use="talkback") is Verdict.LISTED
    assert says("europe", 829.0, 100, use="talkback") is Verdict.LISTED
    low = next(b for b in regions()["europe"].bands if b.id == "vhf-low")
    assert (low.power_mw, low.unit, low.width_hz, low.status) == (10, "e.r.p.", 50e3, "from memory")


@pytest.mark.source(
    "page that quotes Ofcom: 606.5-613.5 MHz 10 / 50 mW, 863.1-864.9 MHz 10 mW (secondary)", kind="published"
)
def test_united_kingdom() -> None:
    assert says("uk", 610.0, 50, "e.r.p.") is Verdict.LISTED
    assert says("uk", 610.0, 50, "e.r.p.", "boom") is Verdict.TOO_STRONG
    assert says("uk", 606.55, 10, "e.r.p.", "boom") is Verdict.NOT_LISTED
    assert says("uk", 863.15, 10, "e.r.p.") is Verdict.NOT_LISTED
    assert says("uk", 863.2, 10, "e.r.p.") is Verdict.LISTED


@pytest.mark.source("country digests: Australia 526-694, Japan types A to D (powers remembered)", kind="memory")
def test_australia_and_japan() -> None:
    assert says("australia", 600.0, 100) is Verdict.LISTED
    assert says("australia", 500.0, 10) is Verdict.NOT_LISTED
    assert says("japan", 600.0, 50, "conducted") is Verdict.LISTED
    assert says("japan", 808.0, 11, "conducted") is Verdict.TOO_STRONG
    assert says("japan", 1250.0, 50, "conducted") is Verdict.LISTED
    assert says("japan", 1252.5, 50, "conducted") is Verdict.NOT_LISTED
    assert {b.status for r in ("japan", "australia") for b in regions()[r].bands} == {"from memory"}


BAND = tuple[float, float, float, str, float | None, str]
HELD = "boom, plant, monitor, talkback"
AMERICAN = ((54, 72), (76, 88), (174, 216), (470, 608))
LISTED: dict[str, set[BAND]] = {
    # edges in MHz, mW, unit, width in kHz, uses
    "usa-licensed": {
        *((low, high, 50, "e.i.r.p.", 200, "") for low, high in AMERICAN[:3]),
        (470, 608, 250, "conducted", 200, ""), (653, 657, 20, "e.i.r.p.", 200, ""),
        *((low, high, 1000, "conducted", None, "") for low, high in (
            (26.1, 26.48), (161.625, 161.775), (450, 451), (455, 456), (941.5, 952), (952.85, 956.25),
            (956.45, 959.85), (1435, 1525), (6875, 6900), (7100, 7125),
        )),
    },
    "usa-unlicensed": {
        *((low, high, 50, "e.i.r.p.", 200, "") for low, high in AMERICAN),
        (614, 616, 20, "e.i.r.p.", 200, ""), (657, 663, 20, "e.i.r.p.", 200, ""),
    },
    "europe": {
        (174, 216, 50, "e.r.p.", 200, ""), (470, 694, 50, "e.r.p.", None, ""), (863, 865, 10, "e.r.p.", None, ""),
        (823, 826, 20, "e.i.r.p.", None, HELD), (823, 826, 100, "e.i.r.p.", None, "body pack"),
        (826, 832, 100, "e.i.r.p.", None, ""), (29.7, 47, 10, "e.r.p.", 50, ""),
        (1785, 1805, 20, "e.i.r.p.", None, HELD), (1785, 1805, 50, "e.i.r.p.", None, "body pack"),
    },
    "uk": {
        (606.5, 613.5, 10, "e.r.p.", 200, HELD), (606.5, 613.5, 50, "e.r.p.", 200, "body pack"),
        (863.1, 864.9, 10, "e.r.p.", None, ""), (173.8, 175, 10, "e.r.p.", None, ""),
        (470, 606, 50, "e.r.p.", None, ""), (614, 694, 50, "e.r.p.", None, ""),
    },
    "australia": {(174, 230, 100, "e.i.r.p.", None, ""), (526, 694, 100, "e.i.r.p.", None, "")},
    "japan": {
        (470, 710, 50, "conducted", None, ""), (1240, 1252, 50, "conducted", None, ""),
        (1253, 1260, 50, "conducted", None, ""), (806.125, 809.75, 10, "conducted", None, ""),
        (322.025, 322.15, 1, "conducted", None, ""), (322.25, 322.4, 1, "conducted", None, ""),
        (74.55, 74.79, 10, "conducted", 60, ""),
    },
}  # fmt: skip
REFUSED = {
    "usa-licensed": {(608, 614), (698, 806)},
    "usa-unlicensed": {(608, 614), (617, 652), (652, 653), (653, 657), (663, 698), (698, 806)},
}


@pytest.mark.source(
    "the rows read and remembered, written out a second time; each row of the table has its own status", kind="memory"
)
def test_every_band_is_as_it_was_taken_down() -> None:
    for each in regions().values():
        found = {
            (
                round(b.range_hz.low / 1e6, 6),
                round(b.range_hz.high / 1e6, 6),
                float(b.power_mw),
                b.unit,
                b.width_hz / 1e3 if b.width_hz else None,
                ", ".join(b.uses),
            )
            for b in each.bands
            if b.licence != "not allowed"
        }
        assert found == LISTED[each.id], each.id
        closed = {(b.range_hz.low / 1e6, b.range_hz.high / 1e6) for b in each.bands if b.licence == "not allowed"}
        assert closed == REFUSED.get(each.id, set()), each.id


def test_every_answer_says_to_check() -> None:
    for signal in UNLICENSED:
        name, mhz, mw = signal
        for said in verdict(regions()[str(name)], (mhz - 0.1) * MHZ, (mhz + 0.1) * MHZ, mw):
            assert said.sentence.endswith(".")
            assert "check your licence" in said.sentence or said.verdict is Verdict.NOT_ALLOWED
            assert not any(word in said.sentence.lower() for word in ("permitted", "you may", "legal"))
    assert any("never permission" in note for note in notes())


def test_every_band_says_where_it_comes_from() -> None:
    for each in regions().values():
        assert each.television in rasters()
        assert len({b.id for b in each.bands}) == len(each.bands)
        for band in each.bands:
            assert band.source, (each.id, band.id)
            assert band.status in {"opened", "from memory"}
            assert band.licence != "not allowed" or band.power_mw == 0
            assert band.range_hz.low < band.range_hz.high


def test_what_could_not_be_read_is_told() -> None:
    told = " ".join(notes())
    for subject in ("74.861(e)", "25-10", "2014/641/EU", "EN 300 422-1", "secondary", "Japan"):
        assert subject in told


def test_the_shows_own_region_goes_before_the_tables() -> None:
    own = {
        "region": "europe",
        "regions": [
            {"id": "europe", "name": "Aboard", "bands": [{"id": "deck", "range": "500-510 MHz", "power": "5 mW"}]}
        ],
    }
    radio = RadioPart.model_validate(own)
    found = region(radio)
    assert found is not None
    assert found.name == "Aboard"
    assert verdict(found, 504.9e6, 505.1e6, 6, "e.r.p.")[0].verdict is Verdict.TOO_STRONG
    assert verdict(found, 599.9e6, 600.1e6)[0].verdict is Verdict.NOT_LISTED
    assert region(RadioPart()) is None
    with pytest.raises(InputError, match="'moon' is no region"):
        region(RadioPart.model_validate({"region": "moon"}))
    with pytest.raises(InputError, match="europe, japan"):
        region(RadioPart.model_validate({"region": "moon"}))


def test_bands_by_use() -> None:
    worn = {b.id for b in bands_for(regions()["uk"], "body pack")}
    held = {b.id for b in bands_for(regions()["uk"], "boom")}
    assert worn - held == {"channel-38-worn"}
    assert held - worn == {"channel-38"}
