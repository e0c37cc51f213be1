"""The Turnover page and its JSON interface: the answer, who may build, papers, pictures, chart."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rollsound.actions.turnover_papers import make_pictures, papers_in, picture_of_page
from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author, JobRow
from rollsound.report import typeset
from rollsound.report.pictures import page_pictures
from rollsound.timecode import Rate
from rollsound.turnover.model import DayMaterial
from rollsound.turnover.sound_report import page_data
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter
from rollsound.web.desk import Desk

INES = Author("Ines", "ines", "this machine")
PNG = b"\x89PNG\r\n\x1a\n"


class Runner:
    """Takes orders and does nothing: what is built is tested with the actions."""

    def __init__(self) -> None:
        self.rows: list[JobRow] = []

    def start(self, kind: str, arguments: dict[str, Any], author: Author) -> str:
        now = datetime.now(UTC)
        row = JobRow(
            id=f"job{len(self.rows)}",
            kind=kind,
            arguments=arguments,
            author=author,
            state="running",
            made=now,
            changed=now,
        )
        self.rows.insert(0, row)
        return row.id

    def jobs(self) -> list[JobRow]:
        return self.rows

    def job(self, job_id: str) -> JobRow | None:
        return next((row for row in self.rows if row.id == job_id), None)


@pytest.fixture
def runner(desk: Desk) -> Iterator[Runner]:
    desk.runner = Runner()
    yield desk.runner
    desk.runner = None


@pytest.fixture
def post(desk: Desk, tmp_path: Path) -> Path:
    """A day with one take in the plan; returns where its turnover goes."""
    recorder = tmp_path / "day 4" / "recorder"
    recorder.mkdir(parents=True)
    ixml = IXml.build(scene="31", take="1", sound_roll="R4", rate=Rate.parse("25"), tracks=["Boom 1"])
    with WaveWriter(
        recorder / "T1.wav",
        AudioFormat(48_000, 1, SampleFormat.PCM24),
        bext=Bext(time_reference=43_200 * 48_000),
        ixml=ixml,
    ) as writer:
        writer.write(np.zeros((4_800, 1), np.float32))
    media = {"id": "day-4", "day": "day-4", "recorder": str(recorder), "turnover": str(tmp_path / "post")}
    desk.show.edit([Change("/media", ABSENT, [media])], INES)
    return tmp_path / "post"


@pytest.fixture
def report(post: Path) -> Path:
    """A sound report where the turnover's would be."""
    (post / "Day 4").mkdir(parents=True)
    path = post / "Day 4" / "sound report.pdf"
    path.write_bytes(
        typeset("sound_report", page_data(DayMaterial(show="Northbound Ferry", day="Day 4", takes=()), {}))
    )
    return path


def test_without_media_the_page_teaches(mixer) -> None:
    page = mixer.get("/turnover").text
    assert "No recordings are in the plan yet." in page
    assert 'href="/media"' in page


def test_the_answer_comes_first(mixer, post: Path) -> None:
    page = mixer.get("/turnover").text
    told = re.search(r"<h1[^>]*>([^<]*)</h1>", page)
    assert told is not None
    assert told[1].startswith("Day 4 can go: one take; ")
    state = mixer.get("/api/v1/turnover/day-4").json()
    assert state["sentence"] == told[1]
    assert state["can_go"] is True


def test_what_keeps_a_day_is_said_first(mixer, desk: Desk, post: Path) -> None:
    desk.show.edit([Change("/media/day-4/takes_sheet", ABSENT, "no such sheet.csv")], INES)
    page = mixer.get("/turnover").text
    assert "Day 4 cannot go yet: one thing to settle first." in page
    assert page.index("The takes sheet no such sheet.csv is not there.") < page.index('id="checklist"')


def test_no_path_of_the_machine_leaves_by_the_answer(guest, post: Path) -> None:
    assert str(post.parent) not in guest.get("/api/v1/turnover/day-4").text
    assert str(post.parent) not in guest.get("/turnover").text


