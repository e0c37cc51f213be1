"""The media of a show: what is planned, measured and rebuilt, joined; and what happens when a file goes."""

from __future__ import annotations

import json
import os
import shutil
import time
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rollsound.actions.conform import conform
from rollsound.actions.inspect import inspect
from rollsound.actions.listen import listen, to_16_bit
from rollsound.actions.media import Media, day_order
from rollsound.actions.media_build import NOT_LOOKED_FOR
from rollsound.actions.media_model import MediaDay, MediaTake
from rollsound.actions.media_settled import settled
from rollsound.actions.media_waveform import waveform
from rollsound.errors import InputError, StorageError
from rollsound.finding import Area, Finding, Weight
from rollsound.turnover.model import Rebuilt
from rollsound.wave import open_wave

LABELS = {"day-4": "Day 4"}


@pytest.fixture(scope="module")
def made(small_day: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A show folder with a day that was measured and rebuilt from its cards."""
    folder = tmp_path_factory.mktemp("show")
    shutil.copytree(small_day, folder / "day 4")
    day = folder / "day 4"
    conform(day / "recorder", cards=day / "cards", out=day / "mirrors", wearers_sheet=day / "wearers.csv")
    inspect([day / "recorder", day / "mirrors"], index=folder / "media")
    return folder


def planned(**more: str) -> SimpleNamespace:
    given: dict[str, Any] = {
        "id": "day-4",
        "day": "day-4",
        "recorder": "day 4/recorder",
        "cards": "day 4/cards",
        "conformed": "day 4/mirrors",
        "turnover": "",
        "takes_sheet": "",
        "wearers_sheet": "day 4/wearers.csv",
    }
    return SimpleNamespace(**(given | more))


def day_of(folder: Path, **more: str) -> MediaDay:
    return Media(folder).index([planned(**more)], LABELS).days[0]


def own(made: Path, tmp_path: Path) -> Path:
    """A copy that a test may break: times are kept, so the measurements still count."""
    return Path(shutil.copytree(made, tmp_path / "show", copy_function=shutil.copy2))


def test_a_day_is_joined_from_plan_measurements_and_conform(made: Path) -> None:
    day = day_of(made)
    assert day.label == "Day 4"
    assert day.problems == ()
    assert [take.name for take in day.recorded] == ["31T1", "31T2", "31T3"]
    assert [take.role for take in day.takes].count("mirror") == 3
    result = json.loads((made / "day 4" / "mirrors" / "conform.json").read_text())
    tracks = [track for take in result["takes"] for track in take["tracks"]]
    assert day.radio_tracks == sum(track["reason"] != NOT_LOOKED_FOR for track in tracks) > 0
    assert day.rebuilt_tracks == sum(track["action"] == "replace" for track in tracks) > 0
    assert day.mended_spans == sum(len(track["spans"]) for track in tracks if track["action"] == "replace") > 0
    first = day.recorded[0]
    other = next(take for take in day.takes if take.id == first.other)
    assert (other.role, other.other) == ("mirror", first.id)
    assert [track.name for track in first.tracks] == ["Mix L", "Boom 1", "Ane", "Ivo", "Boom 2", "Boom 3"]


def test_a_fault_that_the_mirror_does_not_have_stops_nothing(made: Path) -> None:
    """The radio tracks were muted for 2000 samples at 200 000; the index calls that a stop, the day a watch."""
    take = day_of(made).recorded[0]
    kept = json.loads((made / "media" / "index.json").read_text())["files"]
    raw = next(file for file in kept if file["path"].endswith("recorder/31T1.wav"))
    mutes = [each for track in raw["tracks"] for each in track["findings"] if each["kind"] == "mute"]
    assert [each["weight"] for each in mutes] == ["stop", "stop"]
    shown = [finding for finding in take.findings if finding.kind == "mute"]
    assert [finding.weight for finding in shown] == [Weight.WATCH, Weight.WATCH]
    assert all("mirror" in finding.remedy for finding in shown)
    spots = [spot for spot in take.spots if spot.kind == "mute"]
    assert {spot.track for spot in spots} == {3, 4}
    assert all(abs(spot.start_sample - 200_000) < 50 and abs(spot.length_samples - 2000) < 100 for spot in spots)


def test_without_cards_the_same_fault_stops(made: Path) -> None:
    take = day_of(made, conformed="").recorded[0]
    assert [finding.weight for finding in take.findings if finding.kind == "mute"] == [Weight.STOP, Weight.STOP]
    assert take.findings[0].weight is Weight.STOP, "heaviest first"


def finding(kind: str, weight: Weight = Weight.STOP) -> Finding:
    return Finding(area=Area.MEDIA, weight=weight, subject="x", kind=kind, what="x", source="x")


@pytest.mark.parametrize(
    ("kind", "tracks", "weight"),
    [
        ("mute", {"Ane"}, Weight.WATCH),
        ("mute", {"Ane", "Boom 1"}, Weight.STOP),
        ("mute", set(), Weight.STOP),
        ("clip", {"Ane"}, Weight.STOP),
        ("file-not-whole", set(), Weight.WATCH),
    ],
)
def test_only_what_a_radio_link_makes_is_settled_by_a_card(kind: str, tracks: set[str], weight: Weight) -> None:
    card = {"Ane": Rebuilt(track="Ane", kind="mirror", card="C1", file=Path("m.wav"))}
    assert settled(finding(kind), tracks, card).weight is weight
    assert settled(finding(kind), tracks, {}).weight is Weight.STOP


def test_no_path_of_this_machine_goes_out(made: Path, tmp_path: Path) -> None:
    folder = own(made, tmp_path)
    (folder / "day 4" / "recorder" / "31T2.wav").unlink()
    (folder / "day 4" / "recorder" / "31T3.wav").write_bytes(b"RIFF")
    day = day_of(folder)
    assert day_of(folder, recorder="day 9").problems
    for text in (day.model_dump_json(), day_of(folder, recorder="day 9").model_dump_json()):
        assert str(folder) not in text
        assert str(made) not in text


def test_a_file_that_vanished_is_told_in_one_sentence(made: Path, tmp_path: Path) -> None:
    folder = own(made, tmp_path)
    media = Media(folder)
    before = media.index([planned()], LABELS).days[0].recorded[0]
    (folder / "day 4" / "recorder" / "31T1.wav").unlink()
    with pytest.raises(StorageError, match="is not there"):
        listen(before, 3, 0, 1.0)
    media.look_again()
    after = media.index([planned()], LABELS).days[0]
    gone = next(take for take in after.recorded if take.name == "31T1")
    assert gone.problem.startswith("31T1.wav is not there")
    assert gone.weight is Weight.STOP
    assert after.missing == 1


def test_a_changed_file_is_measured_no_more(made: Path, tmp_path: Path) -> None:
    folder = own(made, tmp_path)
    assert all(take.measured for take in day_of(folder).recorded), "a show that was moved keeps its measurements"
    path = folder / "day 4" / "recorder" / "31T1.wav"
    os.utime(path, ns=(time.time_ns(), time.time_ns()))
    assert [take.name for take in day_of(folder).recorded if not take.measured] == ["31T1"]


def test_news_is_seen_after_a_look(made: Path, tmp_path: Path) -> None:
    folder = own(made, tmp_path)
    shutil.rmtree(folder / "media")
    media = Media(folder)
    assert not media.index([planned()], LABELS).days[0].recorded[0].measured
    inspect([folder / "day 4" / "recorder"], index=folder / "media")
    media.look_again()
    assert media.index([planned()], LABELS).days[0].recorded[0].measured


@pytest.mark.parametrize("text", ["", "{", "[]", '{"files": 3}', '{"files": [{}]}'])
def test_an_index_or_result_that_is_no_such_thing_costs_no_page(made: Path, tmp_path: Path, text: str) -> None:
    folder = own(made, tmp_path)
    (folder / "media" / "index.json").write_text(text)
    (folder / "day 4" / "mirrors" / "conform.json").write_text(text)
    day = day_of(folder)
    assert len(day.recorded) == 3
    assert day.unmeasured == 3
    assert len(day.problems) == 1
    assert "not what conform writes" in day.problems[0]


def brute(take: MediaTake, track: int, start: int, stop: int, columns: int) -> tuple[list[int], list[int]]:
    with open_wave(take.members[0].path) as reader:
        sound = reader.read_channel(track - 1, start, stop - start)
    edges = [(stop - start) * n // columns for n in range(columns + 1)]
    parts = [sound[a:b] for a, b in pairwise(edges)]
    return (
        [round(float(part.min()) * 32767) for part in parts],
        [round(float(part.max()) * 32767) for part in parts],
    )


@pytest.mark.parametrize(
    ("start", "stop", "columns"), [(0, 1, 5), (7, 1007, 10), (0, 99_991, 997), (719_990, 720_000, 4)]
)
def test_looked_at_closely_the_picture_is_the_sound_itself(made: Path, start: int, stop: int, columns: int) -> None:
    take = day_of(made).recorded[0]
    shown = waveform(take, [3, 4], start, stop, columns)
    assert [each.track for each in shown.tracks] == [3, 4]
    assert shown.columns == min(columns, stop - start)
    for each in shown.tracks:
        lows, highs = brute(take, each.track, start, stop, shown.columns)
        assert np.abs(np.array(lows) - each.lows).max() <= 1
        assert np.abs(np.array(highs) - each.highs).max() <= 1


@pytest.mark.parametrize("columns", [1, 300, 1400])
def test_from_afar_no_column_hides_a_peak(made: Path, columns: int) -> None:
    """The kept overview has bins of its own: each column holds at least what lies inside it, and never more than its
    neighbourhood of one bin on either side has."""
    take = day_of(made).recorded[0]
    shown = waveform(take, [3], 0, take.frames, columns)
    lows, highs = brute(take, 3, 0, take.frames, columns)
    with open_wave(take.members[0].path) as reader:
        sound = reader.read_channel(2, 0, take.frames)
    bin_frames = max(b for b in (256, 1024, 4096, 16_384) if b <= max(256, take.frames / columns))
    for n in range(columns):
        a, b = take.frames * n // columns, take.frames * (n + 1) // columns
        around = sound[max(0, a - bin_frames) : b + bin_frames]
        assert shown.tracks[0].highs[n] <= round(float(around.max()) * 32767) + 1
        assert shown.tracks[0].lows[n] >= round(float(around.min()) * 32767) - 1
    assert max(shown.tracks[0].highs) >= max(highs) - 1
    assert min(shown.tracks[0].lows) <= min(lows) + 1


def test_what_cannot_be_shown_or_heard_is_refused(made: Path) -> None:
    take = day_of(made).recorded[0]
    for bad in (lambda: waveform(take, [7], 0, 100, 10), lambda: waveform(take, [], 5, 5, 10)):
        with pytest.raises(InputError):
            bad()
    with pytest.raises(InputError, match="columns"):
        waveform(take, [], 0, 100, 4001)
    for track, start, seconds in (
        (0, 0, 1.0),
        (7, 0, 1.0),
        (1, -1, 1.0),
        (1, take.frames, 1.0),
        (1, 0, 31.0),
        (1, 0, 0),
    ):
        with pytest.raises(InputError):
            listen(take, track, start, seconds)


def test_without_measurements_a_long_stretch_has_no_waveform_and_says_so(made: Path, tmp_path: Path) -> None:
    folder = own(made, tmp_path)
    shutil.rmtree(folder / "media")
    take = day_of(folder).recorded[0]
    shown = waveform(take, [], 0, take.frames, 100)
    assert shown.unmeasured == [1, 2, 3, 4, 5, 6]
    assert shown.tracks == []
    assert len(waveform(take, [], 0, 10_000, 100).tracks) == 6


def test_what_is_heard_is_the_track_sample_by_sample(made: Path, tmp_path: Path) -> None:
    soundfile = pytest.importorskip("soundfile")
    take = day_of(made).recorded[0]
    path = tmp_path / "heard.wav"
    path.write_bytes(listen(take, 3, 199_000, 0.5))
    heard, rate = soundfile.read(path, dtype="int16")
    assert rate == 48000
    with open_wave(take.members[0].path) as reader:
        sound = reader.read_channel(2, 199_000, 24_000)
    assert heard.shape == (24_000,)
    assert np.array_equal(heard, np.clip(np.rint(sound.astype(np.float64) * 32768), -32768, 32767).astype(np.int16))
    path.write_bytes(listen(take, 3, take.frames - 10, 5.0))
    assert soundfile.read(path)[0].shape == (10,)


def test_floats_above_full_scale_and_no_numbers_are_clipped() -> None:
    given = np.array([2.0, -2.0, np.nan, np.inf, -np.inf, 0.5, 1.0], np.float32)
    assert to_16_bit(given).tolist() == [32767, -32768, 0, 32767, -32768, 16384, 32767]


def test_a_set_of_monos_is_one_take(made: Path, tmp_path: Path) -> None:
    from rollsound.timecode import Rate
    from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

    (tmp_path / "set").mkdir()
    form = AudioFormat(48000, 1, SampleFormat.PCM24)
    for n in (1, 2, 3):
        ixml = IXml.build(scene="5", take="1", sound_roll="R", rate=Rate.parse("25"), tracks=[f"Track {n}"])
        path = tmp_path / "set" / f"5T1_{n}.wav"
        with WaveWriter(path, form, bext=Bext(time_reference=4800), ixml=ixml) as writer:
            writer.write(np.full((1000, 1), n / 10, np.float32))
    day = Media(tmp_path).index([planned(recorder="set", conformed="", cards="")], LABELS).days[0]
    assert [(take.name, len(take.members), len(take.tracks)) for take in day.recorded] == [("5T1", 3, 3)]
    shown = waveform(day.recorded[0], [2, 3], 0, 1000, 1)
    assert [round(each.highs[0] / 32767, 3) for each in shown.tracks] == [0.2, 0.3]


def test_work_on_a_day_needs_no_typed_path(made: Path) -> None:
    day = planned()
    show = SimpleNamespace(folder=made, plan=lambda: SimpleNamespace(media=(day,)))
    assert day_order(show, "inspect", "day-4") == {
        "paths": [str(made / "day 4" / "recorder"), str(made / "day 4" / "mirrors")],
        "index": str(made / "media"),
    }
    order = day_order(show, "conform", "day-4", mode="mend")
    assert order["out"] == str(made / "day 4" / "mirrors")
    assert order["mode"] == "mend"
    day.cards = ""
    with pytest.raises(InputError, match="does not name: cards"):
        day_order(show, "conform", "day-4")
    with pytest.raises(InputError, match="no media of that name"):
        day_order(show, "inspect", "day-5")
