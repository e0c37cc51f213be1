"""A process of its own for one long job, so that a heavy or a crashing job never holds up the pages.

``python -m rollsound.actions.worker`` reads one line of JSON from its input, ``{"kind": …, "arguments": {…}}``, and
writes lines of JSON: ``{"progress": {…}}`` while it works, and ``{"result": {…}}`` or ``{"error": {…}}`` at the end. A
line ``stop``, or the end of its input (whoever started it is gone), stops it at the next safe point; no signals, so
that it does the same on every system.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
import traceback
from dataclasses import asdict
from typing import Any, NoReturn, TextIO

from rollsound.actions.worker_kinds import job_of
from rollsound.errors import Halted, InputError, MistakesError, RollsoundError, StorageError
from rollsound.jsontext import read_json
from rollsound.progress import Event, Progress

TELL_EVERY_SECONDS = 0.1


class _Told:
    """Writes lines, one at a time, from several threads; news of progress no oftener than anybody can read it."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._lock = threading.Lock()
        self._next = 0.0
        self._job = ""

    def line(self, content: dict[str, Any]) -> None:
        """One line; whoever listened may be gone, which is told by the end of the input."""
        text = json.dumps(content, allow_nan=False)
        with self._lock:
            try:
                self._out.write(text + "\n")
                self._out.flush()
            except (OSError, ValueError):
                return

    def event(self, event: Event) -> None:
        """News of progress: the first and last of each part of the job, and between them now and then."""
        now = time.monotonic()
        with self._lock:
            wanted = now >= self._next or event.job != self._job or event.done >= event.total
            if not wanted:
                return
            self._next, self._job = now + TELL_EVERY_SECONDS, event.job
        self.line({"progress": asdict(event)})


def work(orders: TextIO, out: TextIO) -> int:
    """Do the one job that ``orders`` begins with. Returns the exit code that a command would have."""
    told = _Told(out)
    progress = Progress(told.event)
    first = orders.readline()

    def listen() -> None:
        for line in orders:
            if line.strip() == "stop":
                break
        progress.stop()

    threading.Thread(target=listen, name="orders", daemon=True).start()
    try:
        answer = _perform(first, progress)
    except RollsoundError as error:
        told.line({"error": _error(error)})
        return error.exit_code
    told.line({"result": answer})
    return 0


def _perform(line: str, progress: Progress) -> dict[str, Any]:
    spec = read_json(line, "the job's order").value
    if not isinstance(spec, dict) or not isinstance(spec.get("arguments"), dict):
        raise InputError("the job's order is not one of ours; start jobs from the page or the command line")
    job = job_of(str(spec.get("kind", "")), spec["arguments"])
    # Loaded here: signal code takes a second to load, and an order that makes no sense is answered at once.
    from rollsound.actions.worker_jobs import perform

    answer = perform(job, progress)
    # By way of text: levels of silence become null there, and stay minus infinity otherwise.
    told: dict[str, Any] = json.loads(answer.model_dump_json())
    return told


def _error(error: RollsoundError) -> dict[str, Any]:
    kind = "input"
    if isinstance(error, Halted):
        kind = "halted"
    elif isinstance(error, StorageError):
        kind = "storage"
    told: dict[str, Any] = {"kind": kind, "sentence": error.sentence}
    if isinstance(error, MistakesError):
        told["mistakes"] = [asdict(mistake) for mistake in error.mistakes]
    return told


def main() -> NoReturn:
    """Keep the line to the starter clean: whatever else prints goes to the error stream."""
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8", newline="\n")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    orders = os.fdopen(os.dup(sys.stdin.fileno()), "r", encoding="utf-8", errors="replace")
    try:
        code = work(orders, out)
    except Exception:
        traceback.print_exc()  # into the file that whoever started this keeps as the fault's report
        code = 70
    sys.stderr.flush()
    # The thread that waits for orders holds the input's lock; an ordinary exit would wait for it on some systems.
    os._exit(code)


if __name__ == "__main__":
    main()
