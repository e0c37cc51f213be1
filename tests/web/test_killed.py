"""The server is killed at random moments while two devices write and send again what was not answered.

What was acknowledged is in the journal, once; what was sent again counts once; the database opens clean every time.
"""

from __future__ import annotations

import random
import re
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import pytest

from rollsound.log.model import DATABASE, Author
from rollsound.show.folder import Show

PLAN = """\
version: 1
show: {title: Northbound Ferry}
people:
  - {id: ines, name: Ines, role: mixer}
"""
WRITERS = ("boom", "floor")
LONGEST_LIFE_S = 0.6
KILLED_WHILE_STARTING = 0.1
ANSWERS_WITHIN_S = 60.0
AGAIN = (425, 429, 503)


class Process:
    """The command, at one port through all its lives."""

    def __init__(self, folder: Path, port: int) -> None:
        command = [sys.executable, "-m", "rollsound", "serve", str(folder), "--no-open", "--port", str(port)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    def enter_url(self) -> str:
        """Where a browser enters, once it answers."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if "/enter?key=" in line:
                return line.strip()
        raise AssertionError(f"it did not start: {self.process.communicate()[1][-2000:]}")

    def kill(self) -> None:
        """As a pulled plug would."""
        self.process.kill()
        self.process.communicate()


@dataclass
class Writer:
    """A device that writes one field again and again, and sends again until it is told that it was done."""

    name: str
    client: httpx.Client
    ended: threading.Event
    acknowledged: list[str] = field(default_factory=list)
    sent_again: int = 0
    refused: list[str] = field(default_factory=list)

    def run(self) -> None:
        """Write until told to end; the last write is acknowledged too."""
        while not self.ended.is_set() and not self.refused:
            told = f"{self.name} {len(self.acknowledged)}"
            before = {"before": self.acknowledged[-1]} if self.acknowledged else {}
            change = {"path": f"/show/{self.name}", "after": told, **before}
            answer = self._until_answered({"changes": [change], "sentence": told}, f"key of {told}")
            if answer.status_code != 200:
                self.refused.append(f"{told}: {answer.status_code} {answer.text[:300]}")
                return
            self.acknowledged.append(told)

    def _until_answered(self, body: object, key: str) -> httpx.Response:
        for tries in range(100_000):
            self.sent_again += tries > 0
            try:
                answer = self.client.post("/api/v1/plan/edits", json=body, headers={"idempotency-key": key})
            except httpx.TransportError:
                time.sleep(0.05)
                continue
            if answer.status_code not in AGAIN:
                return answer
            time.sleep(0.05)
        raise AssertionError("never answered")


def _until_all_wrote(writers: list[Writer]) -> None:
    """Until each has had something acknowledged since now: on a busy machine a server's life begins late."""
    before = [len(writer.acknowledged) for writer in writers]
    until = time.monotonic() + ANSWERS_WITHIN_S
    while any(len(writer.acknowledged) <= had for writer, had in zip(writers, before, strict=True)):
        if time.monotonic() > until or any(writer.refused for writer in writers):
            return  # the check that follows tells
        time.sleep(0.01)


def kill_again_and_again(folder: Path, kills: int, seed: int) -> list[Writer]:
    """Kill the server so often, and let the writers come to an end with the last one."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = int(taken.getsockname()[1])
    home = f"http://127.0.0.1:{port}"
    dice = random.Random(seed)
    process = Process(folder, port)
    first = httpx.Client(base_url=home, timeout=20, trust_env=False)
    assert first.get(process.enter_url()).status_code == 303
    token = re.search(r'name="rollsound-token" content="([^"]+)"', first.get("/settings").text)
    assert token is not None
    carried = {"origin": home, "x-rollsound-token": token[1]}
    ended = threading.Event()
    writers = [
        Writer(
            name, httpx.Client(base_url=home, timeout=5, trust_env=False, cookies=first.cookies, headers=carried), ended
        )
        for name in WRITERS
    ]
    threads = [threading.Thread(target=writer.run, daemon=True) for writer in writers]
    for thread in threads:
        thread.start()
    try:
        for _ in range(kills):
            _until_all_wrote(writers)
            time.sleep(dice.uniform(0, LONGEST_LIFE_S))
            process.kill()
            process = Process(folder, port)
            if dice.random() < KILLED_WHILE_STARTING:
                time.sleep(dice.uniform(0, 2))
                process.kill()
                process = Process(folder, port)
            process.enter_url()
        _until_all_wrote(writers)
        ended.set()
        for thread in threads:
            thread.join(60)
    finally:
        ended.set()
        process.kill()
    assert not any(thread.is_alive() for thread in threads)
    return writers


def check(folder: Path, writers: list[Writer], kills: int) -> None:
    """Everything acknowledged, once, in order; a clean database; and writing did go on between the kills."""
    assert [writer.refused for writer in writers] == [[], []]
    with closing(sqlite3.connect(folder / DATABASE)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with Show.open(folder) as show:
        entries = [entry for entry in show.store.journal(limit=1_000_000) if entry.kind == "plan"]
        head = show.document()
    for writer in writers:
        kept = [entry.sentence for entry in reversed(entries) if entry.sentence.startswith(f"{writer.name} ")]
        assert kept == writer.acknowledged
        assert head["show"][writer.name] == writer.acknowledged[-1]
        assert len(writer.acknowledged) > kills
        assert writer.sent_again >= kills / 2


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A new show."""
    made = tmp_path / "ferry"
    Show.new(made, PLAN, Author("Ines", "ines", "this machine")).close()
    return made


def test_nothing_acknowledged_is_lost_when_the_server_is_killed(folder: Path) -> None:
    check(folder, kill_again_and_again(folder, 4, 1), 4)


@pytest.mark.soak
def test_nothing_acknowledged_is_lost_in_two_hundred_kills(folder: Path) -> None:
    check(folder, kill_again_and_again(folder, 200, 2), 200)
