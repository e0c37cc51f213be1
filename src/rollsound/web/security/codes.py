"""Join codes and the key of this machine: short-lived, counted, held in memory only."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from rollsound.web.security.pace import Pace

SIGNS = "ACDEFHJKMNPRTUVWXY34679"
"""No two of these look alike: no 0 and O, 1, I and L, 2 and Z, 5 and S, 8 and B, 6 and G, Q."""
LENGTH = 6
LASTS_S = 600
_WRONG_BY_ADDRESS = 8
_WRONG_IN_ALL = 200
_WRONG_WHILE_MANY_ARE = 2
"""Wrong tries of an address once there were too many in all: whoever reads a code off the mixer's screen needs one."""
_WRONG_OF_A_CODE = 10_000
"""Wrong tries that a code outlives. All of them together hit it once in 14 800 codes; then a fresh one begins anew."""
_MOST_OPEN = 20


@dataclass
class JoinCode:
    """A code that the mixer shows to let somebody in."""

    code: str
    role: str
    person_id: str
    uses_left: int
    ends: float
    wrong: int = 0
    """Wrong tries since it is open, by anybody."""
    id: str = field(default_factory=lambda: secrets.token_hex(4))


@dataclass(frozen=True)
class Tried:
    """What came of a try: a code whose use was taken, or a time to wait, or neither: it was wrong."""

    code: JoinCode | None = None
    wait_s: float = 0.0
    closed: tuple[str, ...] = ()
    """Codes that this try was the last straw for."""


class JoinCodes:
    """The codes that are open now.

    Wrong tries are limited for each address. In all they are never stopped, or one attacker with many addresses would
    lock everybody out: past a number of them an address has fewer tries, and a code closes after very many.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._codes: dict[str, JoinCode] = {}
        self._lock = threading.Lock()
        self._by_address = Pace(_WRONG_BY_ADDRESS, LASTS_S, clock)
        self._in_all = Pace(_WRONG_IN_ALL, LASTS_S, clock)
        self.guessed = False
        """A code was closed because somebody guesses, and none was made since."""

    def make(self, role: str, *, person_id: str = "", uses: int = 1) -> JoinCode:
        """A new code, open for ten minutes."""
        code = "".join(secrets.choice(SIGNS) for _ in range(LENGTH))
        made = JoinCode(code, role, person_id, uses, self._clock() + LASTS_S)
        with self._lock:
            self._forget_old()
            while len(self._codes) >= _MOST_OPEN:
                del self._codes[next(iter(self._codes))]
            self._codes[made.id] = made
            self.guessed = False
        return made

    def open_codes(self) -> list[JoinCode]:
        """The codes that somebody could use now."""
        with self._lock:
            self._forget_old()
            return list(self._codes.values())

    def seconds_left(self, code: JoinCode) -> float:
        """How long the code stays open."""
        return max(0.0, code.ends - self._clock())

    def close(self, id: str) -> None:
        """Take a code back."""
        with self._lock:
            self._codes.pop(id, None)

    def use(self, given: str, address: str) -> Tried:
        """Try a code. Looking whether the address may, trying and counting are one step, whoever else tries then."""
        wanted = _as_written(given).encode()
        with self._lock:
            self._forget_old()
            if wait_s := self._wait_s(address):
                return Tried(wait_s=wait_s)
            found = None
            for code in self._codes.values():  # all of them, so that time tells nothing
                if hmac.compare_digest(code.code.encode(), wanted):
                    found = code
            if found is not None:
                found.uses_left -= 1
                return Tried(found)
            self._by_address.count(address)
            self._in_all.count("")
            return Tried(closed=self._count_against_codes())

    def _wait_s(self, address: str) -> float:
        own_s = self._by_address.wait_s(address)
        many_s = self._in_all.wait_s("")
        return max(own_s, min(many_s, self._by_address.wait_s(address, _WRONG_WHILE_MANY_ARE)))

    def _count_against_codes(self) -> tuple[str, ...]:
        for code in self._codes.values():
            code.wrong += 1
        closed = tuple(id for id, code in self._codes.items() if code.wrong >= _WRONG_OF_A_CODE)
        for id in closed:
            del self._codes[id]
        self.guessed = self.guessed or bool(closed)
        return closed

    def _forget_old(self) -> None:
        now = self._clock()
        for id in [id for id, code in self._codes.items() if code.ends <= now or code.uses_left <= 0]:
            del self._codes[id]


class EnterKeys:
    """Keys that make a browser on this machine the mixer's: each works once."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._keys: dict[str, float] = {}
        self._lock = threading.Lock()

    def make(self, lasts_s: float = LASTS_S) -> str:
        """A new key."""
        key = secrets.token_urlsafe(24)
        with self._lock:
            self._keys[key] = self._clock() + lasts_s
        return key

    def use(self, given: str) -> bool:
        """True once for each key that was made and has not ended."""
        with self._lock:
            for key, ends in list(self._keys.items()):
                if ends <= self._clock():
                    del self._keys[key]
                elif hmac.compare_digest(key.encode(), given.encode()):
                    del self._keys[key]
                    return True
        return False


def _as_written(given: str) -> str:
    """What a person typed, as the code is written: capitals, without spaces and hyphens."""
    return "".join(given.upper().split()).replace("-", "")[:64]
