"""A served show and its visitors, for every test of the pages and the JSON interface."""

from __future__ import annotations

import re
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.web.app import create_app
from rollsound.web.desk import Desk
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

sys.path.insert(0, str(Path(__file__).parent))

from callers import LAN, LAN_HOME, PORT, Caller, caller, joined

PLAN = """\
# The plan of an invented drama.
version: 1
show:
  title: Northbound Ferry
  production: Skarvik Film
people:
  - id: ines
    name: Ines
    job: production sound mixer
    role: mixer
  - id: tomas
    name: Tomas
    job: first boom  # also rigs
    role: crew
sites:
  - id: car-deck
    name: Car deck
schedule:
  days:
    - id: day-4
      number: 4
      date: 2027-03-09
      site: car-deck
      scenes: ["31", "32", "36"]
      call: "07:30"
"""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A new show on the network, with nobody in."""
    with Show.new(tmp_path / "ferry", PLAN, Author("Ines", "ines", "this machine")) as show:
        yield Desk(show=show, doors=Doors(show.store, port=PORT, lan=True), live=Live())


@pytest.fixture
def mixer(desk: Desk) -> Caller:
    made = caller(desk)
    assert made.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
    return made


@pytest.fixture
def crew(desk: Desk) -> Caller:
    return joined(desk, "crew", "Tomas")


@pytest.fixture
def guest(desk: Desk) -> Caller:
    return joined(desk, "guest", "Odile")


@pytest.fixture
def stranger(desk: Desk) -> Caller:
    return caller(desk, LAN, LAN_HOME)


@pytest.fixture
def visitors(desk: Desk) -> Callable[..., Caller]:
    """Further browsers: ``visitors("crew", "Tomas")`` joins one, ``visitors(client=…, home=…)`` is one that did not."""

    def make(role: str = "", name: str = "", **more: Any) -> Caller:
        return joined(desk, role, name) if role else caller(desk, **more)

    return make


class Served:
    """A real server on this machine, for what only real connections can show."""

    def __init__(self, desk: Desk) -> None:
        taken = socket.create_server(("127.0.0.1", 0))
        self.port = int(taken.getsockname()[1])
        desk.doors.port = self.port
        desk.doors.cookie_name = f"rollsound-{self.port}"
        self.home = f"http://127.0.0.1:{self.port}"
        self.desk = desk
        config = uvicorn.Config(
            create_app(desk), log_config=None, access_log=False, lifespan="on", timeout_graceful_shutdown=1
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [taken]}, daemon=True)
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)

    def stop(self) -> None:
        self.desk.live.close()
        self.server.should_exit = True
        self.thread.join(5)

    def client(self) -> httpx.Client:
        """The mixer's browser, whose changes carry what a page's changes carry."""
        client = httpx.Client(base_url=self.home, timeout=20)
        assert client.get(f"/enter?key={self.desk.doors.keys.make()}").status_code == 303
        token = re.search(r'name="rollsound-token" content="([^"]+)"', client.get("/settings").text)
        assert token is not None
        client.headers.update({"origin": self.home, "x-rollsound-token": token[1]})
        return client


@pytest.fixture
def served(desk: Desk) -> Iterator[Served]:
    made = Served(desk)
    yield made
    made.stop()
