"""The live stream: nothing is lost over a short gap, a long one says so, and slow browsers cost nobody else."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from typing import Any

from loops import run

from rollsound.web import live as module
from rollsound.web.live import Live


def read(message: str) -> tuple[str, str, Any]:
    """Topic, id and data of a message."""
    fields = dict(line.split(": ", 1) for line in message.strip().splitlines())
    return fields["event"], fields["id"], json.loads(fields["data"])


def test_news_reach_a_listener_from_any_thread() -> None:
    async def listen() -> tuple[str, str, Any]:
        live = Live()
        stream = live.stream("one", "", {})
        assert read(await anext(stream))[0] == "hello"
        threading.Thread(target=live.publish, args=("plan", {"revision": 3})).start()
        news = read(await asyncio.wait_for(anext(stream), 2))
        await stream.aclose()
        assert live.listening == set()
        return news

    topic, _, data = run(listen())
    assert (topic, data) == ("plan", {"revision": 3})


def test_what_was_missed_is_told_once_and_in_order() -> None:
    async def listen() -> list[Any]:
        live = Live()
        live.publish("plan", 1)
        stream = live.stream("one", "", {})
        last = read(await anext(stream))[1]
        await stream.aclose()
        for number in (2, 3):
            live.publish("plan", number)
        stream = live.stream("one", last, {})
        hello = read(await anext(stream))
        assert hello[2]["resync"] is False
        live.publish("plan", 4)
        return [read(await asyncio.wait_for(anext(stream), 2))[2] for _ in range(3)]

    assert run(listen()) == [2, 3, 4]


def test_a_gap_that_is_too_long_or_of_another_start_says_so() -> None:
    async def greeting(live: Live, after: str) -> Any:
        stream = live.stream("one", after, {})
        return read(await anext(stream))[2]["resync"]

    live = Live()
    for number in range(module.KEPT + 5):
        live.publish("plan", number)
    assert run(greeting(live, f"{live.boot}-2")) is True
    assert run(greeting(live, f"{live.boot}-{module.KEPT}")) is False
    assert run(greeting(live, "0000-7")) is True
    assert run(greeting(live, "rubbish")) is True
    assert run(greeting(live, f"{live.boot}-{'9' * 4000}")) is True


def test_a_slow_browser_is_told_to_look_anew_and_holds_nothing_back() -> None:
    async def listen() -> list[tuple[str, str, Any]]:
        live = Live()
        stream = live.stream("slow", "", {})
        await anext(stream)
        for number in range(2000):
            live.publish("plan", number)
        await asyncio.sleep(0.05)
        told = []
        while True:
            told.append(read(await asyncio.wait_for(anext(stream), 2)))
            if told[-1][0] == "hello":
                return told

    told = run(listen())
    assert len(told) < 300
    assert told[-1][2]["resync"] is True
    assert told[-2][2] == 1999


def test_a_page_elsewhere_hears_of_an_edit(served: Any) -> None:
    listener, editor = served.client(), served.client()
    with listener.stream("GET", "/events") as stream:
        lines = stream.iter_lines()
        while next(lines) != "":
            pass
        began = time.monotonic()
        assert editor.post("/api/v1/people", json={"name": "Mina"}).status_code == 200
        while not (line := next(lines)).startswith("event: plan"):
            assert time.monotonic() - began < 5, line


def test_an_edit_of_another_program_is_noticed(desk: Any) -> None:
    from rollsound.log.changes import Change
    from rollsound.log.model import Author
    from rollsound.show.folder import Show
    from rollsound.web.housekeeping import Housekeeping

    keeping = Housekeeping(desk)
    keeping.look()
    with Show.open(desk.show.folder) as other:
        other.edit([Change("/show/unit", other.document().get("unit", module_absent()), "Main")], Author("Ravi", "r"))
    keeping.look()
    kept = [message for _, message in desk.live._kept if "event: plan" in message]
    assert len(kept) == 1
    assert "Ravi" in kept[0]


def module_absent() -> Any:
    from rollsound.log.changes import ABSENT

    return ABSENT
