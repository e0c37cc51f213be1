"""A search for carriers in the background of the page *Radio*: started, watched, stopped, then taken or dropped.

One search at a time for each show. It runs in a process of its own, which is started ahead so that it looks at once.
What it finds changes nothing: a person takes it into the plan, or drops it.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from rollsound.actions.radio_page_edits import frequency_text, put
from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.log.model import Head
    from rollsound.show.folder import Show

SearchMode = Literal["all", "most", "repair", "add"]
_COMMAND = (sys.executable, "-P", "-m", "rollsound.actions.radio_page_worker")
_WORDS_OF_ERROR = 400


@dataclass(frozen=True)
class Search:
    """A search as it is now. ``result`` is what the worker told at its end."""

    id: str
    revision: int
    """Of the plan that it began with."""
    site: str
    mode: SearchMode
    seconds: float
    seed: int
    wanted: int
    begun: float
    state: Literal["running", "stopping", "done", "failed"] = "running"
    placed: int = 0
    margin_hz: int | None = None
    result: dict[str, Any] | None = None
    problem: str = ""
    person: str = ""
    """Who asked for it."""

    @property
    def under_way(self) -> bool:
        """Whether anything is still to come of it."""
        return self.state in ("running", "stopping")

    @property
    def elapsed_s(self) -> float:
        """Since it began."""
        return time.monotonic() - self.begun


class Searches:
    """The searches of one show."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._now: Search | None = None
        self._process: subprocess.Popen[str] | None = None
        self._ahead: subprocess.Popen[str] | None = None

    @property
    def now(self) -> Search | None:
        """The last search that was not dropped."""
        return self._now

    def get_ready(self) -> None:
        """Start a process that waits for an order, so that the next search begins at once."""
        with self._lock:
            if self._ahead is None or self._ahead.poll() is not None:
                self._ahead = _start()

    def start(
        self,
        show: Show,
        site: str,
        mode: SearchMode,
        seconds: float,
        seed: int,
        wanted: int,
        *,
        person: str = "",
        ended: Callable[[], None] = lambda: None,
    ) -> Search:
        """Begin a search over the plan as it is now.

        Parameters
        ----------
        person
            who asks for it
        ended
            called on a thread of its own when there is something to look at

        Raises
        ------
        InputError
            when one is under way
        """
        head = show.store.head()
        with self._lock:
            if self._now is not None and self._now.under_way:
                raise InputError("a search is under way; stop it, or wait for its end")
            ready = self._ahead if self._ahead is not None and self._ahead.poll() is None else None
            process, self._ahead = ready or _start(), None
            search = Search(
                secrets.token_hex(4),
                head.revision,
                site,
                mode,
                seconds,
                seed,
                wanted,
                begun=time.monotonic(),
                person=person,
            )
            self._now, self._process = search, process
        order = {
            "document": head.document,
            "folder": str(show.folder),
            "revision": head.revision,
            "site": site,
            "mode": mode,
            "seed": seed,
            "seconds": seconds,
        }
        _say(process, json.dumps(order))
        threading.Thread(target=self._listen, args=(search.id, process, ended), name="carriers", daemon=True).start()
        return search

    def stop(self) -> Search | None:
        """Ask the search to end with the best so far."""
        with self._lock:
            if self._now is not None and self._now.state == "running":
                self._now = replace(self._now, state="stopping")
                if self._process is not None:
                    _say(self._process, "stop")
            return self._now

    def drop(self, id: str) -> None:
        """Forget what this search found; another's is left."""
        with self._lock:
            if self._now is not None and self._now.id == id and not self._now.under_way:
                self._now = None

    def close(self) -> None:
        """End the processes; what was found is forgotten."""
        with self._lock:
            processes, self._ahead, self._now = (self._ahead, self._process), None, None
        for process in processes:
            if process is not None and process.poll() is None:
                process.kill()  # it writes nothing
                process.wait()

    def _listen(self, id: str, process: subprocess.Popen[str], ended: Callable[[], None]) -> None:
        told: dict[str, Any] = {}
        assert process.stdout is not None
        with process.stdout:
            for line in process.stdout:
                with contextlib.suppress(ValueError):
                    told = json.loads(line)
                if "progress" in told:
                    news = told["progress"]
                    self._change(id, placed=news["placed"], margin_hz=news["margin_hz"])
        process.wait()
        if process.stdin is not None:
            with contextlib.suppress(OSError):
                process.stdin.close()
        if "result" in told:
            found = told["result"]
            self._change(id, state="done", result=found, placed=len(found["carriers_hz"]), margin_hz=found["margin_hz"])
        else:
            problem = told.get("error") or f"its process ended with code {process.returncode}; look for them again"
            self._change(id, state="failed", problem=str(problem)[:_WORDS_OF_ERROR])
        ended()

    def _change(self, id: str, **values: Any) -> None:
        with self._lock:
            if self._now is not None and self._now.id == id:
                self._now = replace(self._now, **values)


def document_with(head: Head, search: Search) -> dict[str, Any]:
    """The plan's document with what a search found.

    Raises
    ------
    InputError
        when a transmitter is no longer in the plan
    """
    document = head.document
    found = search.result or {}
    carriers, spares = found.get("carriers_hz", {}), found.get("spares_hz", {})
    for id in dict.fromkeys([*carriers, *spares]):
        now: dict[str, Any] = next((each for each in document["radio"]["transmitters"] if each.get("id") == id), {})
        values: dict[str, Any] = {}
        if id in carriers and _hz_of(now.get("frequency")) != carriers[id]:
            values["frequency"] = frequency_text(carriers[id])
        if id in spares and [_hz_of(each) for each in now.get("spare_frequencies") or ()] != spares[id]:
            values["spare_frequencies"] = [frequency_text(each) for each in spares[id]] or None
        if values:
            document = put(document, ("transmitters", id), values)
    return document


def hold_elsewhere(show: Show, search: Search) -> None:
    """Raise InputError where what was found for one site breaks on another what holds there."""
    from rollsound.actions.radio_elsewhere import refuse_elsewhere
    from rollsound.actions.radio_page import question_of

    plan = show.plan()
    scans = question_of(show.folder, plan.radio, search.revision).scans
    refuse_elsewhere(
        plan.radio,
        (search.result or {}).get("carriers_hz", {}),
        sites=(search.site,) if search.site else (),
        site_names={each.id: each.name for each in plan.sites},
        scans=scans,
    )


_of_folder: dict[str, Searches] = {}
_registry = threading.Lock()


def searches_of(show: Show) -> Searches:
    """The searches of a show that is served."""
    with _registry:
        return _of_folder.setdefault(str(show.folder), Searches())


def _hz_of(written: object) -> int | None:
    from rollsound.quantities import parse

    try:
        return round(parse(str(written), "Hz"))
    except InputError:
        return None


def _start() -> subprocess.Popen[str]:
    return subprocess.Popen(
        _COMMAND,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
        errors="replace",
        start_new_session=os.name != "nt",
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )


def _say(process: subprocess.Popen[str], line: str) -> None:
    with contextlib.suppress(OSError, ValueError):
        if process.stdin is not None:
            process.stdin.write(line + "\n")
            process.stdin.flush()
