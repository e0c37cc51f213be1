"""What Ready is told of the day's clocks and of log and media, kept while nothing changes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from rollsound.actions import ready_day
from rollsound.actions.ready_day import day_proven
from rollsound.finding import Area, Weight
from rollsound.log.daybook import LogBook
from rollsound.log.model import Author
from rollsound.review.model import Proof
from rollsound.show.folder import Show
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

PLAN = """\
show: {title: Northbound Ferry, frame_rate: "25"}
schedule:
  days: [{id: day-4, number: 4, date: 2031-02-18, call: "08:00", wrap: "20:00", scenes: ["31"]}]
kit:
  items:
    - {id: recorder, name: Main recorder, model: recorder-32}
    - {id: cam-a, name: Camera A, kind: camera, clock: own, clock_error: 2.5 ppm}
media: [{id: day-4-main, day: day-4, recorder: recorder}]
"""
ME = Author("Ines", "ines", "cart")
FORM = AudioFormat(48_000, 1, SampleFormat.PCM16)


def record(show: Show, name: str, take: str) -> None:
    folder = show.folder / "recorder"
    folder.mkdir(exist_ok=True)
    bext = Bext(time_reference=36_000 * 48_000)
    document = IXml.build(scene="31", take=take, rate=Rate.parse("25"), audio=FORM, bext=bext)
    with WaveWriter(folder / name, FORM, bext=bext, ixml=document) as writer:
        writer.write(np.zeros(4 * 48_000, np.float32))


@pytest.fixture
def show(tmp_path: Path) -> Iterator[Show]:
    """A day with a camera, and one take in log and folder."""
    with Show.new(tmp_path / "show", PLAN, ME) as made:
        record(made, "T1.wav", "1")
        codes = {"timecode_in": "10:00:00:00", "timecode_out": "10:00:04:00"}
        fields = {"scene": "31", "slate": "214", "take": "1", **codes}
        LogBook(made.store).add("take", fields, ME, "day-4", id="take-1")
        yield made


def proofs(show: Show) -> dict[tuple[Area, str], Proof]:
    return {(each.area, each.what): each for each in day_proven(show, show.plan())}


def test_clocks_and_media_are_proven(show: Show) -> None:
    found = proofs(show)
    clocks = found[Area.SYNC, "time code of the day inside half a frame"]
    assert [each.finding.kind for each in clocks.told] == ["jam wanted"]
    assert not clocks.recorded
    for area in (Area.MEDIA, Area.SYNC):
        assert found[area, "log and media agree"].holds
    LogBook(show.store).change("take-1", {"take": "2"}, ME)
    told = proofs(show)[Area.MEDIA, "log and media agree"].told
    assert [(each.finding.kind, each.place and each.place.id) for each in told] == [("take differs", "day-4-main")]
    assert all("/" not in ref.path for each in told for ref in each.finding.refs)


def test_a_file_that_came_is_seen_and_nothing_is_read_twice(show: Show, monkeypatch: pytest.MonkeyPatch) -> None:
    proofs(show)
    with monkeypatch.context() as patch:
        patch.setattr(ready_day, "_met", lambda *_: pytest.fail("files were read again"))
        proofs(show)
    record(show, "T2.wav", "2")
    told = proofs(show)[Area.MEDIA, "log and media agree"].told
    assert [(each.finding.kind, each.finding.weight) for each in told] == [("file without a take", Weight.WATCH)]


def test_a_drive_that_is_away_takes_no_proof_with_it(show: Show) -> None:
    (show.folder / "recorder").rename(show.folder / "away")
    assert set(proofs(show)) == {(Area.SYNC, "time code of the day inside half a frame")}
