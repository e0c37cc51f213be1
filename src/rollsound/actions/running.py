"""Runs a show's long jobs in processes of their own, one at a time, and keeps what becomes of them.

A job that was stopped, failed or was cut off may be resumed: the same arguments again, since every action of ours
keeps what it finished and goes on from there.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import secrets
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, Protocol

from rollsound.actions.worker_kinds import job_of
from rollsound.errors import InputError
from rollsound.log.model import Author, JobRow

KEEP_EVERY_SECONDS = 1.0
Known = dict[str, Any] | None
_LOG = logging.getLogger(__name__)


class JobState(StrEnum):
    """Where a job stands."""

    WAITING = "waiting"
    RUNNING = "running"
    STOPPING = "stopping"
    STOPPED = "stopped"
    DONE = "done"
    FAILED = "failed"


OVER = frozenset({JobState.STOPPED, JobState.DONE, JobState.FAILED})
UNDER_WAY = frozenset(JobState) - OVER
"""States in which nothing more happens unless somebody asks for it."""


class JobStore(Protocol):
    """Where jobs are kept; the show's store is one."""

    def add_job(self, row: JobRow) -> None:
        """Keep a new job."""

    def update_job(self, row: JobRow) -> None:
        """Replace the row of this id."""

    def jobs(self) -> list[JobRow]:
        """Every job, newest first."""

    def job(self, job_id: str) -> JobRow | None:
        """One job, None if there is none of this id."""


