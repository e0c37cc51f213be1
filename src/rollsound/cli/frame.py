"""What every command shares: where words go, how progress shows, how Ctrl-C stops at a safe point."""

from __future__ import annotations

import contextlib
import json
import math
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Annotated

from cyclopts import Parameter
from pydantic import BaseModel
from pydantic_core import PydanticSerializationError
from rich.console import Console
from rich.progress import BarColumn, TaskID, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bars

from rollsound.cli.lines import line, plain
from rollsound.finding import Finding, Weight
from rollsound.progress import Event, Progress
from rollsound.quantities import show_size

_PIPE_WIDTH = 140
_ADVICE_COLUMN = 11

work_done = threading.Event()
"""Set once a command's work is finished and only its telling is left: stopping then loses nothing."""

AsJson = Annotated[bool, Parameter(name="--json", negative="", help="Print the result as JSON and nothing else.")]

MARKS = {Weight.STOP: ("■ stop ", "bold red"), Weight.WATCH: ("△ watch", "yellow"), Weight.FINE: ("○ fine ", "green")}


class _Results(Console):
    """A console whose reader may go away (``| head``) without changing what the command answers."""

    def on_broken_pipe(self) -> None:
        """Go on in silence: the work is done, and its exit code must be the true one."""
        self.quiet = True
        nobody_reads()


def nobody_reads() -> None:
    """Send what is still to be written to nowhere, for good."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def out() -> Console:
    """Where results go. A file or pipe has no width of its own: tables get room enough there."""
    width = None if sys.stdout.isatty() else _PIPE_WIDTH
    return _Results(file=sys.stdout, highlight=False, soft_wrap=True, width=width)


def say(sentence: str) -> None:
    """One sentence to the person, beside the result."""
    whole = sentence if sentence.endswith((".", "?", ":")) else sentence + "."
    line(Console(file=sys.stderr, highlight=False), whole)


def print_json(model: BaseModel) -> None:
    """The result as documented JSON."""
    try:
        text = model.model_dump_json(indent=2)
    except PydanticSerializationError:  # a name that is no readable text, with halves of letters in it
        text = json.dumps(_numbers_or_null(model.model_dump(mode="json")), indent=2)
    try:
        sys.stdout.write(text + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        nobody_reads()


def _numbers_or_null(value: object) -> object:
    if isinstance(value, dict):
        return {key: _numbers_or_null(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_numbers_or_null(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def show_finding(console: Console, finding: Finding, *, subject: bool = True, advice: bool = True) -> None:
    """One finding in words; its weight has a shape and a word, never colour alone.

    The subject is left out where the sentence names it itself.
    """
    mark, style = MARKS[finding.weight]
    named = not subject or finding.subject.lower() in finding.what.lower()
    text = finding.what if named else f"{finding.subject}: {finding.what}"
    line(console, text, head=f"  {mark}  ", head_style=style, hang=_ADVICE_COLUMN)
    for more in (finding.why, finding.remedy) if advice else ():
        if more:
            line(console, " " * _ADVICE_COLUMN + more, style="dim", hang=_ADVICE_COLUMN)


class _Shown:
    """Draws events: bars on a terminal, a line now and then elsewhere."""

    def __init__(self) -> None:
        self.console = Console(file=sys.stderr, highlight=False)
        self.lively = self.console.is_terminal
        self._lock = threading.Lock()
        self._tasks: dict[str, TaskID] = {}
        self._last_line = time.monotonic()
        self.bars = Bars(
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=28, complete_style="default", finished_style="default"),
            TextColumn("{task.percentage:>3.0f} %"),
            TextColumn("{task.fields[amount]}"),
            TimeRemainingColumn(),
            TextColumn("left"),
            TextColumn("{task.fields[label]}", markup=False),
            console=self.console,
            transient=True,
            disable=not self.lively,
        )

    def __call__(self, event: Event) -> None:
        amount = f"{show_size(event.done)} of {show_size(event.total)}" if event.unit == "bytes" else ""
        with self._lock:
            if self.lively:
                if event.job not in self._tasks:
                    self._leave_out_finished()
                    self._tasks[event.job] = self.bars.add_task(event.job, total=event.total, amount="", label="")
                self.bars.update(
                    self._tasks[event.job],
                    visible=True,
                    completed=event.done,
                    total=event.total,
                    amount=amount,
                    label=plain(event.label[-40:]),
                )
            elif time.monotonic() - self._last_line > 10.0:
                self._last_line = time.monotonic()
                percent = 100 * event.done / event.total if event.total else 100
                self.console.print(plain(f"{event.job}: {percent:.0f} % {event.label}").rstrip(), markup=False)

    def _leave_out_finished(self) -> None:
        """A long night has dozens of jobs; the screen holds those that still run."""
        for task in self.bars.tasks:
            if task.finished:
                self.bars.update(task.id, visible=False)


@contextmanager
def progress(as_json: bool, stopped: str = "It was finished before it could stop.") -> Iterator[Progress]:
    """A Progress that draws itself and that Ctrl-C stops at the next safe point (a second Ctrl-C at once).

    ``stopped`` is said when there is a result although somebody asked to stop.
    """
    shown = None if as_json else _Shown()
    handed = Progress(shown)

    def on_interrupt(_signal: int, _frame: FrameType | None) -> None:
        if handed.stopping:
            raise KeyboardInterrupt
        handed.stop()
        say("Stopping at the next safe point; press Ctrl-C again to stop at once.")

    main_thread = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, on_interrupt) if main_thread else None
    try:
        if shown is None:
            yield handed
        else:
            with shown.bars:
                yield handed
        work_done.set()
        if handed.stopping:
            say(stopped)
    finally:
        if main_thread and before is not None:
            signal.signal(signal.SIGINT, before)
