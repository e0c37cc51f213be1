"""A show with a few seconds of media, served by the command as people run it."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Any

import httpx
import numpy as np

from rollsound.actions.inspect import inspect
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.show.text import read_text, write_text
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

RATE_HZ = 48_000
NORTHBOUND = Path(__file__).parents[2] / "src" / "rollsound" / "demo" / "northbound.yaml"
STARTS_WITHIN_S = 30.0
PEOPLE_AND_DAYS = ("version", "show", "people", "sites", "schedule")
"""What tests of typing, saving and merging need of a plan: of the whole one each of them would take seconds longer."""
_TRACKS = ("Mix L", "Boom 1", "Runa", "Idris")


def new_show(folder: Path, *, media: bool = True, parts: tuple[str, ...] = ()) -> Path:
    """A show with the demo's plan, or parts of it; with media: two takes of six seconds, one muted and clipped."""
    show = folder / "northbound"
    read = read_text(NORTHBOUND.read_text("utf-8"))
    document = read.document
    document.pop("media", None)
    for part in set(document) - set(parts or document):
        del document[part]
    if media:
        (folder / "day" / "recorder").mkdir(parents=True)
        for number in (1, 2):
            _write_take(folder / "day" / "recorder" / f"NF04_S214_T{number}.wav", number)
        day = document["schedule"]["days"][0]["id"]
        document["media"] = [{"id": "day-4", "day": day, "recorder": str(folder / "day" / "recorder")}]
    Show.new(show, write_text(document, read.comments), Author("Mixer", "mixer", "this machine")).close()
    if media:
        inspect([folder / "day" / "recorder"], index=show / "media")
    return show


def _write_take(path: Path, number: int) -> None:
    rng = np.random.default_rng(number)
    frames = 6 * RATE_HZ
    steady = np.cumsum(rng.standard_normal((frames, len(_TRACKS))), axis=0)  # no edges: nothing else is to be found
    sound = (0.05 * (steady - np.roll(steady, 40, axis=0)) / 40).astype(np.float32)
    sound[:40] = 0.0001 * rng.standard_normal((40, len(_TRACKS)))
    if number == 2:
        sound[100_000:112_000, 2] = 0.0
        sound[150_000:153_000, 1] = np.clip(sound[150_000:153_000, 1] * 60, -1.0, 1.0)
    start = (12 * 3600 + 60 * number) * RATE_HZ
    ixml = IXml.build(scene="31", take=str(number), sound_roll="R4", rate=Rate.parse("25"), tracks=list(_TRACKS))
    form = AudioFormat(RATE_HZ, len(_TRACKS), SampleFormat.PCM24)
    with WaveWriter(path, form, bext=Bext(time_reference=start), ixml=ixml) as writer:
        writer.write(sound)


class Served:
    """A server process for one show, which can be killed and started again at the same port."""

    def __init__(self, show: Path, *, port: int | None = None, lan: bool = False) -> None:
        self.show = show
        self._more = ["--lan"] if lan else []
        self.port = port or _free_port()
        self.home = f"http://127.0.0.1:{self.port}"
        self._process: subprocess.Popen[str] | None = None
        self._enter = ""
        self.entered: Any = None
        """What a browser has that entered as the mixer: the address for that works once."""
        self._errors = show.parent / "serve-errors.txt"

    def __enter__(self) -> Served:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.stop()

    def start(self) -> None:
        """Start it, and wait until it says where it is."""
        command = [
            sys.executable,
            "-m",
            "rollsound",
            "serve",
            str(self.show),
            "--port",
            str(self.port),
            "--no-open",
            *self._more,
        ]
        environment = {**os.environ, "PYTHONUNBUFFERED": "1", "COLUMNS": "200"}
        with self._errors.open("a", encoding="utf-8") as errors:
            self._process = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=errors, text=True, env=environment
            )
        assert self._process.stdout is not None
        until = time.monotonic() + STARTS_WITHIN_S
        for line in self._process.stdout:
            found = re.search(r"http://\S+/enter\?key=\S+", line)
            if found:
                self._enter = found[0]
                return
            if time.monotonic() > until:
                break
        raise AssertionError(f"the server did not start: {self._errors.read_text('utf-8')[-2000:]}")

    def enter_url(self) -> str:
        """The address that makes a browser the mixer's; it works once for each start."""
        return self._enter

    def kill(self) -> None:
        """End it as a pulled plug would."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(10)

    def stop(self) -> None:
        """End it as Ctrl-C would."""
        if self._process is None or self._process.poll() is not None:
            return
        self._process.send_signal(signal.SIGINT)
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)

    def history(self, cookies: dict[str, str]) -> list[dict[str, Any]]:
        """The journal, newest first, asked beside the browser."""
        answer = httpx.get(f"{self.home}/api/v1/history", cookies=cookies, timeout=10)
        return list(answer.json()["entries"])


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])
