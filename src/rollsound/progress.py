"""How long jobs tell where they are and are asked to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from rollsound.errors import Halted


@dataclass(frozen=True)
class Event:
    """One piece of news of a job: ``done`` of ``total`` in ``unit`` (bytes, frames, files), and what it works on."""

    job: str
    done: float
    total: float
    unit: str = "bytes"
    label: str = ""


class Progress:
    """Handed down through a job: ``tell`` reports, ``check`` raises Halted once somebody asked to stop.

    Safe to use from several threads. The default listens to nobody.
    """

    def __init__(self, listener: Callable[[Event], None] | None = None) -> None:
        self._listener = listener
        self._stop = threading.Event()

    def tell(self, job: str, done: float, total: float, unit: str = "bytes", label: str = "") -> None:
        """Report, and leave at once if the job is to stop."""
        self.check()
        if self._listener is not None:
            self._listener(Event(job, done, total, unit, label))

    def stop(self) -> None:
        """Ask the job to stop at its next safe point."""
        self._stop.set()

    @property
    def stopping(self) -> bool:
        """True once somebody asked to stop."""
        return self._stop.is_set()

    def check(self) -> None:
        """Raise Halted if somebody asked to stop."""
        if self._stop.is_set():
            raise Halted("Stopped as you asked; what was finished is kept, and the same command goes on from there.")
