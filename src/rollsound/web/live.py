"""The live stream: news of the show to every browser that is open, from any thread."""

from __future__ import annotations

import asyncio
import json
import secrets
import threading
import time
from collections import deque
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from typing import Any

TOPICS = ("plan", "jobs", "media", "devices", "ready", "search", "log")
KEPT = 500
_WAITING = 256
BEAT_S = 10.0
MOST_STREAMS = 400
MOST_OF_ONE_DEVICE = 12


def now_ms() -> int:
    """The time here; devices whose own clock is off go by it."""
    return time.time_ns() // 1_000_000


@dataclass(eq=False)
class _Listener:
    device_id: str
    seen: int
    """The newest news it was told of when it came; what is still on its way from before is not told twice."""
    queue: asyncio.Queue[str | None] = field(default_factory=lambda: asyncio.Queue(_WAITING))
    behind: bool = False


class Live:
    """Spreads news. A browser that comes back is told what it missed, or to look at everything anew."""

    def __init__(self) -> None:
        self.boot = secrets.token_hex(4)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._listeners: set[_Listener] = set()
        self._kept: deque[tuple[int, str]] = deque(maxlen=KEPT)
        self._number = 0
        self._lock = threading.Lock()
        self._closed = False

    def publish(self, topic: str, data: Any) -> None:
        """Tell every browser. Safe from any thread; costs nothing when nobody listens."""
        with self._lock:
            self._number = number = self._number + 1
            message = self._message(topic, data, number)
            self._kept.append((number, message))
            loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._spread, number, message)

    def room_for(self, device_id: str) -> bool:
        """True when this device may open another stream."""
        mine = sum(listener.device_id == device_id for listener in self._listeners)
        return len(self._listeners) < MOST_STREAMS and mine < MOST_OF_ONE_DEVICE

    async def stream(self, device_id: str, after: str, first: Any) -> AsyncIterator[str]:
        """The stream of one browser.

        Parameters
        ----------
        after
            the id of the last news it had, or empty
        first
            data of the first greeting: how things stand now
        """
        self._loop = asyncio.get_running_loop()
        with self._lock:
            missed, resync = self._missed(after)
            number = self._number
            listener = _Listener(device_id, number)
            self._listeners.add(listener)
        try:
            greeting = {**first, "boot": self.boot, "resync": resync, "now_ms": now_ms()}
            yield "retry: 1000\n" + self._message("hello", greeting, number)
            for message in missed:
                yield message
            while not self._closed:
                try:
                    news = await asyncio.wait_for(listener.queue.get(), BEAT_S)
                except TimeoutError:
                    yield f'event: beat\ndata: {{"now_ms":{now_ms()}}}\n\n'
                    continue
                if news is None:
                    return
                yield news
                if listener.behind and listener.queue.empty():
                    listener.behind = False
                    yield self._message("hello", {"boot": self.boot, "resync": True}, self._number)
        finally:
            self._listeners.discard(listener)

    def tell(self, device_id: str, topic: str, data: Any) -> None:
        """Tell the open streams of one device alone. It is not kept: the greeting of a stream says how things stand."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._whisper, device_id, topic, data)

    def end(self, device_id: str) -> None:
        """End every stream of a device that was shut out. Safe from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._end, device_id)

    def close(self) -> None:
        """End all streams: the server stops. Safe from any thread."""
        self._closed = True
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._end, None)

    @property
    def listening(self) -> set[str]:
        """The devices that have a stream open."""
        return {listener.device_id for listener in list(self._listeners)}

    def _whisper(self, device_id: str, topic: str, data: Any) -> None:
        for listener in self._listeners:
            if listener.device_id == device_id and not listener.queue.full():
                listener.queue.put_nowait(f"event: {topic}\ndata: {json.dumps(data, separators=(',', ':'))}\n\n")

    def _end(self, device_id: str | None) -> None:
        for listener in self._listeners:
            if device_id is None or listener.device_id == device_id:
                while listener.queue.full():
                    listener.queue.get_nowait()
                listener.queue.put_nowait(None)

    def _spread(self, number: int, message: str) -> None:
        for listener in self._listeners:
            if number <= listener.seen:
                continue
            if listener.queue.full():
                # too slow to follow: what waits is dropped, and it looks at everything anew
                while not listener.queue.empty():
                    listener.queue.get_nowait()
                listener.behind = True
            listener.queue.put_nowait(message)

    def _missed(self, after: str) -> tuple[list[str], bool]:
        boot, _, number = after.partition("-")
        if not after:
            return [], False
        if boot != self.boot or not (number.isascii() and number.isdigit()) or len(number) > 15:
            return [], True
        last = int(number)
        if self._kept and self._kept[0][0] > last + 1:
            return [], True
        return [message for each, message in self._kept if each > last], False

    def _message(self, topic: str, data: Any, number: int) -> str:
        return f"event: {topic}\nid: {self.boot}-{number}\ndata: {json.dumps(data, separators=(',', ':'))}\n\n"
