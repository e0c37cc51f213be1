"""The sound of a site in its plan: kept beside what others write, judged without recordings, light when absent."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rollsound.actions.show import new_show
from rollsound.actions.survey import chart, save, survey
from rollsound.actions.survey_files import How, Measured, measure_files
from rollsound.actions.survey_read import Recording, read_site
from rollsound.actions.survey_save import hours_written, merged
from rollsound.errors import Halted, InputError, MistakesError
from rollsound.log.changes import Change, ClashError
from rollsound.log.model import Author
from rollsound.measure.place.calibration import by_reading
from rollsound.measure.place.model import SiteSound
from rollsound.progress import Event, Progress
from rollsound.report.place_charts import DecayCurve, NoiseBar, place_chart
from rollsound.show.folder import Show
from rollsound.show.text import parse_plan, read_plan, write_text
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter

RATE = 16_000
PLAN = """show:
  title: A short film
sites:
  - id: yard
    name: Yard
    sound:
      laeq: 38 dBA  # by a meter
      boom: 1.2 m
      noisy_hours:
        - id: trains
          from: "18:30"
          to: "19:30"
          what: trains
      wind: strong  # what no version knows yet
rig:
  sources:
    - id: boom-1
      name: Boom 1
      distance: 0.7 m
schedule:
  days:
    - id: day-1
      number: 1
      site: yard
      call: "07:00"
      wrap: "19:00"
