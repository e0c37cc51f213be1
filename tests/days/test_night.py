"""The demo's night from end to end, held against the truth that only its generator knows."""

from __future__ import annotations

import csv
import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest
from listening import RATE, read_take, worst_median_lag
from rich.console import Console

from rollsound.cli.app import run
from rollsound.cli.demo import show_night
from rollsound.demo import DAY_FOUR
from rollsound.demo.night import NightResult, faulty_tracks, rebuilt_tracks, run_night
from rollsound.demo.scenario import MUSIC
from rollsound.demo.truth import Truth
from rollsound.finding import Weight
from rollsound.log import read_takes, read_wearers
from rollsound.measure import RADIO_FAULTS
from rollsound.timecode import LtcDecoder
from rollsound.wave import open_wave, read_info


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("night") / "out"


@pytest.fixture(scope="module")
def night(out: Path) -> NightResult:
    return run_night(out)


@pytest.fixture(scope="module")
def truth(night: NightResult, out: Path) -> Truth:
    return Truth.model_validate_json((out / "set" / "truth.json").read_bytes())


@pytest.mark.source("phase correlation with numpy's transform, scipy's spline and filters", kind="library")
def test_the_truth_is_heard_in_the_day_that_came_in(out: Path, truth: Truth) -> None:
    field = out / "set"
    assert 300e6 < sum(path.stat().st_size for path in field.rglob("*.wav")) < 1e9
    takes, wearers = read_takes(field / "takes.csv"), read_wearers(field / "wearers.csv")
    assert [row.file for row in takes] == [take.name for take in truth.takes]
    assert [row.circled for row in takes] == [take.circled for take in DAY_FOUR.takes]
    sheet = {row.track: row.card for row in wearers}
    assert len(wearers) == 14
    assert sheet["Okello"] == "C07"
    assert sheet["Maelis"] == "C06"
    assert sheet["Nkechi"] == ""
    with open(field / "wearers.csv", encoding="utf-8") as file:
        assert next(csv.reader(file)) == ["track", "character", "performer", "card"]
    with open(field / "takes.csv", encoding="utf-8") as file:
        assert next(csv.reader(file)) == ["file", "scene", "slate", "take", "sound_roll", "circled", "kind", "note"]
    found = worst_median_lag(field, truth, windows=2)
    assert len(found) == 62
    quiet = {take.name for take in truth.takes if take.kind in ("room tone", "wild track")}
    # as in the short day; where nobody speaks, the paths' own noise is nearer
    assert max(abs(lag) for (take, _), lag in found.items() if take not in quiet) < 0.2, found
    assert max(abs(lag) for (take, _), lag in found.items() if take in quiet) < 0.5, found
    sung = truth.take("NF04_S217_T1")
    entries = LtcDecoder(RATE)
    heard = entries.feed(read_take(field, sung)[:, truth.track(sung.name, MUSIC[2]).index]) + entries.finish()
    assert str(heard[0].timecode) == sung.playback_timecode
    assert heard[0].sample == pytest.approx(sung.playback_starts_at_sample, abs=2.0)


def test_every_copy_is_proven(night: NightResult) -> None:
    assert all(each.complete for each in night.offloads)
    assert night.verify.proven
    assert night.turnover.complete
    assert night.holds


