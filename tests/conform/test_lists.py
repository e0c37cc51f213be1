"""Lists of what came from where: read back by the standard's own library, and added up."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote, urlparse

import numpy as np
import opentimelineio as otio
import pytest
import takes

from rollsound.conform.carry_out import carry_out
from rollsound.conform.lists import NAMESPACE, report_csv, report_rows, segments_csv, spans_csv, timeline_json
from rollsound.conform.model import ClockMap, Outcome, Place
from rollsound.conform.outcome import Origin, TakeOutcome
from rollsound.conform.plan import Action, Mode
from rollsound.conform.planning import make_plan
from rollsound.timecode import Rate, Timecode
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter

RATE = 48_000
FRAMES = 100_000


@pytest.fixture(scope="module")
def mirrored(tmp_path_factory: pytest.TempPathFactory) -> TakeOutcome:
    """Track 2 from a card that covers 10 000 to 59 999, track 3 whole, track 4 refused."""
    folder = tmp_path_factory.mktemp("lists") / "Skarvik quay"
    rng = np.random.default_rng(1)
    cards = [
        takes.Card(rng.uniform(-0.1, 0.1, 50_000), -10_000.0, 0.0, 1),
        takes.Card(rng.uniform(-0.1, 0.1, 110_000), 1234.5, 37.4, 2, fields={"path_delay_samples": 96.0}),
        takes.Card(rng.uniform(-0.1, 0.1, 110_000), 0.0, 0.0, 3, outcome=Outcome.OTHER_MIC),
    ]
    scene = takes.scene(folder, rng.uniform(-0.1, 0.1, (FRAMES, 4)), cards)
    plan = make_plan(scene.alignments, {"12A-3": scene.files}, Mode.MIRROR, folder / "out")
    return carry_out(plan.takes[0])


@pytest.mark.source("OpenTimelineIO 0.18.1, otio_json", kind="library")
def test_the_timeline_reads_back(mirrored: TakeOutcome) -> None:
    text = timeline_json([mirrored], "Day 4")
    read = otio.adapters.read_from_string(text, "otio_json")
    assert read.name == "Day 4"
    timeline = read[0]
    assert timeline.global_start_time == otio.opentime.RationalTime(takes.START, RATE)
    lanes = list(timeline.audio_tracks())
    assert [lane.name for lane in lanes] == ["Boom", "Ilse", "Tomas", "Amina"]
    for lane in lanes:
        assert lane.duration() == otio.opentime.RationalTime(FRAMES, RATE)
    clips = list(lanes[1])
    assert [int(lane_range.start_time.value) for lane_range in map(lanes[1].range_of_child, clips)] == [
        0,
        10_000,
        60_000,
    ]
    assert [clip.metadata[NAMESPACE]["origin"] for clip in clips] == ["recorder", "card", "recorder"]
    card = clips[1]
    assert Path(unquote(urlparse(card.media_reference.target_url).path)).name == "card0.wav"
    assert card.source_range.start_time == otio.opentime.RationalTime(0, RATE)
    assert card.media_reference.available_range.duration.value == 50_000
    whole = next(iter(lanes[2]))
    assert whole.metadata[NAMESPACE]["source_start_samples"] == pytest.approx(1234.5)
    assert whole.metadata[NAMESPACE]["rate_ppm"] == pytest.approx(37.4, abs=1e-6)
    # Written, read and written again it is the same document.
    assert otio.adapters.write_to_string(read, "otio_json", indent=1) == text


def test_the_sheet_covers_every_sample_once(mirrored: TakeOutcome) -> None:
    rows = list(csv.DictReader(io.StringIO(segments_csv([mirrored]))))
    for track in ("1", "2", "3", "4"):
        mine = [row for row in rows if row["track"] == track]
        at = 0
        for row in mine:
            assert int(row["start sample"]) == at
            at += int(row["length samples"])
        assert at == FRAMES
    assert rows[0]["start time code"] == str(Timecode.parse("10:00:00:00", Rate.parse("25")))
    card = next(row for row in rows if row["origin"] == "card" and row["track"] == "3")
    assert (card["source channel"], card["source start sample"], card["rate ppm"]) == ("1", "1234.5000", "37.40000")


def test_the_report_says_what_was_not_possible(mirrored: TakeOutcome) -> None:
    rows = report_rows([mirrored])
    assert [row.track for row in rows] == [2, 3, 4]
    half, whole, refused = rows
    assert half.action is Action.REPLACE
    assert half.replaced_seconds == pytest.approx(50_000 / RATE, abs=0.001)
    assert "does not cover" in half.not_possible
    assert whole.not_possible == ""
    assert (whole.offset_samples, whole.rate_ppm) == (1234.5, 37.4)
    assert whole.placement is Place.TRACK
    assert whole.path_delay_ms == 2.0
    assert half.path_delay_ms is None
    assert refused.action is Action.KEEP
    assert refused.outcome is Outcome.OTHER_MIC
    assert "hears another microphone" in refused.not_possible
    sheet = list(csv.DictReader(io.StringIO(report_csv([mirrored]))))
    assert sheet[1]["offset samples"] == "1234.5"
    assert sheet[0]["path delay ms"] == ""


def test_spans_are_listed(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    sound = 0.1 * rng.standard_normal(4 * RATE)
    radio = sound.copy()
    radio[RATE : RATE + 4_800] = 0.0
    scene = takes.scene(tmp_path, radio[:, None], [takes.Card(sound, 0.0, 0.0, 0)])
    plan = make_plan(scene.alignments, {"12A-3": scene.files}, "mend", tmp_path / "out")
    outcome = carry_out(plan.takes[0])
    (row,) = csv.DictReader(io.StringIO(spans_csv([outcome])))
    assert (row["start sample"], row["length samples"], row["kind"], row["mended"]) == ("48000", "4800", "mute", "yes")
    assert float(row["after dbfs"]) == pytest.approx(-20.0, abs=0.5)
    (report,) = report_rows([outcome])
    assert (report.damaged_spans, report.mended_spans, report.damaged_seconds) == (1, 1, 0.1)


@pytest.mark.parametrize(("card_hz", "ppm"), [(44_100, 12.0), (96_000, -33.0), (192_000, 5.0)])
def test_a_card_at_another_rate_keeps_its_own_rate_in_the_timeline(tmp_path: Path, card_hz: int, ppm: float) -> None:
    rng = np.random.default_rng(1)
    ratio = card_hz / RATE
    path = tmp_path / "card.wav"
    with WaveWriter(path, AudioFormat(card_hz, 1, SampleFormat.FLOAT32)) as writer:
        writer.write(rng.uniform(-0.1, 0.1, (round(FRAMES * ratio) + 2000, 1)).astype(np.float32))
    scene = takes.scene(tmp_path, rng.uniform(-0.1, 0.1, (FRAMES, 2)), [takes.Card(np.zeros(10), 0.0, 0.0, 1)])
    clock = ClockMap(np.array([0, FRAMES]), 700.0 + np.array([0.0, FRAMES]) * ratio * (1 + ppm * 1e-6))
    found = replace(scene.alignments[0], card_path=str(path), map=clock, rate_ppm=ppm, card_rate_hz=card_hz)
    plan = make_plan([found], {"12A-3": scene.files}, Mode.MIRROR, tmp_path / "out")
    (outcome,) = [track for track in carry_out(plan.takes[0]).tracks if track.index == 1]
    cards = [segment for segment in outcome.segments if segment.origin is Origin.CARD]
    assert [segment.ratio for segment in cards] == pytest.approx([ratio])
    assert cards[0].rate_ppm == pytest.approx(ppm, abs=1e-3)
    read = otio.adapters.read_from_string(timeline_json([carry_out(plan.takes[0])], "Day 4"), "otio_json")
    clips = [clip for clip in read[0].find_clips() if clip.name == found.card_name]
    assert {clip.media_reference.available_range.duration.rate for clip in clips} == {card_hz}