def test_building_needs_no_path(mixer, runner: Runner, post: Path) -> None:
    answer = mixer.post("/api/v1/turnover/day-4", json={"mixer": "Aiko", "also_md5": True})
    assert answer.status_code == 200, answer.text
    (row,) = runner.rows
    assert row.kind == "turnover"
    assert (row.arguments["to"], row.arguments["mixer"], row.arguments["also_md5"]) == (str(post), "Aiko", True)
    assert row.author.person == "Ines" or row.author.device


def test_only_the_machine_names_folders(mixer, visitors: Callable[..., Any], runner: Runner, post: Path) -> None:
    other = visitors("mixer", "Tomas")
    refused = other.post("/api/v1/turnover/day-4", json={"to": str(post)})
    assert refused.status_code == 403
    assert other.post("/api/v1/verify", json={"path": str(post)}).status_code == 403
    assert runner.rows == []
    assert other.post("/api/v1/turnover/day-4", json={}).status_code == 200
    assert mixer.post("/api/v1/turnover/day-4", json={"to": str(post / "x")}).status_code == 200
    assert mixer.post("/api/v1/verify", json={"path": str(post)}).status_code == 200
    assert [row.kind for row in runner.rows] == ["verify", "turnover", "turnover"]


@pytest.mark.parametrize("who", ["crew", "guest"])
def test_crew_and_guests_build_and_verify_nothing(
    who: str, request: pytest.FixtureRequest, runner: Runner, post: Path
) -> None:
    visitor = request.getfixturevalue(who)
    assert visitor.post("/api/v1/turnover/day-4", json={}).status_code == 403
    assert visitor.post("/api/v1/verify", json={"path": "/"}).status_code == 403
    page = visitor.get("/turnover").text
    assert 'id="turnover-build"' not in page
    assert 'id="turnover-verify"' not in page
    assert runner.rows == []


def test_what_cannot_be_built_is_said_in_a_sentence(mixer, runner: Runner, post: Path) -> None:
    answer = mixer.post("/api/v1/turnover/day-4", json={"to": "somewhere"})
    assert answer.status_code == 400
    assert "whole path" in answer.json()["detail"]
    assert mixer.post("/api/v1/turnover/day-9", json={}).status_code == 400
    assert mixer.get("/api/v1/turnover/day-9").status_code == 404
    assert mixer.post("/api/v1/turnover/day-4", json={"to": "~nobody-of-that-name/post"}).status_code == 400
    assert mixer.post("/api/v1/turnover/day-4", json={"to": "/Vol\0ume"}).status_code == 422
    assert mixer.post("/api/v1/verify", json={"path": "/Vol\0ume"}).status_code == 422
    assert runner.rows == []
    mixer.post("/api/v1/verify", json={"path": "~nobody-of-that-name/post"})
    assert runner.rows[0].arguments["path"] == "~nobody-of-that-name/post"  # no home of such a name: as it was written


def test_how_far_a_job_is_and_what_came_of_it(mixer, guest, runner: Runner, post: Path) -> None:
    mixer.post("/api/v1/turnover/day-4", json={})
    runner.rows[0] = replace(runner.rows[0], progress={"done": 3, "total": 4, "label": "T1.wav"})
    going = mixer.get("/pages/turnover/part/jobs").text
    assert "75 %" in going
    assert "<b>Turnover of Day 4</b>" in going
    result = {
        "sentence": "4 files, 2 MB, proven.",
        "weight": "fine",
        "findings": [],
        "detail": {"day_folder": str(post / "Day 4")},
    }
    runner.rows[0] = replace(runner.rows[0], state="done", result=result)
    assert f"It lies in {post / 'Day 4'}" in mixer.get("/pages/turnover/part/jobs").text
    told = guest.get("/pages/turnover/part/jobs").text
    assert "4 files, 2 MB, proven." in told
    assert str(post) not in told


