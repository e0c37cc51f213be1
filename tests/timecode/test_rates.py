"""Rates: exact ratios, the names they go by, refusals."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.timecode import RATES, Rate

EXACT = {
    "23.976": Fraction(24_000, 1001),
    "24": Fraction(24),
    "25": Fraction(25),
    "29.97 ND": Fraction(30_000, 1001),
    "29.97 DF": Fraction(30_000, 1001),
    "30": Fraction(30),
    "30 DF": Fraction(30),
    "47.952": Fraction(48_000, 1001),
    "48": Fraction(48),
    "50": Fraction(50),
    "59.94 ND": Fraction(60_000, 1001),
    "59.94 DF": Fraction(60_000, 1001),
    "60": Fraction(60),
}


@pytest.mark.source("SMPTE ST 12-1:2014, scope (nominal rates), as published in abstracts", kind="published")
def test_every_rate_is_exact() -> None:
    assert {str(rate): rate.fps for rate in RATES} == EXACT


# Samples in one frame; every product fps x samples must give back the sample rate.
SAMPLES = {
    ("23.976", 48_000): Fraction(2002),
    ("23.976", 48_048): Fraction(1_002_001, 500),
    ("24", 48_048): Fraction(2002),
    ("24", 48_000): Fraction(2000),
    ("25", 48_000): Fraction(1920),
    ("29.97", 48_000): Fraction(8008, 5),
    ("29.97", 96_000): Fraction(16_016, 5),
    ("47.952", 48_000): Fraction(1001),
    ("59.94", 48_000): Fraction(4004, 5),
}


def wrong_lengths(table: dict[tuple[str, int], Fraction]) -> list[tuple[str, int]]:
    return [key for key, samples in table.items() if Rate.parse(key[0]).samples_per_frame(key[1]) != samples]


@pytest.mark.source(
    "29.97: 5 frames = 8008 samples at 48 kHz, common knowledge of digital audio and video", kind="practice"
)
def test_frame_lengths_in_samples() -> None:
    assert wrong_lengths(SAMPLES) == []
    assert Rate.parse("23.976").samples_per_frame(Fraction(48_000_000, 1001)) == 2000


def test_a_perturbed_length_is_noticed() -> None:
    assert wrong_lengths({**SAMPLES, ("25", 48_000): Fraction(1921)}) == [("25", 48_000)]


@pytest.mark.source("forms met in file headers, reports and slates; common practice, no source", kind="practice")
@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("23.98", "23.976"), ("23.976", "23.976"), ("23,98", "23.976"), ("2398", "23.976"), ("23976", "23.976"),
        ("23.97", "23.976"), ("24000/1001", "23.976"), ("23.98psf", "23.976"), ("24/1.001", "23.976"),
        ("023.976-ND", "23.976"), ("24", "24"), ("24p", "24"), ("24.00 fps", "24"), ("24/1", "24"), ("25", "25"),
        ("025.000-ND", "25"), ("25 fps", "25"), ("2997ND", "29.97 ND"), ("29.97", "29.97 ND"), ("2997", "29.97 ND"),
        ("29.97NDF", "29.97 ND"), ("30000/1001", "29.97 ND"), ("2997/100", "29.97 ND"), ("29.97DF", "29.97 DF"),
        ("029.97-DF", "29.97 DF"), ("30000/1001 DF", "29.97 DF"), ("29.97 drop frame", "29.97 DF"),
        ("29.97_non-drop", "29.97 ND"), ("29.97D", "29.97 DF"), ("30", "30"), ("30ND", "30"), ("30DF", "30 DF"),
        ("30 drop", "30 DF"), ("47.95", "47.952"), ("47.96", "47.952"), ("48000/1001", "47.952"), ("48", "48"),
        ("50", "50"), ("50p", "50"), ("59.94", "59.94 ND"), ("5994DF", "59.94 DF"), ("60000/1001", "59.94 ND"),
        ("60", "60"),
    ],
)  # fmt: skip
def test_forms_found_in_the_wild(text: str, name: str) -> None:
    assert str(Rate.parse(text)) == name


def test_flag_kept_apart() -> None:
    assert str(Rate.parse("30000/1001", drop=True)) == "29.97 DF"
    assert str(Rate.parse("29.97ND", drop=False)) == "29.97 ND"
    with pytest.raises(InputError, match="says non-drop but its flag says drop"):
        Rate.parse("29.97ND", drop=True)


@pytest.mark.parametrize(
    "text", ["", "abc", "0", "26", "29.9", "-25", "25/0", "1e3", "24.5", "100", "1001/24000", "nan"]
)
def test_nonsense_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(InputError, match=r"write one of 23\.976, 24"):
        Rate.parse(text)


@pytest.mark.source("drop-frame exists for nominal 30 and 60 only (SMPTE ST 12-1)", kind="published")
@pytest.mark.parametrize("text", ["23.976DF", "24 drop", "25DF", "48DF", "50 drop"])
def test_drop_frame_where_there_is_none(text: str) -> None:
    with pytest.raises(InputError, match="Drop-frame does not exist"):
        Rate.parse(text)


@given(st.sampled_from(RATES))
def test_names_come_back(rate: Rate) -> None:
    assert Rate.parse(str(rate)) == rate
    assert Rate.parse(f"{rate.numerator}/{rate.denominator}", drop=rate.drop) == rate


@given(st.text(max_size=12))
def test_any_text_is_a_rate_or_a_sentence(text: str) -> None:
    try:
        assert Rate.parse(text) in RATES
    except InputError as error:
        assert error.sentence


def test_contradicting_parts_are_refused() -> None:
    for parts in ((24, 1, 25), (0, 1, 24), (24, 0, 24), (24_000, 1001, 23)):
        with pytest.raises(InputError, match="use one of"):
            Rate(*parts)


@pytest.mark.parametrize("sample_rate", [0, -48_000, 48_000.0, True])
def test_sample_rates_are_whole_or_ratios(sample_rate: object) -> None:
    with pytest.raises(InputError, match="sample rate"):
        Rate.parse("25").samples_per_frame(sample_rate)  # type: ignore[arg-type]


@pytest.mark.source("above 30 fps one LTC word covers a pair of frames", kind="memory")
def test_pairs() -> None:
    assert [str(rate.pair) for rate in RATES if rate.nominal > 30] == [
        "23.976", "24", "25", "29.97 ND", "29.97 DF", "30",
    ]  # fmt: skip
