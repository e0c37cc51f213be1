"""A process of its own for a search for carriers, so that the pages answer while it looks.

``python -m rollsound.actions.radio_page_worker`` loads what it needs, then reads one line of JSON (the plan's document,
where its scans begin, the site, mode, seed and seconds) and writes lines: ``{"progress": …}`` while it looks, then
``{"result": …}`` or ``{"error": "…"}``. A line ``stop``, or the end of its input, ends the search with the best so far.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO

from rollsound.actions.radio_page import question_of
from rollsound.actions.radio_search import find_within, with_all_spares
from rollsound.errors import RollsoundError
from rollsound.radio.carriers.task import Mode
from rollsound.show.checked import checked

if TYPE_CHECKING:
    from rollsound.radio.carriers.answer import CarrierPlan
    from rollsound.radio.carriers.find import Found

TELL_EVERY_S = 0.15


def work(orders: TextIO, out: TextIO) -> int:
    """Answer the one order that comes; 0 also when it asked for what cannot be."""
    lock = threading.Lock()
    stopped = threading.Event()
    last = 0.0

    def tell(content: dict[str, Any]) -> None:
        with lock:
            try:
                out.write(json.dumps(content, allow_nan=False) + "\n")
                out.flush()
            except (OSError, ValueError):
                stopped.set()  # nobody listens any more

    def progress(found: Found) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= TELL_EVERY_S:
            last = now
            tell({"progress": {"placed": found.placed, "margin_hz": found.margin_hz, "moves": found.moves}})

    order = orders.readline()
    if not order.strip():
        return 0  # never needed: the server ended

    def listen() -> None:
        orders.readline()
        stopped.set()

    threading.Thread(target=listen, name="orders", daemon=True).start()
    try:
        tell({"result": _search(json.loads(order), progress, stopped.is_set)})
    except RollsoundError as error:
        tell({"error": error.sentence})
    return 0


def _search(order: dict[str, Any], progress: Callable[[Found], None], stop: Callable[[], bool]) -> dict[str, Any]:
    radio = checked(order["document"], "the plan", lambda place: 0).radio
    question = question_of(Path(order["folder"]), radio, order["revision"], order["site"])
    found = find_within(
        question.task, Mode(order["mode"]), seed=order["seed"], seconds=order["seconds"], progress=progress, stop=stop
    )
    return _told(with_all_spares(question.task, radio, found), [each.id for each in question.task.wanted])


def _told(plan: CarrierPlan, asked: Iterable[str]) -> dict[str, Any]:
    """What was found; spares of everybody that was asked for, so that those that no longer hold go."""
    return {
        "carriers_hz": plan.carriers_hz,
        "spares_hz": {id: list(plan.spares_hz.get(id, ())) for id in asked},
        "moved": list(plan.moved),
        "margin_hz": plan.margin_hz,
        "clean": plan.audit.clean,
        "proved": plan.proved,
        "stopped": plan.stopped,
        "bound": plan.bound.why if plan.bound is not None else "",
        "unplaced": [
            {
                "id": each.id,
                "why": each.why,
                "relaxations": [{"what": r.what, "freq_hz": r.freq_hz} for r in each.relaxations],
            }
            for each in plan.unplaced
        ],
    }


def main() -> NoReturn:
    """Keep the line to the starter clean: whatever else prints goes to the error stream."""
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8", newline="\n")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    orders = os.fdopen(os.dup(sys.stdin.fileno()), "r", encoding="utf-8", errors="replace")
    try:
        code = work(orders, out)
    except Exception:
        traceback.print_exc()
        code = 70
    sys.stderr.flush()
    os._exit(code)  # the thread that listens holds the input's lock


if __name__ == "__main__":
    main()
