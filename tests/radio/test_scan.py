"""Scans as analysers write them, takes merged, occupied ranges; and text of any kind, refused in words."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError, MistakesError
from rollsound.radio.carriers.task import Occupied
from rollsound.radio.scan import HIGHEST_DBM, LOWEST_DBM, MOST_POINTS, ScanLevels, merge, occupied, read

FREQ = [470_000_000, 470_025_000, 470_050_000]
LEVEL = [-100.0, -95.5, -60.25]
WAYS = {
    "plain": "470.000,-100\n470.025,-95.5\n470.050,-60.25\n",
    "semicolons, decimal commas": "470,000;-100\n470,025;-95,5\n470,050;-60,25\n",
    "tabs, decimal commas": "470,000\t-100\n470,025\t-95,5\n470,050\t-60,25\n",
    "blanks": "470.000  -100\n470.025  -95.5\n470.050  -60.25\n",
    "quotes": '"470,000","-100"\n"470,025","-95,5"\n"470,050","-60,25"\n',
    "header, kHz": "Frequency (kHz);Level (dBm)\n470000;-100\n470025;-95.5\n470050;-60.25\n",
    "header, Hz": "frequency_hz,amplitude_dbm\n470000000,-100\n470025000,-95.5\n470050000,-60.25\n",
    "hertz by magnitude": "470000000,-100\n470025000,-95.5\n470050000,-60.25\n",
    "kilohertz by magnitude": "470000,-100\n470025,-95.5\n470050,-60.25\n",
    "gigahertz": "f [GHz],dBm\n0.470,-100\n0.470025,-95.5\n0.470050,-60.25\n",
    "units in every line": "470.000 MHz;-100 dBm\n470.025 MHz;-95.5 dBm\n470.050 MHz;-60.25 dBm\n",
    "columns the other way": "Level dBm,Frequency MHz\n-100,470\n-95.5,470.025\n-60.25,470.05\n",
    "more columns": "No,Freq MHz,Max dBm,Mean dBm\n1,470,-100,-110\n2,470.025,-95.5,-110\n3,470.05,-60.25,-110\n",
    "settings before": "Site: quay\nRBW 25 kHz\n\nFreq,Level\n470,-100\n470.025,-95.5\n470.05,-60.25\n",
    "remarks": "# taken at noon\n470,-100\n\n# a bus came by\n470.025,-95.5\n470.05,-60.25\n",
    "byte order mark, other line ends": "\ufeff470,-100\r\n470.025,-95.5\r\n470.05,-60.25",
    "true minus": "470;−100\n470.025;−95.5\n470.05;−60.25\n",
    "not in order": "470.05,-60.25\n470,-100\n470.025,-95.5\n",
    "two sweeps": "470,-100\n470.025,-99\n470.05,-60.25\n470,-110\n470.025,-95.5\n470.05,-80\n",
    "dBuV": "MHz;dBuV\n" + "".join(f"{f / 1e6};{v + 106.98970004336019}\n" for f, v in zip(FREQ, LEVEL, strict=True)),
    "dBµV": "MHz;dBµV\n" + "".join(f"{f / 1e6};{v + 106.98970004336019}\n" for f, v in zip(FREQ, LEVEL, strict=True)),
}


@pytest.mark.parametrize("text", WAYS.values(), ids=list(WAYS))
def test_one_scan_written_in_many_ways(text: str) -> None:
    levels = read(text, "quay.csv")
    assert levels.freq_hz.tolist() == FREQ
    assert levels.level_dbm == pytest.approx(LEVEL, abs=1e-9)
    assert levels.step_hz == 25_000


def test_what_was_assumed_is_said() -> None:
    assert read(WAYS["plain"], "quay.csv").notes == (
        "quay.csv: frequencies were taken as MHz, for they lie from 470 to 470.05.",
        "quay.csv: levels were taken as dBm, for nothing in it says otherwise.",
    )
    assert read(WAYS["header, kHz"], "quay.csv").notes == ()
    assert "2 sweeps were merged by their highest levels" in read(WAYS["two sweeps"], "a").notes[-1]
    coarse = read("500,-100\n502,-100\n504,-90\n", "a").notes[-1]
    assert "2000 kHz apart" in coarse
    assert "unseen" in coarse


@pytest.mark.source("IEC 60027-3: level of 1 µV at 50 ohm is -106.99 dBm; 10·log10(1e-12 / 50 / 1e-3)", kind="memory")
def test_microvolts_at_fifty_ohm() -> None:
    dbm = read("MHz;dBuV\n470;0\n471;17\n", "a").level_dbm
    assert dbm == pytest.approx([-106.98970004, -89.98970004], abs=1e-8)
    assert 10 * math.log10((1e-6) ** 2 / 50 / 1e-3) == pytest.approx(dbm[0], abs=1e-9)


REFUSED = {
    "empty": ("", "is empty"),
    "blank": ("\n \n", "is empty"),
    "no figures": ("Site;quay\nby;Adjoa\n", "no line that begins with a frequency and a level"),
    "header alone": ("Freq MHz,Level dBm\n", "no line that begins"),
    "only remarks follow": ("# nothing\n# here\n", "no line that begins"),
    "full scale": ("MHz,dBFS\n470,-100\n", "levels in dBFS"),
    "milliwatts": ("MHz,mW\n470,0.00001\n", "levels in mW"),
    "microvolts": ("MHz,uV\n470,12\n", "levels in uV"),
    "field strength": ("MHz,dBuV/m\n470,30\n", "levels in dBuV/m"),
    "percent": ("MHz,%\n470,30\n", "levels in %"),
    "unit in the line": ("470 MHz;30 dBFS\n", "levels in dBFS"),
    "no unit, far too high": ("470,12\n471,14\n472,60\n", "does not say the unit of its levels"),
    "no unit, linear": ("470,0.0000001\n471,0.0000002\n", "does not say the unit of its levels"),
    "frequency of no radio": ("12000,-90\n12001,-90\n", "in no unit where radio for sound is"),
    "commas for everything": ("470,025,-95,5\n470,050,-95,5\n", "commas in its figures and between them"),
    "commas for everything, under a header": ("MHz,dBm\n470,025,-95\n", "commas in its figures and between them"),
    "endless line": ("470,-90," + "1" * 5000, "longer than any line of a scan"),
}


@pytest.mark.parametrize(("text", "said"), REFUSED.values(), ids=list(REFUSED))
def test_what_is_refused_as_a_whole(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text, "quay.csv")
    assert said in caught.value.sentence
    assert caught.value.sentence.startswith("quay.csv")


WRONG_LINES = {
    "nan": ("470,-90\n471,nan\n472,-90\n", 2, "level that is no number"),
    "infinite": ("470,-90\n471,-90\n472,-inf\n", 3, "level that is no number"),
    "far too loud": ("MHz,dBm\n470,-90\n471,300\n", 3, "300 dBm, which no receiver meets"),
    "far too quiet": ("MHz,dBm\n470,-900\n471,-90\n", 2, "-900 dBm, which no receiver meets"),
    "dBm that are dBuV": ("MHz,dBm\n470,-90\n471,55\n", 3, "55 dBm"),
    "words": ("470,-90\noverload\n472,-90\n", 2, "'overload', which is no frequency and level"),
    "level missing": ("470,-90\n471,\n472,-90\n", 2, "which is no frequency and level"),
    "below zero": ("470,-90\n-471,-90\n", 2, "frequency that is no number above 0"),
    "unit changes": ("470,-90\n471,-90\n472,-90\n473000000,-90\n", 4, "473000000 MHz"),
    "another unit in a line": ("470 MHz,-90 dBm\n471 MHz,-90 volts\n", 2, "no frequency and level"),
}


@pytest.mark.parametrize(("text", "line", "said"), WRONG_LINES.values(), ids=list(WRONG_LINES))
def test_wrong_lines_are_told_by_number(text: str, line: int, said: str) -> None:
    with pytest.raises(MistakesError) as caught:
        read(text, "quay.csv")
    (mistake,) = caught.value.mistakes
    assert mistake.line == line
    assert said in mistake.sentence


def test_many_wrong_lines_are_told_together_but_not_without_end() -> None:
    with pytest.raises(MistakesError) as caught:
        read("470,-90\n" + "471,nan\n" * 50_000, "quay.csv")
    assert [mistake.line for mistake in caught.value.mistakes] == [*range(2, 10), 10]
    assert "more lines" in caught.value.mistakes[-1].sentence


def test_levels_hold_half_way_to_the_next_but_not_over_a_gap() -> None:
    levels = read("470,-100\n470.025,-100\n550,-50\n550.05,-100\n", "a")
    assert levels.low_hz.tolist() == [469_987_500, 470_012_500, 549_975_000, 550_025_000]
    assert levels.high_hz.tolist() == [470_012_500, 470_037_500, 550_025_000, 550_075_000]


def test_takes_merge_by_their_highest() -> None:
    one = read("470,-100\n470.1,-70\n470.2,-100\n", "one")
    other = read("470,-60\n470.1,-110\n470.2,-110\n", "other")
    both = merge([one, other])
    assert both.level_dbm.tolist() == [-60, -70, -100]
    assert both.freq_hz.tolist() == one.freq_hz.tolist()
    assert both.name == "one and other"
    assert merge([one, one]).level_dbm.tolist() == one.level_dbm.tolist()
    with pytest.raises(InputError, match="no scan to merge"):
        merge([])


def test_takes_on_other_rasters_merge_edge_by_edge() -> None:
    wide = read("470,-50\n471,-100\n472,-100\n", "wide")
    fine = read("471.4,-100\n471.5,-30\n471.6,-100\n", "fine")
    both = merge([wide, fine])
    for at in (470_100_000, 471_100_000, 471_470_000, 471_510_000, 471_560_000, 472_400_000):
        expected = max(
            float(take.level_dbm[(take.low_hz <= at) & (at < take.high_hz)].max(initial=-np.inf))
            for take in (wide, fine)
        )
        assert both.level_dbm[(both.low_hz <= at) & (at < both.high_hz)].tolist() == [expected]


def test_occupied_ranges() -> None:
    levels = read("470,-100\n470.1,-70\n470.2,-65\n470.3,-100\n470.4,-90\n470.5,-89\n", "a")
    assert occupied(levels, -90, 50_000, "scan quay") == (
        Occupied(470_050_000, 470_250_000, 50_000, "scan quay, −65 dBm"),
        Occupied(470_450_000, 470_550_000, 50_000, "scan quay, −89 dBm"),
    )
    assert occupied(levels, -60) == ()
    assert len(occupied(levels, -200)) == 1


def test_a_long_scan_is_read_in_a_moment_and_thinned_without_losing_peaks() -> None:
    text = "".join(f"{470 + n * 0.0025:.4f},{-100 + (n == 77_777) * 50}\n" for n in range(100_000))
    begin = time.perf_counter()
    levels = read(text, "a")
    assert time.perf_counter() - begin < 3
    thin = levels.thinned(1000)
    assert thin.level_dbm.size == 1000
    assert thin.level_dbm.max() == -50
    assert (thin.low_hz[0], thin.high_hz[-1]) == (levels.low_hz[0], levels.high_hz[-1])
    assert levels.thinned(10**6) is levels


def test_a_scan_without_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rollsound.radio.scan.MOST_POINTS", 100)
    with pytest.raises(InputError, match="more than 100 points"):
        read("".join(f"{470 + n * 0.025},-90\n" for n in range(102)), "a")
    assert MOST_POINTS >= 1_000_000


FIELD = st.one_of(
    st.floats(0, 900).map(lambda x: f"{x:.3f}"),
    st.floats(allow_nan=True).map(str),
    st.integers(-200, 10**10).map(str),
    st.sampled_from(["470,5", "-90", "-90,5", "MHz", "dBm", "dBµV", "Frequency", "nan", '"', "", "1e999", "٣", "\x00"]),
    st.text(max_size=6),
)
LINE = st.tuples(st.lists(FIELD, min_size=1, max_size=4), st.sampled_from([",", ";", "\t", " "])).map(
    lambda pair: pair[1].join(pair[0])
)


@settings(max_examples=100, deadline=None)
@given(st.one_of(st.text(max_size=200), st.lists(LINE, max_size=12).map("\n".join)))
@example("470,-90\n471,1e999\n")
@example('"470,-90\n471,-90\n')
@example("470;-90\x0b471;-90")
def test_any_text_gives_levels_or_our_sentence(text: str) -> None:
    try:
        levels = read(text, "scan")
    except InputError as error:
        assert error.sentence.startswith("scan")
        return
    assert isinstance(levels, ScanLevels)
    assert levels.level_dbm.size > 0
    assert ((levels.level_dbm >= LOWEST_DBM) & (levels.level_dbm <= HIGHEST_DBM)).all()
    assert (levels.low_hz < levels.high_hz).all()
    assert (levels.low_hz[1:] >= levels.high_hz[:-1]).all()


POINTS = st.lists(
    st.tuples(st.integers(470_000, 500_000), st.integers(-120, -40)), min_size=1, max_size=20, unique_by=lambda p: p[0]
)


@settings(max_examples=60, deadline=None)
@given(st.lists(POINTS, min_size=1, max_size=3), st.integers(-110, -50))
def test_what_any_take_finds_occupied_the_merged_scan_does_too(takes: list[list[tuple[int, int]]], over: int) -> None:
    scans = [read("kHz;dBm\n" + "".join(f"{f};{v}\n" for f, v in take), f"t{n}") for n, take in enumerate(takes)]
    together = occupied(merge(scans), over)
    apart = [each for scan in scans for each in occupied(scan, over)]
    for each in apart:
        assert any(whole.low_hz <= each.low_hz and each.high_hz <= whole.high_hz for whole in together)
    measured = sum(whole.high_hz - whole.low_hz for whole in together)
    assert measured <= sum(each.high_hz - each.low_hz for each in apart)
