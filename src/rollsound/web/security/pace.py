"""How often an address may try, counted in a sliding span of time; how fast a device may send changes."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable

_MOST_ADDRESSES = 4096


class Pace:
    """Counts tries by name (an address, a device).

    Parameters
    ----------
    most
        tries allowed within the span
    span_s
        length of the span in seconds
    """

    def __init__(self, most: int, span_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._most = most
        self._span_s = span_s
        self._clock = clock
        self._tries: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, name: str, most: int | None = None) -> float:
        """Seconds until the name may try again, with fewer tries if ``most`` says so; 0 when it may now."""
        most = self._most if most is None else most
        with self._lock:
            tries = self._recent(name)
            return 0.0 if len(tries) < most else self._span_s - (self._clock() - tries[len(tries) - most])

    def count(self, name: str) -> None:
        """Note one try."""
        with self._lock:
            tries = self._recent(name)
            if name not in self._tries:
                self._tries[name] = tries
                if len(self._tries) > _MOST_ADDRESSES:
                    self._tries.popitem(last=False)
            self._tries.move_to_end(name)
            tries.append(self._clock())
            while len(tries) > self._most:
                tries.popleft()

    def _recent(self, name: str) -> deque[float]:
        tries = self._tries.get(name, deque())
        while tries and self._clock() - tries[0] >= self._span_s:
            tries.popleft()
        return tries


class Flow:
    """Lets each name (a device) do so much a second for good, and more than that for a moment.

    Parameters
    ----------
    per_s
        what is given back each second
    burst
        what a name may do at once after it was quiet
    """

    def __init__(self, per_s: float, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_s = per_s
        self._burst = burst
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, name: str) -> float:
        """Take one; 0 when it was there, else the seconds until one will be. Nothing is taken then."""
        with self._lock:
            now = self._clock()
            left, at = self._left.pop(name, (float(self._burst), now))
            left = min(self._burst, left + (now - at) * self._per_s)
            wait_s = 0.0 if left >= 1.0 else (1.0 - left) / self._per_s
            self._left[name] = (left - 1.0 if wait_s == 0.0 else left, now)
            if len(self._left) > _MOST_ADDRESSES:
                self._left.popitem(last=False)
            return wait_s