class JobRunner:
    """One heavy job at a time; others wait in the order they were asked for.

    Parameters
    ----------
    on_news
        told every change of a job, from threads of the runner's own; progress comes about ten times a second
    reports
        where the report of an unexpected fault goes; the system's folder for temporary files when None
    """

    def __init__(
        self,
        store: JobStore,
        on_news: Callable[[JobRow], None] = lambda row: None,
        *,
        reports: Path | None = None,
        command: tuple[str, ...] = (sys.executable, "-P", "-m", "rollsound.actions.worker"),
    ) -> None:
        self._store = store
        self._on_news = on_news
        self._reports = reports or Path(tempfile.gettempdir())
        self._command = command
        self._lock = threading.RLock()
        self._waiting: deque[str] = deque()
        self._live: dict[str, JobRow] = {}
        self._process: subprocess.Popen[str] | None = None
        self._thread: threading.Thread | None = None
        self._closing = False
        for row in store.jobs():
            if row.state not in OVER:  # nobody can be working on it: whoever was is gone, and its worker with it
                self._put(replace(row, state=JobState.STOPPED, changed=_now()))

    def start(self, kind: str, arguments: dict[str, Any], author: Author) -> str:
        """Ask for a job; returns its id at once.

        Raises
        ------
        MistakesError
            when there is no such kind, or arguments cannot be used
        """
        arguments = job_of(kind, arguments).model_dump(mode="json", exclude={"kind"})
        now = _now()
        row = JobRow(
            id=secrets.token_hex(6),
            kind=kind,
            arguments=arguments,
            author=author,
            state=JobState.WAITING,
            made=now,
            changed=now,
        )
        with self._lock:
            self._store.add_job(row)
            self._enqueue(row)
        return row.id

    def stop(self, job_id: str) -> JobRow:
        """Ask a job to stop at its next safe point; one that only waits is stopped at once."""
        with self._lock:
            row = self._known(job_id)
            if row.state == JobState.WAITING:
                self._waiting.remove(job_id)
                return self._put(replace(row, state=JobState.STOPPED, changed=_now()))
            if row.state == JobState.RUNNING:
                row = self._put(replace(row, state=JobState.STOPPING, changed=_now()))
                self._ask_to_stop()
            return row

    def resume(self, job_id: str) -> JobRow:
        """Run a job that is over once more, with the same arguments; it goes on from what was finished.

        Raises
        ------
        InputError
            when there is no such job, or it is not over
        """
        with self._lock:
            row = self._known(job_id)
            if row.state not in OVER:
                raise InputError("this job has not ended yet; stop it first, or wait for it")
            row = replace(row, state=JobState.WAITING, changed=_now(), progress={}, result=None, error=None)
            self._enqueue(row)
            return row

    def jobs(self) -> list[JobRow]:
        """Every job, newest first, with progress as it is now."""
        rows = self._store.jobs()
        with self._lock:
            forgotten = [row for job_id, row in self._live.items() if job_id not in {row.id for row in rows}]
            return [*reversed(forgotten), *(self._live.get(row.id, row) for row in rows)]

    def job(self, job_id: str) -> JobRow | None:
        """One job as it is now."""
        with self._lock:
            return self._live.get(job_id) or self._store.job(job_id)

    def close(self, wait_seconds: float = 10.0) -> None:
        """Stop what runs at its next safe point and leave the rest for later."""
        with self._lock:
            self._closing = True
            waiting, self._waiting = list(self._waiting), deque()
            for job_id in waiting:
                self._put(replace(self._known(job_id), state=JobState.STOPPED, changed=_now()))
            self._ask_to_stop()
            thread = self._thread
        if thread is not None:
            thread.join(wait_seconds)
        with self._lock:
            if self._process is not None:
                self._process.kill()  # outputs are written beside their names, so that this leaves nothing half-made

    def _known(self, job_id: str) -> JobRow:
        row = self.job(job_id)
        if row is None:
            raise InputError("there is no such job in this show; look at the list of jobs again")
        return row

    def _enqueue(self, row: JobRow) -> None:
        self._put(row)
        self._waiting.append(row.id)
        if self._thread is None and not self._closing:
            self._thread = threading.Thread(target=self._work_off, name="jobs", daemon=True)
            self._thread.start()

    def _work_off(self) -> None:
        while True:
            with self._lock:
                if not self._waiting or self._closing:
                    self._thread = None
                    return
                job_id = self._waiting.popleft()
            try:
                self._run(self._begin(job_id))
            except Exception as error:  # whatever one job does, the next one has its turn
                _LOG.exception("the job %s could not be run", job_id)
                self._fail(job_id, f"The job could not be run ({error}); resume it")

    def _begin(self, job_id: str) -> JobRow:
        with self._lock:
            return self._put(replace(self._known(job_id), state=JobState.RUNNING, changed=_now()))

    def _fail(self, job_id: str, sentence: str) -> None:
        """Note a fault, as far as anything can still be noted; the runner goes on in any case."""
        try:
            self._end(job_id, JobState.FAILED, error={"kind": "fault", "sentence": sentence})
        except Exception:
            _LOG.exception("that the job %s failed could not be kept", job_id)
            with self._lock:
                self._live.pop(job_id, None)

    def _run(self, row: JobRow) -> None:
        self._reports.mkdir(parents=True, exist_ok=True)
        report = self._reports / f"job {row.id}.txt"
        with open(report, "w+b") as faults:
            process = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=faults,
                text=True,
                encoding="utf-8",
                errors="replace",
                # Ctrl-C at the server is for the server, which then asks its worker to stop.
                start_new_session=os.name != "nt",
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
            try:
                with self._lock:
                    self._process = process
                    state = self._known(row.id).state
                    self._order(json.dumps({"kind": row.kind, "arguments": row.arguments}))
                    if self._closing or state == JobState.STOPPING:
                        self._ask_to_stop()
                told = self._listen(row.id, process)
            except BaseException:
                process.kill()  # nobody would hear of its end; its outputs are written beside their names
                raise
            finally:
                process.wait()
                with self._lock:
                    self._process = None
                if process.stdin is not None:
                    with contextlib.suppress(OSError):
                        process.stdin.close()
        if "result" in told:
            self._end(row.id, JobState.DONE, result=told["result"])
        elif told.get("error", {}).get("kind") == "halted":
            self._end(row.id, JobState.STOPPED)
        elif "error" in told:
            self._end(row.id, JobState.FAILED, error=told["error"])
        else:
            sentence = (
                f"The job ended without a word (code {process.returncode}); its report is in {report}. No source file "
                "was changed; resume the job to go on from what was finished"
            )
            self._end(row.id, JobState.FAILED, error={"kind": "fault", "sentence": sentence})
            return
        report.unlink(missing_ok=True)

    def _listen(self, job_id: str, process: subprocess.Popen[str]) -> dict[str, Any]:
        """Take in the worker's lines until it ends; the last word is its result or error."""
        last: dict[str, Any] = {}
        kept = time.monotonic()
        assert process.stdout is not None
        with process.stdout:
            for line in process.stdout:
                try:
                    told = json.loads(line)
                except ValueError:
                    continue
                if "progress" not in told:
                    last = told
                    continue
                with self._lock:
                    row = replace(self._known(job_id), progress=told["progress"], changed=_now())
                    self._live[job_id] = row
                if time.monotonic() - kept > KEEP_EVERY_SECONDS:
                    kept = time.monotonic()
                    self._keep(row)
                self._on_news(row)
        return last

    def _end(self, job_id: str, state: JobState, *, result: Known = None, error: Known = None) -> None:
        with self._lock:
            self._put(replace(self._known(job_id), state=state, changed=_now(), result=result, error=error))

    def _keep(self, row: JobRow) -> bool:
        """Keep a row; a store that went back to before the job, or whose disk is full, must not end the runner."""
        try:
            try:
                self._store.update_job(row)
            except InputError:  # the store is an older one now, which never knew of this job
                self._store.add_job(row)
        except Exception:
            _LOG.exception("the job %s could not be kept", row.id)
            return False
        return True

    def _put(self, row: JobRow) -> JobRow:
        kept = self._keep(row)
        if kept and row.state in OVER:  # what the disk did not take is at least known until the server ends
            self._live.pop(row.id, None)
        else:
            self._live[row.id] = row
        self._on_news(row)
        return row

    def _ask_to_stop(self) -> None:
        self._order("stop")

    def _order(self, line: str) -> None:
        if self._process is None or self._process.stdin is None:
            return
        try:
            self._process.stdin.write(line + "\n")
            self._process.stdin.flush()
        except (OSError, ValueError):  # it ended by itself in this very moment
            return


def _now() -> datetime:
    return datetime.now(UTC)
