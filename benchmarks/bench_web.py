"""The server: how soon it answers, how long a page takes, what a first view weighs, how fast news travel.

python -m benchmarks.bench_web
"""

from __future__ import annotations

import contextlib
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx

from benchmarks.row import Row
from rollsound.log.model import Author
from rollsound.show.folder import Show

CLIENTS = 20
EDITS = 12
VIEWS = 40

PLAN = """\
version: 1
show: {title: Northbound Ferry}
people:
  - {id: ines, name: Ines, role: mixer}
"""


class Served:
    """The real command in a process of its own, and the mixer's browser."""

    def __init__(self, folder: Path) -> None:
        began = time.perf_counter()
        command = [sys.executable, "-m", "rollsound", "serve", str(folder), "--no-open", "--lan"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        enter = next(line.strip() for line in self.process.stdout if "/enter?key=" in line)
        self.home = enter.partition("/enter")[0]
        self.client = httpx.Client(base_url=self.home, timeout=30, trust_env=False)
        assert self.client.get("/join").status_code in (200, 401)
        self.answers_after_s = time.perf_counter() - began
        self.answers_after_cpu_s = self._cpu_s()
        assert self.client.get(enter).status_code == 303
        page = self.client.get("/settings").text
        token = re.search(r'name="rollsound-token" content="([^"]+)"', page)
        assert token is not None
        self.client.headers.update({"origin": self.home, "x-rollsound-token": token[1]})

    def joined(self, count: int) -> list[httpx.Client]:
        """So many further devices, each with a cookie of its own."""
        made = []
        for first in range(0, count, 20):
            uses = min(20, count - first)
            code = self.client.post("/api/v1/join-codes", json={"role": "crew", "uses": uses}).json()["code"]
            for number in range(uses):
                device = httpx.Client(base_url=self.home, timeout=30, trust_env=False, headers={"origin": self.home})
                answer = device.post("/join", data={"code": code, "name": f"Device {first + number}"})
                assert answer.status_code == 303, answer.text
                made.append(device)
        return made

    def memory_mb(self) -> float:
        """What the server holds in memory, in MB."""
        status = Path(f"/proc/{self.process.pid}/status")
        if not status.exists():
            return float("nan")
        return int(re.search(r"VmRSS:\s+(\d+)", status.read_text())[1]) / 1000  # type: ignore[index]

    def _cpu_s(self) -> float:
        """What the server has used of a processor so far (user and system), in seconds."""
        status = Path(f"/proc/{self.process.pid}/stat")
        if not status.exists():
            return float("nan")
        user, system = status.read_text().rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

    def close(self) -> None:
        """End the process, as Ctrl-C would."""
        self.client.close()
        self.process.terminate()
        self.process.wait(20)


@contextlib.contextmanager
def served() -> Iterator[Served]:
    """A new show, served."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "ferry"
        Show.new(folder, PLAN, Author("Ines", "ines", "this machine")).close()
        made = Served(folder)
        try:
            yield made
        finally:
            made.close()


def pages_of(client: httpx.Client) -> list[str]:
    """The addresses of all pages, as the way around lists them."""
    nav = re.search(r'<nav id="pages".*?</nav>', client.get("/settings").text, re.S)
    assert nav is not None
    return re.findall(r'<a href="(/[a-z]+)"', nav[0])


def page_ms(client: httpx.Client, path: str) -> float:
    """Median time of one page, in milliseconds."""
    took = []
    for _ in range(VIEWS):
        began = time.perf_counter()
        assert client.get(path).status_code == 200
        took.append((time.perf_counter() - began) * 1000)
    return statistics.median(took)


def first_view_kb(client: httpx.Client, path: str) -> float:
    """What a browser that was never here transfers for one page: itself, style, scripts, fonts of plain letters; kB."""
    seen: dict[str, int] = {}

    def fetch(url: str) -> str:
        if url in seen:
            return ""
        with client.stream("GET", url, headers={"accept-encoding": "gzip"}) as answer:
            body = answer.read()
            seen[url] = answer.num_bytes_downloaded
        return body.decode("utf-8", "replace")

    page = fetch(path)
    wanted = re.findall(r'(?:href|src)="(/static/[^"]+)"', page)
    while wanted:
        url = wanted.pop()
        text = fetch(url)
        base = url.rpartition("/")[0]
        if url.endswith(".js"):
            wanted += [f"{base}/{name}" for name in re.findall(r'(?:from|import) "\./([\w.-]+)"', text)]
        if url.endswith(".css"):
            fonts = re.findall(r"\.\./(fonts/[\w-]+-latin-\d+\.woff2)", text)
            wanted += [f"{base.rpartition(chr(47))[0]}/{name}" for name in fonts]
    return sum(seen.values()) / 1000


def deliveries_ms(server: Served, clients: int, edits: int, pause_s: float = 1.0) -> list[float]:
    """From the moment an edit is sent to the moment each browser hears of it, in milliseconds."""
    sent: dict[int, float] = {}
    heard: list[tuple[int, float]] = []
    ready = threading.Barrier(clients + 1)
    ended = threading.Event()

    def listen(client: httpx.Client) -> None:
        with client.stream("GET", "/events") as stream:
            assert stream.status_code == 200
            lines = stream.iter_lines()
            next(lines)
            ready.wait(30)
            for line in lines:
                found = re.search(r'"sentence":"[^"]*edit (\d+)', line)
                if found:
                    heard.append((int(found[1]), time.perf_counter()))
                if ended.is_set():
                    return

    threads = [threading.Thread(target=listen, args=(each,), daemon=True) for each in server.joined(clients)]
    for thread in threads:
        thread.start()
    ready.wait(30)
    kept = server.client.get("/api/v1/plan").json()["plan"]["show"].get("note")
    before: dict[str, Any] = {} if kept is None else {"before": kept}
    for number in range(edits):
        change = {"path": "/show/note", **before, "after": f"note {number}"}
        before = {"before": f"note {number}"}
        sent[number] = time.perf_counter()
        answer = server.client.post("/api/v1/plan/edits", json={"changes": [change], "sentence": f"edit {number}"})
        assert answer.status_code == 200, answer.text
        time.sleep(pause_s)
    ended.set()
    assert len(heard) >= clients * edits, f"{clients * edits - len(heard)} news were not heard"
    return [(at - sent[number]) * 1000 for number, at in heard]


def run() -> list[Row]:
    """Measure."""
    with served() as server:
        slowest = max((page_ms(server.client, path), path) for path in pages_of(server.client))
        heaviest = max((first_view_kb(server.client, path), path) for path in pages_of(server.client))
        told = deliveries_ms(server, CLIENTS, EDITS)
        return [
            Row("serve answers after the command", server.answers_after_s, "s", goal="<= 2"),
            Row("processor time until then", server.answers_after_cpu_s, "s", goal="<= 1.6"),
            Row(f"slowest page ({slowest[1]}), median", slowest[0], "ms", goal="<= 50"),
            Row(f"heaviest first view ({heaviest[1]})", heaviest[0], "kB", goal="<= 300"),
            Row(f"news to {CLIENTS} browsers, median", statistics.median(told), "ms", goal="<= 60"),
        ]


if __name__ == "__main__":
    for row in run():
        print(row)
