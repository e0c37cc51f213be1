"""A served show and its visitors, for every test of the pages and the JSON interface."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest

from rollsound.log.model import Author
from rollsound.log.store import Store
from rollsound.web.app import create_app
from rollsound.web.desk import Desk
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it would rather have a client of another name
    from starlette.testclient import TestClient

PORT = 8060
HOME = f"http://127.0.0.1:{PORT}"
LAN = ("192.168.7.20", 50000)


class StandIn:
    """A show in place of the real one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.store = Store.create(folder / "show.sqlite", {"show": {"title": "Northbound Ferry"}}, {}, Author("Ines"))

    def plan(self) -> Any:
        people = [SimpleNamespace(id="ines", name="Ines", job="mixer", role="mixer")]
        return SimpleNamespace(
            show=SimpleNamespace(title="Northbound Ferry"), people=people, sites=[], schedule=SimpleNamespace(days=[])
        )


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    show = StandIn(tmp_path)
    yield Desk(show=show, doors=Doors(show.store, port=PORT, lan=True), live=Live(), show_id="ab12")
    show.store.close()


class Caller(TestClient):
    """A browser: it keeps cookies, and its changes carry what a page's changes carry."""

    _page_token = ""

    def page_token(self) -> str:
        """The token of a page; empty for a stranger."""
        if not self._page_token:
            found = re.search(r'name="rollsound-token" content="([^"]+)"', self.get("/settings").text)
            self._page_token = found[1] if found else ""
        return self._page_token

    def request(self, method: str, url: Any, **more: Any) -> httpx.Response:  # type: ignore[override]
        """A request; a header given as None is left out."""
        if method not in ("GET", "HEAD"):
            headers = {"origin": HOME, "x-rollsound-token": self.page_token(), **dict(more.pop("headers", None) or {})}
            more["headers"] = {name: value for name, value in headers.items() if value is not None}
        return super().request(method, url, **more)


def caller(desk: Desk, client: tuple[str, int] = ("127.0.0.1", 50000)) -> Caller:
    return Caller(create_app(desk), base_url=HOME, client=client, follow_redirects=False, raise_server_exceptions=False)


@pytest.fixture
def mixer(desk: Desk) -> Caller:
    made = caller(desk)
    assert made.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
    return made


def joined(desk: Desk, role: str, name: str) -> Caller:
    made = caller(desk, LAN)
    code = desk.doors.codes.make(role).code
    assert made.post("/join", data={"code": code, "name": name}).status_code == 303
    return made


@pytest.fixture
def crew(desk: Desk) -> Caller:
    return joined(desk, "crew", "Tomas")


@pytest.fixture
def guest(desk: Desk) -> Caller:
    return joined(desk, "guest", "Odile")


@pytest.fixture
def stranger(desk: Desk) -> Caller:
    return caller(desk, LAN)
