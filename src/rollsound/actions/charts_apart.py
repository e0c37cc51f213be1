"""Draws charts in a process of its own: the drawing engine holds its whole program still while it works, and takes
seconds to begin. The process is kept for a minute, for the next chart.

A line of JSON in is one chart, a line of JSON out its picture or the sentence that says why there is none.
"""

from __future__ import annotations

import base64
import json
import os
import subprocess
import sys
import threading
from typing import Any

from rollsound.errors import RollsoundError
from rollsound.report.charts import Chart, Face, Format, ThemeName, draw

IDLE_SECONDS = 60.0
_COMMAND = (sys.executable, "-P", "-m", "rollsound.actions.charts_apart")


class Draughtsman:
    """The one who draws; started when something is to be drawn, ended when nothing was for a while."""

    def __init__(self, idle_seconds: float = IDLE_SECONDS) -> None:
        self._idle_seconds = idle_seconds
        self._turn = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._timer: threading.Timer | None = None

    def draw(self, chart: Chart, format: Format, theme: ThemeName, faces: tuple[Face, ...] = ()) -> bytes:
        """A chart as a picture; raises as ``rollsound.report.charts.draw``."""
        fonts = [[face.weight, base64.b64encode(face.woff2).decode()] for face in faces]
        order = {"spec": chart.spec, "alt": chart.alt, "format": format, "theme": theme, "faces": fonts}
        with self._turn:
            if self._timer is not None:
                self._timer.cancel()
            answer = self._ask(json.dumps(order))
            self._timer = threading.Timer(self._idle_seconds, self.close)
            self._timer.daemon = True
            self._timer.start()
        if "picture" in answer:
            return base64.b64decode(answer["picture"])
        raise RollsoundError(answer["sentence"])

    def close(self) -> None:
        """End the process, if there is one."""
        with self._turn:
            self._end()

    def _ask(self, order: str) -> dict[str, Any]:
        for _ in range(2):  # one that was ended from outside in the meantime is started anew
            process = self._process if self._process is not None and self._process.poll() is None else self._start()
            assert process.stdin is not None
            assert process.stdout is not None
            try:
                process.stdin.write(order + "\n")
                process.stdin.flush()
                line = process.stdout.readline()
            except (OSError, ValueError):
                line = ""
            if line:
                answer: dict[str, Any] = json.loads(line)
                return answer
            self._end()
        raise RollsoundError("a chart could not be drawn: its process ended; load the page again")

    def _start(self) -> subprocess.Popen[str]:
        self._process = subprocess.Popen(
            _COMMAND,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            start_new_session=os.name != "nt",
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        return self._process

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()
        process.kill()  # it holds nothing that could be lost
        process.wait()


DRAUGHTSMAN = Draughtsman()


def main() -> None:
    """Draw what is asked for, line by line, until nobody asks any more."""
    for line in sys.stdin:
        order = json.loads(line)
        faces = [Face(weight, base64.b64decode(data)) for weight, data in order["faces"]]
        try:
            picture = draw(Chart(order["spec"], order["alt"]), order["format"], order["theme"], faces)
            answer = {"picture": base64.b64encode(picture).decode()}
        except RollsoundError as error:
            answer = {"sentence": error.sentence}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
