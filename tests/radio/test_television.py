"""Television channels and where they lie."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.radio.television import notes, raster, rasters

MHZ = 1_000_000
COMPUTED = {
    ("usa", 14): (470, 473), ("usa", 20): (506, 509), ("usa", 36): (602, 605),
    ("europe", 21): (470, 474), ("europe", 38): (606, 610), ("europe", 48): (686, 690),
    ("australia", 28): (526, 529.5), ("australia", 41): (617, 620.5), ("australia", 51): (687, 690.5),
    ("japan", 13): (470, 473), ("japan", 40): (632, 635),
}  # fmt: skip
PRINTED = {
    ("usa", 2): (54, 60), ("usa", 5): (76, 82), ("usa", 7): (174, 180),
    ("europe", 38): (606, 614),
    ("japan", 13): (470, 476), ("japan", 40): (632, 638), ("japan", 52): (704, 710),
}  # fmt: skip
AUSTRALIA = {6: 174, 7: 181, 8: 188, 9: 195, 209: 202, 10: 209, 11: 216, 12: 223}


def off(table: dict[tuple[str, int], tuple[float, float]]) -> list[tuple[str, int]]:
    """Channels whose lower edge and middle are not these."""
    return [
        key
        for key, (low, middle) in table.items()
        if (raster(key[0]).channel_range(key[1])[0], raster(key[0]).centre_hz(key[1])) != (low * MHZ, middle * MHZ)
    ]


@pytest.mark.source("channel formulas of 6, 7 and 8 MHz rasters; computed", kind="published")
def test_channels() -> None:
    assert off(COMPUTED) == []
    for key, (low, middle) in COMPUTED.items():
        assert off({**COMPUTED, key: (low, middle + 0.5)}) == [key]
        assert off({**COMPUTED, key: (low - 1, middle)}) == [key]


@pytest.mark.source(
    "encyclopedia table of channel frequencies; a Japanese channel table; Ofcom on channel 38", kind="published"
)
def test_channels_as_they_are_printed() -> None:
    for (name, channel), (low, high) in PRINTED.items():
        assert raster(name).channel_range(channel) == (low * MHZ, high * MHZ)


@pytest.mark.source("formulas by channel number: FCC, CEPT, Australia, Japan; computed", kind="published")
def test_every_channel_is_its_formula() -> None:
    def american(n: int) -> int:
        first, edge = next((f, e) for f, e in ((14, 470), (7, 174), (5, 76), (2, 54)) if n >= f)
        return edge + 6 * (n - first)

    lower = {
        "usa": american,
        "europe": lambda n: 302 + 8 * n if n >= 21 else 139 + 7 * n,
        "japan": lambda n: 392 + 6 * n,
    }
    for name, formula in lower.items():
        for channel in raster(name).channels():
            assert raster(name).channel_range(channel)[0] == formula(channel) * MHZ
    assert [n for n in raster("australia").channels() if n >= 28 and n != 209] == list(range(28, 52))
    assert all(raster("australia").channel_range(n)[0] == (330 + 7 * n) * MHZ for n in range(28, 52))
    assert (raster("usa").centre_hz(14), raster("usa").centre_hz(36)) == ((389 + 84) * MHZ, (389 + 216) * MHZ)


@pytest.mark.source("Australian VHF channels, irregular because of 9A", kind="memory")
def test_australian_vhf() -> None:
    found = raster("australia")
    assert {n: found.channel_range(n)[0] // MHZ for n in AUSTRALIA} == AUSTRALIA
    assert found.channel_name(209) == "9A"
    assert found.channel_name(9) == "9"
    # eight of 7 MHz fill 174 to 230 without a gap
    assert found.channels_touched(174 * MHZ, 230 * MHZ) == tuple(AUSTRALIA)
    assert found.channel_range(12)[1] == 230 * MHZ
    assert any("9A" in note for note in notes())


@pytest.mark.source("ATSC pilot 0.309441 MHz over the lower edge; ISDB-T centre + 1/7 MHz (tables)", kind="published")
def test_where_carriers_lie_within_a_channel() -> None:
    assert raster("usa").pilot_hz == 309_441
    assert raster("japan").centre_shift_hz == pytest.approx(MHZ / 7, abs=0.5)


def test_first_and_last_channels() -> None:
    uhf = {
        name: [n for n in raster(name).channels() if raster(name).channel_range(n)[0] >= 400 * MHZ]
        for name in rasters()
    }
    assert {name: (found[0], found[-1]) for name, found in uhf.items()} == {
        "usa": (14, 37), "europe": (21, 48), "australia": (28, 51), "japan": (13, 52),
    }  # fmt: skip


def test_a_signal_belongs_to_every_channel_that_it_touches() -> None:
    europe = raster("europe")
    assert europe.channels_touched(613.9e6, 614.1e6) == (38, 39)
    assert europe.channels_touched(613.8e6, 614.0e6) == (38,)
    assert europe.channels_touched(614.0e6, 614.2e6) == (39,)
    assert europe.channels_touched(469.9e6, 470.1e6) == (21,)
    assert europe.channels_touched(230e6, 470e6) == ()
    assert europe.channel_at(614e6) == 39
    assert europe.channel_at(694e6) is None


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(sorted(rasters())), st.integers(50 * MHZ, 720 * MHZ), st.integers(1, 9 * MHZ))
def test_touched_is_what_overlaps(name: str, low: int, width: int) -> None:
    found = raster(name)
    by_edges = [
        n for n in found.channels() if found.channel_range(n)[0] < low + width and found.channel_range(n)[1] > low
    ]
    assert list(found.channels_touched(low, low + width)) == by_edges
    at = found.channel_at(low)
    assert at == next(
        (n for n in found.channels() if found.channel_range(n)[0] <= low < found.channel_range(n)[1]), None
    )


def test_what_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="channel 69 is not in the raster of Europe"):
        raster("europe").channel_range(69)
    with pytest.raises(InputError, match="'moon' is no television raster"):
        raster("moon")
