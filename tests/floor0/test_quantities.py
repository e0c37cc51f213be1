"""Units at the border."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound import quantities
from rollsound.errors import InputError
from rollsound.quantities import count, group_bytes, parse, show_level, show_ppm, show_size, show_time, signed


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("25 m", "m", 25.0), ("2,5 cm", "m", 0.025), ("3 ms", "s", 0.003), ("470 MHz", "Hz", 470e6), ("12.8", "V", 12.8)],
)
@pytest.mark.source("BIPM SI Brochure, 9th edition, table 7 (prefixes)", kind="published")
def test_prefixes(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == pytest.approx(value, rel=1e-12)


def test_decibels_are_not_converted() -> None:
    assert parse("-18 dBFS", "dBFS") == -18.0
    with pytest.raises(InputError, match="dBFS"):
        parse("-18 dBm", "dBFS")


@pytest.mark.parametrize("text", ["", "m", "1e999 m", "25 parsnips", "five m", "1 m)"])
def test_nonsense_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(InputError, match="write"):
        parse(text, "m")


@given(st.text(max_size=12))
def test_any_text_gives_a_number_or_our_error(text: str) -> None:
    try:
        assert math.isfinite(parse(text, "m"))
    except InputError as error:
        assert error.sentence


def test_showing() -> None:
    assert show_level(-18.04) == "−18.0 dBFS"
    assert show_level(-math.inf) == "silence"
    assert show_size(4_608_000) == "4.61 MB"
    assert show_time(3723) == "1 h 02 min"
    assert show_time(185) == "3 min 05 s"
    assert show_ppm(-3.25) == "−3.250 ppm"


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (show_level(-0.04), "0.0 dBFS"),
        (show_level(-0.06), "−0.1 dBFS"),
        (show_level(-18.0, "LUFS"), "−18.0 LUFS"),
        (show_ppm(-0.0001), "0.000 ppm"),
        (show_ppm(-6.614), "−6.614 ppm"),
        (signed(-11_760), "−11,760"),
        (signed(3.7, 2), "+3.70"),
        (count(12_000, "frame"), "12,000 frames"),
        (group_bytes("from byte 40001, where zeros end; 2031.wav"), "from byte 40,001, where zeros end; 2031.wav"),
        (
            group_bytes("The file states 29956536 bytes of audio but ends after 1000; 48000 Hz."),
            "The file states 29,956,536 bytes of audio but ends after 1,000; 48000 Hz.",
        ),
    ],
)
def test_numbers_stand_as_a_reader_expects(shown: str, expected: str) -> None:
    assert shown == expected


@pytest.mark.source("pint, the registry of units", kind="library")
@pytest.mark.parametrize("unit", ["Hz", "W", "mW", "Wh", "V", "A", "s", "m", "kg"])
def test_common_units_are_what_the_registry_makes_of_them(unit: str) -> None:
    registry = pint.UnitRegistry(cache_folder=None)
    prefixes = ("", "µ", "m", "c", "k", "M", "G")
    tried = 0
    for base in ("Hz", "W", "Wh", "V", "A", "s", "m", "g"):
        for prefix in prefixes:
            power = quantities._ten_to(prefix + base, unit)
            if power is None:
                continue
            wanted = float(registry.Quantity(37.5, prefix + base).to(unit).magnitude)
            assert quantities.parse(f"37.5 {prefix}{base}", unit) == pytest.approx(wanted, rel=1e-15), prefix + base
            tried += 1
    assert tried >= 3


def test_what_is_no_common_unit_goes_to_the_registry() -> None:
    assert quantities._ten_to("ft", "m") is None
    assert quantities._ten_to("MHz", "m") is None
    assert quantities._ten_to("W", "Wh") is None
    assert quantities.parse("10 ft", "m") == pytest.approx(3.048)
    with pytest.raises(InputError):
        quantities.parse("5 W", "Wh")
