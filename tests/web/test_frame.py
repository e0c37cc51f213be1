"""The frame of every page."""

from __future__ import annotations

from typing import Any


def test_the_mixer_sees_the_settings(mixer: Any) -> None:
    answer = mixer.get("/settings")
    assert answer.status_code == 200
    assert "Northbound Ferry" in answer.text
    assert 'aria-current="page"' in answer.text


def test_a_crew_member_sees_the_settings(crew: Any) -> None:
    assert crew.get("/settings").status_code == 200


def test_home_leads_to_the_first_page(mixer: Any) -> None:
    assert mixer.get("/").status_code == 303


def test_every_part_of_the_shell_is_there(mixer: Any) -> None:
    import re

    page = mixer.get("/settings").text
    for url in set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page)):
        answer = mixer.get(url)
        assert answer.status_code == 200, url
        assert "immutable" in answer.headers["cache-control"]


def test_a_stranger_is_sent_to_the_door(stranger: Any) -> None:
    answer = stranger.get("/settings")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/join"
    assert stranger.get("/join").status_code == 200