def test_the_papers_are_shown_page_by_page(mixer, desk: Desk, report: Path) -> None:
    (paper,) = mixer.get("/api/v1/turnover/day-4/papers").json()
    assert (paper["name"], paper["pages"]) == ("sound report.pdf", None)
    assert "The pages are being drawn." in mixer.get("/turnover").text
    part = mixer.get("/pages/turnover/part/papers?day=day-4&make=true").text
    pages = mixer.get("/api/v1/turnover/day-4/papers").json()[0]["pages"]
    assert pages >= 1
    assert part.count("<img ") == pages
    picture = mixer.get(f"/api/v1/turnover/day-4/papers/{paper['id']}/pages/1")
    assert picture.headers["content-type"] == "image/png"
    assert picture.content.startswith(PNG)
    whole = mixer.get(f"/api/v1/turnover/day-4/papers/{paper['id']}")
    assert whole.content == report.read_bytes()
    assert whole.headers["content-disposition"] == 'attachment; filename="sound report.pdf"'
    assert mixer.get(f"/api/v1/turnover/day-4/papers/{paper['id']}/pages/{pages + 1}").status_code == 404


@pytest.mark.parametrize("name", ["0" * 24, "..%2f..%2fshow.sqlite", "a" * 23, "G" * 24])
def test_papers_are_named_by_their_content_only(mixer, report: Path, name: str) -> None:
    for address in (f"/api/v1/turnover/day-4/papers/{name}", f"/api/v1/turnover/day-4/papers/{name}/pages/1"):
        assert mixer.get(address).status_code in (404, 422)


def test_papers_of_a_turnover_built_elsewhere_are_found_by_its_job(
    mixer, desk: Desk, runner: Runner, report: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other" / "Day four"
    other.mkdir(parents=True)
    (other / "sound report (2).pdf").write_bytes(report.read_bytes() + b"\n%")
    mixer.post("/api/v1/turnover/day-4", json={"to": str(other.parent), "day_name": "Day four"})
    runner.rows[0] = replace(runner.rows[0], state="done", result={"detail": {"day_folder": str(other)}})
    assert [each["name"] for each in mixer.get("/api/v1/turnover/day-4/papers").json()] == ["sound report (2).pdf"]


def test_pictures_are_made_once(desk: Desk, report: Path) -> None:
    (paper,) = papers_in(desk.show.folder, report.parent)
    pages = make_pictures(desk.show.folder, paper)
    report.unlink()
    assert make_pictures(desk.show.folder, paper) == pages
    assert picture_of_page(desk.show.folder, paper.id, 1) is not None
    assert picture_of_page(desk.show.folder, "../../../etc", 1) is None


@pytest.mark.parametrize("data", [b"", b"no PDF", b"%PDF-1.7\n%%EOF"])
def test_what_is_no_pdf_is_refused_in_a_sentence(data: bytes) -> None:
    with pytest.raises(InputError, match="no PDF that can be shown"):
        page_pictures(data)


def test_the_chart_is_kept_by_its_content(mixer, desk: Desk, post: Path) -> None:
    first = mixer.get("/api/v1/turnover/day-4/chart?theme=night")
    assert first.headers["content-type"] == "image/svg+xml"
    assert "data:font/woff2" in first.text
    assert first.headers["cache-control"] == "no-cache"
    key = first.headers["etag"].strip('"')
    (kept,) = (desk.show.folder / "media" / "charts").iterdir()
    assert kept.name == f"{key}.svg"
    assert mixer.get(f"/api/v1/turnover/day-4/chart?theme=night&v={key}").headers["cache-control"].endswith("immutable")
    again = mixer.get("/api/v1/turnover/day-4/chart?theme=night", headers={"if-none-match": f'"{key}"'})
    assert again.status_code == 304
    assert mixer.get("/api/v1/turnover/day-9/chart").status_code == 404
    assert mixer.get("/api/v1/turnover/day-4/chart?theme=dusk").status_code == 422


@pytest.mark.parametrize(("form", "begins"), [("png", PNG), ("pdf", b"%PDF-")])
def test_the_chart_goes_onto_paper_too(mixer, post: Path, form: str, begins: bytes) -> None:
    answer = mixer.get(f"/api/v1/turnover/day-4/chart?format={form}&theme=print")
    assert answer.content.startswith(begins)