"""


@pytest.fixture
def text(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, "utf-8")
    return path


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("place") / "yard.wav"
    with WaveWriter(path, AudioFormat(RATE, 2, SampleFormat.PCM24)) as writer:
        noise = 1e-3 * np.random.default_rng(0).standard_normal((RATE * 20, 2)) * [1.0, 10.0]
        writer.write(noise.astype(np.float32))
    return path


def test_what_is_kept_is_judged_without_any_recording(text: Path) -> None:
    result = survey(read_site(text, "yard"), Measured()).result
    assert [each.kind for each in result.findings] == ["place noise", "boom distance", "noisy hours"]
    assert result.boom_m == 1.2
    assert result.boom_planned
    rows = {(row.distance_m, row.effort): row for row in result.speech}
    assert rows[0.7, "normal"].what == "Boom 1"
    assert rows[1.2, "normal"].what == "boom as planned"
    assert rows[1.0, "normal"].speech_to_noise_db == pytest.approx(22.0)
    assert rows[1.0, "normal"].serves
    assert not rows[2.0, "normal"].serves
    assert [row.minutes for row in result.hours] == [30]
    assert result.cautions == ()


def test_the_part_goes_round_with_what_it_does_not_know() -> None:
    plan, read = read_plan(PLAN)
    assert isinstance(plan.sites[0].sound, SiteSound)
    assert plan.sites[0].sound.unknown == {"wind": "strong"}
    again = parse_plan(write_text(read.document, read.comments))
    assert again == plan
    assert json.loads(json.dumps(plan.model_dump(mode="json")))["sites"][0]["sound"]["laeq"] == "38 dBA"


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("laeq: 38\n", "sites yard, sound, laeq: needs a number and its unit"),
        ("laeq: 38 dB\n", "sites yard, sound, laeq"),
        ("volume: 40 m\n", "write it as for example '900 m³'"),
        ("reverberation: [{id: 1k, t30: -1 s}]\n", "must be 0 s or more"),
        ("noisy_hours: [{id: a, from: 7, to: '08:00'}]\n", "write a time of day"),
        ("noisy_hours: [{id: a, from: '07:00', to: '08:00', date: soon}]\n", "write a date"),
        ("effort: shouted\n", "cannot be 'shouted'"),
    ],
)
def test_mistakes_in_it_are_told_with_their_place(written: str, sentence: str) -> None:
    with pytest.raises(MistakesError) as raised:
        parse_plan(f"show:\n  title: A\nsites:\n  - id: yard\n    name: Yard\n    sound:\n      {written}")
    assert sentence in raised.value.sentence
    assert "line 7" in raised.value.sentence


def test_a_plan_without_it_loads_no_signal_code() -> None:
    code = (
        "import sys; from rollsound.show.text import parse_plan; "
        "parse_plan('show:\\n  title: A\\nsites:\\n  - id: yard\\n    name: Yard\\n'); "
        "sys.exit('rollsound.measure' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_schema_tells_of_it() -> None:
    from rollsound.show.model import plan_schema

    told = json.dumps(plan_schema())
    assert "noisy_hours" in told
    assert "OctaveDecay" in told


def test_tracks_are_told_apart_and_levels_are_those_of_the_one_named(recording: Path) -> None:
    quiet = measure_files([recording], How(kind="noise", track=1, stated=by_reading(-36.0)))
    loud = measure_files([recording], How(kind="noise", track=2, stated=by_reading(-36.0)))
    assert quiet.noise is not None
    assert loud.noise is not None
    assert loud.noise.laeq_db - quiet.noise.laeq_db == pytest.approx(20.0, abs=0.2)


def test_it_tells_how_far_it_is_and_stops_when_asked(recording: Path) -> None:
    events: list[Event] = []
    measure_files([recording], How(kind="noise", track=1), Progress(events.append))
    assert [event.done for event in events] == sorted(event.done for event in events)
    assert events[-1].done == events[-1].total == RATE * 20
    progress = Progress(lambda event: progress.stop())
    with pytest.raises(Halted):
        measure_files([recording], How(kind="noise", track=1), progress)


def test_blocks_hold_the_track_and_nothing_else(recording: Path) -> None:
    with Recording(recording, 2) as opened:
        whole = np.concatenate(list(opened.blocks(Progress(), "reading")))
        assert np.array_equal(whole, opened.read(0, opened.frames))
        assert whole.shape == (RATE * 20,)


def test_what_others_write_meanwhile_stays(text: Path, tmp_path: Path, recording: Path) -> None:
    folder = tmp_path / "show"
    new_show(folder, plan=text)
    asked = read_site(folder, "yard")
    measured = measure_files([recording], How(kind="noise", track=1, stated=by_reading(-36.0)))
    surveyed = survey(asked, measured, volume="90 m³")

    def write(path: str, before: Any, after: Any) -> None:
        with Show.open(folder) as show:
            show.edit([Change(path, before, after)], Author("someone else", "tablet"))

    write("/sites/yard/sound/boom", "1.2 m", "0.9 m")
    saved = save(asked, surveyed).result.saved
    assert saved is not None
    kept = read_site(folder, "yard").written
    assert kept["boom"] == "0.9 m"
    assert kept["volume"] == "90 m³"
    assert kept["laeq"] != "38 dBA"
    assert kept["wind"] == "strong"
    write("/sites/yard/sound/laeq", kept["laeq"], "60 dBA")
    with pytest.raises(ClashError):
        save(asked, surveyed)


def test_what_was_typed_into_a_text_meanwhile_is_not_written_over(text: Path, recording: Path) -> None:
    asked = read_site(text, "yard")
    surveyed = survey(asked, measure_files([recording], How(kind="noise", track=1, stated=by_reading(-36.0))))
    typed = text.read_text("utf-8").replace("1.2 m", "0.9 m")
    text.write_text(typed, "utf-8")
    with pytest.raises(InputError, match="was changed since it was read, so nothing was written"):
        save(asked, surveyed)
    assert text.read_text("utf-8") == typed


def test_files_of_earlier_visits_stay_named() -> None:
    after = merged({"files": ["a.wav"], "note": "windy"}, {"laeq": "40 dBA"}, ["b.wav", "a.wav"], "2031-02-10")
    assert after == {"measured": "2031-02-10", "files": ["a.wav", "b.wav"], "laeq": "40 dBA", "note": "windy"}
    assert list(after) == ["measured", "files", "laeq", "note"]


def test_noisy_hours_are_read_as_people_write_them() -> None:
    rows = hours_written(["7:45-08:30 school run", "2031-02-18 06:10 to 07:00 tide, 58 dBA"], [{"id": "bells"}])
    assert rows == [
        {"id": "bells"},
        {"id": "school-run", "from": "7:45", "to": "08:30", "what": "school run"},
        {"id": "tide", "from": "06:10", "to": "07:00", "what": "tide", "level": "58 dBA", "date": "2031-02-18"},
    ]
    twice = hours_written(["07:45-08:30 bus", "15:00-15:30 bus", "15:00-15:45 bus"], [])
    assert [(row["id"], row["to"]) for row in twice] == [("bus", "08:30"), ("bus-2", "15:45")]


def test_the_chart_shows_what_there_is() -> None:
    bars = [NoiseBar(name, level) for name, level in zip(("63 Hz", "125 Hz"), (50.0, float("nan")), strict=True)]
    curve = DecayCurve("1 kHz", tuple(-0.6 * n for n in range(100)), 0.01, 1.0, "T30")
    both = place_chart("Yard", bars, [curve], curves={15: (47, 36), 70: (183, 179)}, nc="NC-20 (63 Hz)")
    assert len(both.spec["vconcat"]) == 2
    drawn = json.dumps(both.spec)
    assert "NC-15" in drawn
    assert "NC-70" not in drawn, "curves far off are left out"
    assert "NaN" not in drawn
    assert "63 Hz 50" in both.alt
    assert "Rated NC-20 (63 Hz)" in both.alt
    relative = place_chart("Yard", bars, [], curves={15: (47, 36)}, calibrated=False)
    assert "NC-15" not in json.dumps(relative.spec)
    lost = place_chart("Yard", [], [DecayCurve("1 kHz", (0.0, -1.0), 0.01, float("nan"), "")])
    assert "does not hold" in lost.alt


def test_nothing_measured_is_nothing_drawn(text: Path) -> None:
    with pytest.raises(InputError, match="nothing was measured that could be drawn"):
        chart(survey(read_site(text, "yard"), Measured()))


def test_a_calibrator_recorded_on_one_track_serves_files_of_several(recording: Path, tmp_path: Path) -> None:
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(RATE * 3) / RATE)
    for name, columns in (("mono.wav", 1), ("poly.wav", 2)):
        with WaveWriter(tmp_path / name, AudioFormat(RATE, columns, SampleFormat.PCM24)) as writer:
            writer.write(np.stack([tone] * columns, axis=1).astype(np.float32))
        found = measure_files([recording], How(kind="noise", track=2, calibration=tmp_path / name)).calibration
        assert found is not None
        assert found.full_scale_db_spl == pytest.approx(117.01, abs=0.02)