def test_a_night_that_does_not_hold_says_so(night: NightResult, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = night.agreement.model_copy(update={"differences": ("a track was placed elsewhere",)})
    lost = night.verify.model_copy(update={"missing": ("31T1.wav",)})
    for spoiled in (night.model_copy(update={"agreement": wrong}), night.model_copy(update={"verify": lost})):
        assert not spoiled.holds
        show_night(Console(width=120), spoiled)
        assert "not proven" in capsys.readouterr().out.splitlines()[0]


def test_every_radio_track_is_judged_as_it_is(night: NightResult) -> None:
    assert night.agreement.differences == ()
    assert night.agreement.outcomes_right == night.agreement.tracks > 40
    assert night.agreement.placed > 30


def test_offsets_and_rates_agree_with_the_truth(night: NightResult, truth: Truth) -> None:
    # A speaking track lies within 0.1 sample over a take of 20 s; the day's model promises 1 sample for silent ones.
    assert night.agreement.worst_offset_samples < 1.0
    clocks = {card.name: card for card in truth.cards}
    for card in night.conform.cards:
        true = clocks[card.name]
        if card.rate_ppm is None or true.warm_up_ppm or true.step_samples or true.other_day:
            continue
        assert card.rate_ppm == pytest.approx(true.rate_ppm, abs=0.2), card.name


def test_damage_is_found_and_nothing_else(night: NightResult) -> None:
    agreement = night.agreement
    assert agreement.spans_true > 10
    assert agreement.spans_found == agreement.spans_true
    assert agreement.spans_extra == 0


# A radio track that fades into its own noise looks like a pause in speech; only a card tells it from one.
ONLY_BESIDE_A_CARD = frozenset({"dropout"})


def test_inspecting_finds_what_is_wrong(night: NightResult, truth: Truth) -> None:
    missed = []
    for wanted in truth.findings:
        file = next(each for each in night.recorder.files if Path(each.path).name == wanted.file)
        kinds = {finding.kind for finding in file.findings}
        if wanted.track:
            kinds |= {finding.kind for finding in file.tracks[wanted.track - 1].findings}
        looked_for = "file-not-whole" if wanted.kind == "not finalised" else wanted.kind
        if looked_for not in kinds and wanted.kind not in ONLY_BESIDE_A_CARD:
            missed.append(f"{wanted.file} track {wanted.track} {wanted.kind}")
    assert missed == []


def test_inspecting_raises_no_false_alarm(night: NightResult, truth: Truth) -> None:
    """Every radio fault told on a track is there, or (on the mix) on a track that was mixed into it."""
    true = {(finding.file, finding.track) for finding in truth.findings}
    false_alarms = [
        f"{Path(file.path).name} {track.name}: {finding.what}"
        for file in night.recorder.files
        for track in file.tracks
        for finding in track.findings
        if finding.kind in RADIO_FAULTS
        and finding.weight is not Weight.FINE
        and (Path(file.path).name, track.index) not in true
        and not track.name.startswith("Mix")
    ]
    assert false_alarms == []


def test_the_mirrors_have_none_of_the_radio_faults(night: NightResult) -> None:
    rebuilt = rebuilt_tracks(night.conform)
    assert len(rebuilt) > 50
    assert len(faulty_tracks(night.recorder) & rebuilt) >= 10
    assert faulty_tracks(night.mirrors) & rebuilt == set()


def test_mirrors_match_the_recorder(night: NightResult) -> None:
    for take in night.conform.takes:
        for recorder, output in zip(take.recorder, take.output, strict=True):
            with open_wave(recorder) as source, open_wave(output) as mirror:
                a, b = source.info, mirror.info
                assert Path(recorder).name == Path(output).name
                assert (b.frames, b.start_samples, b.track_names) == (a.frames, a.start_samples, a.track_names)
                assert b.format == a.format
                assert (b.scene, b.take, b.sound_roll) == (a.scene, a.take, a.sound_roll)
                assert b.assumptions == ()
                replaced = (
                    {t.index - 1 for t in take.tracks if t.action == "replace"} if len(take.recorder) == 1 else None
                )
                if replaced is None:
                    continue
                kept = [n for n in range(a.format.channels) if n not in replaced]
                left, right = source.read_ints(0, a.frames), mirror.read_ints(0, a.frames)
                assert (left[:, kept] == right[:, kept]).all(), "an untouched track changed"


def test_sources_are_untouched(night: NightResult, out: Path) -> None:
    for copy in (out / "drive a" / "day 4" / "recorder").glob("*.wav"):
        source = out / "set" / "recorder" / copy.name
        assert hashlib.md5(copy.read_bytes()).digest() == hashlib.md5(source.read_bytes()).digest()


def test_the_turnover_holds_what_post_needs(night: NightResult) -> None:
    folder = Path(night.turnover.day_folder)
    names = {path.name for path in folder.rglob("*") if path.is_file()}
    assert {"sound report.pdf", "sound report.csv", "findings.csv", "conform list.csv", "conform list.otio"} <= names
    mirrors = list(folder.rglob("mirrors/*.wav"))
    assert mirrors
    assert all(not read_info(path).assumptions for path in mirrors)


@pytest.mark.soak  # nearly a minute; each part's own second run is tested where the part is
def test_a_second_run_goes_on_and_changes_nothing(
    night: NightResult, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*.wav")}
    assert run(["demo", str(out), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["agreement"] == night.agreement.model_dump(mode="json")
    assert {path: path.stat().st_mtime_ns for path in out.rglob("*.wav")} == before


def test_post_proves_it_in_a_program_of_its_own(night: NightResult) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "rollsound", "verify", night.turnover.root], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "Proven" in done.stdout
