"""Ready, as a page and as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rollsound.actions.inspect import inspect
from rollsound.actions.ready import _backup, ready
from rollsound.errors import InputError
from rollsound.log.backups import make_backup
from rollsound.log.model import Author
from rollsound.review.model import Place
from rollsound.review.storage import Drive
from rollsound.show.folder import Show
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter
from rollsound.web.pages.ready import link_to
from rollsound.web.words import catalogue

RATE_HZ = 48_000
INES = Author("Ines", "ines", "here")
PLAN = """\
show: {title: Ferry}
people: [{id: ines, name: Ines, role: mixer}]
sites: [{id: deck, name: Deck}]
schedule: {days: [{id: day-4, number: 4, date: 2027-03-09, site: deck}]}
"""


def _take(path: Path, *, mute: bool = False) -> None:
    rng = np.random.default_rng(3)
    walk = np.cumsum(rng.standard_normal((3 * RATE_HZ, 2)), axis=0)
    sound = (0.05 * (walk - np.roll(walk, 40, axis=0)) / 40).astype(np.float32)
    sound[:40] = 0.0001 * rng.standard_normal((40, 2))
    if mute:
        sound[60_000:72_000, 1] = 0.0
    ixml = IXml.build(scene="31", take="1", sound_roll="R4", rate=Rate.parse("25"), tracks=["Boom 1", "Runa"])
    with WaveWriter(
        path, AudioFormat(RATE_HZ, 2, SampleFormat.PCM24), bext=Bext(time_reference=36_000 * RATE_HZ), ixml=ixml
    ) as writer:
        writer.write(sound)


def _show(folder: Path, media: str = "") -> Show:
    return Show.new(folder / "show", PLAN + media, INES)


def test_an_empty_plan_claims_only_what_was_checked(tmp_path: Path) -> None:
    with Show.new(tmp_path / "show", "show: {title: Ferry}", INES) as show:
        verdict = ready(show)
    assert not any("day" in each.what for each in verdict.held)  # of no days nothing is proven
    assert all(area.total == 0 for area in verdict.areas if area.area.value in ("radio", "reach", "power", "sync"))
    assert "Nothing is proven yet about radio, reach, power and sync." in verdict.lede


def test_the_plan_alone_can_hold(tmp_path: Path) -> None:
    with _show(tmp_path) as show:
        verdict = ready(show)
    assert verdict.holds == verdict.total
    nothing = "Nothing that was checked would stop the roll"
    assert verdict.sentence == f"{nothing}; radio, reach, power and sync are not proven."
    assert {"plan: the plan names who mixes", "backup of the plan"} <= {each.what for each in verdict.held}


def test_an_edit_is_judged_at_once(tmp_path: Path) -> None:
    with _show(tmp_path) as show:
        assert ready(show).stops == 0
        show.save_text(show.text().replace("site: deck", "site: dock"), show.revision, INES)
        verdict = ready(show)
    assert verdict.sentence == "One thing would stop the roll."
    assert verdict.findings[0].place == Place(page="plan", path="/schedule/days/day-4/site")


def test_media_are_judged_track_by_track(tmp_path: Path) -> None:
    recorder = tmp_path / "recorder"
    recorder.mkdir()
    _take(recorder / "T1.wav")
    _take(recorder / "T2.wav", mute=True)
    with _show(tmp_path, f"media: [{{id: m4, day: day-4, recorder: '{recorder}'}}]\n") as show:
        before = ready(show)
        assert before.gaps == ("Day 4: 2 takes were not measured yet. Measure them on the page Media.",)
        assert not any("track of a take" in each.what for each in before.held)
        inspect([recorder], index=show.folder / "media")
        from rollsound.actions.media import media_in

        media_in(show.folder).look_again()
        show.save_text(show.text() + "# judged anew\n", show.revision, INES)
        after = ready(show)
        assert after.gaps == ()
        assert str(tmp_path) not in after.model_dump_json()  # folders are for this machine only
        held = {each.what: each.count for each in after.held}
        assert held["track of a take, searched for faults"] == 3
        assert held["file of a take, whole and readable"] == 2
        assert held["drive with room"] == 1
        assert after.sentence == "Nothing that was checked would stop the roll; one thing spoils what is recorded."
        spot = after.findings[0].place
        assert spot is not None
        assert (spot.name, spot.track) == ("T2", 2)
        assert abs(spot.start_sample - 60_000) < 480
        (recorder / "T2.wav").unlink()
        media_in(show.folder).look_again()
        show.save_text(show.text() + "# and anew\n", show.revision, INES)
        lost = ready(show)
        assert "T2" in next(told.finding.subject for told in lost.findings if told.finding.kind == "lost")


def test_a_backup_is_found(tmp_path: Path) -> None:
    with _show(tmp_path) as show:
        make_backup(show.store.path)
        verdict = ready(show)
    assert "The newest backup holds the plan as it stands." not in [told.finding.what for told in verdict.findings]
    assert any(each.what == "backup of the plan" for each in verdict.held)


def test_the_page_and_the_json_say_the_same(mixer: Any, guest: Any) -> None:
    told = mixer.get("/api/v1/ready").json()
    page = mixer.get("/ready")
    assert page.status_code == 200
    assert told["sentence"] in page.text
    for area in told["areas"]:
        assert area["sentence"] in page.text
    assert guest.get("/ready").status_code == 200  # whoever may read may know
    assert guest.get("/api/v1/ready").json() == told


def test_a_part_has_no_frame_and_follows_news(mixer: Any) -> None:
    part = mixer.get("/pages/ready/part/verdict").text
    assert part.lstrip().startswith('<div id="ready"')
    assert "live-plan from:body" in part
    assert "live-media from:body" in part


def test_a_stranger_learns_nothing(stranger: Any) -> None:
    assert stranger.get("/api/v1/ready").status_code == 401
    assert stranger.get("/ready").status_code == 303


@pytest.mark.parametrize(
    ("place", "link"),
    [
        (Place(page="plan", path="/people/mina/role"), "/plan?at=/people/mina/role"),
        (Place(page="plan", path="/x/a b&c=d"), "/plan?at=/x/a%20b%26c%3Dd"),
        (Place(page="plan"), "/plan"),
        (Place(page="take", id="ab12"), "/media/ab12"),
        (Place(page="take", id="ab12", track=3), "/media/ab12#track=3"),
        (
            Place(page="take", id="ab12", track=3, start_sample=96_000, length_samples=480),
            "/media/ab12#from=48000&to=144480&at=96000&track=3",
        ),
        (Place(page="media", id="m4"), "/media?day=m4"),
        (Place(page="turnover", id="m4"), "/turnover?day=m4"),
        (Place(page="reach", id="car-deck"), "/reach?site=car-deck"),
        (Place(page="settings"), "/settings"),
        (Place(page="rig", id="piece:rack-1", path="/rig/pieces/rack-1"), "/rig?failed=piece%3Arack-1"),
        (Place(page="rig", path="/rig/sources/pack-01"), "/rig?source=pack-01"),
        (Place(page="rig", path="/rig/pieces/recorder/clock"), "/rig#pieces-recorder"),
        (Place(page="rig", path="/rig/changeovers/boom-1/positions/radio/gains"), "/rig#flip-boom-1"),
        (Place(page="rig", path="/rig/changeovers"), "/rig"),
        (Place(page="rig"), "/rig"),
        (Place(page="power", path="/power/supplies/cart/feeds"), "/power#supply-cart"),
        (Place(page="power", path="/power"), "/power"),
        (Place(page="kit", path="/kit/items/mast/mass"), "/kit#item-mast"),
    ],
)
def test_a_place_has_its_address(place: Place, link: str) -> None:
    assert link_to(place) == link


def test_every_place_has_its_words() -> None:
    pages = Place.model_fields["page"].annotation
    for page in pages.__args__:  # type: ignore[union-attr]
        assert f"ready.open_{page}" in catalogue()


def test_a_plan_that_cannot_be_judged_still_opens_the_page(mixer: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(show: object) -> None:
        raise InputError("the plan is of version 9; open it with a newer Rollsound")

    monkeypatch.setattr("rollsound.web.pages.ready.ready", refuse)
    page = mixer.get("/ready")
    assert page.status_code == 200
    assert "Nothing can be proven now." in page.text
    assert "The plan is of version 9; open it with a newer Rollsound." in page.text


def test_a_damaged_backup_holds_nothing(tmp_path: Path) -> None:
    with _show(tmp_path) as show:
        show.save_text(show.text().replace("Ferry", "Ferry North"), show.revision, INES)
        backup = make_backup(show.store.path)
        assert _backup(show, datetime.now(UTC)).numbers["backup_revision"] == 2.0
        raw = bytearray(backup.path.read_bytes())
        raw[: len(raw) // 2] = bytes(len(raw) // 2)
        backup.path.write_bytes(bytes(raw))
        assert "backup_revision" not in _backup(show, datetime.now(UTC)).numbers


def test_room_on_a_recorders_drive_is_nobodys_to_free(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Path] = []

    def kept(places: Iterable[tuple[str, Path]]) -> list[Drive]:
        asked.extend(path for _, path in places)
        return []

    monkeypatch.setattr("rollsound.actions.ready._drives", kept)
    recorder, post = tmp_path / "recorder", tmp_path / "post"
    recorder.mkdir()
    _take(recorder / "T1.wav")
    with _show(tmp_path, f"media: [{{id: m4, day: day-4, recorder: '{recorder}', turnover: '{post}'}}]\n") as show:
        ready(show)
        assert post in asked
        assert recorder not in asked
