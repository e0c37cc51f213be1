"""Join codes: guessing ends soon for whoever guesses, and keeps nobody else out."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from rollsound.web.desk import Desk
from rollsound.web.security import codes as limits
from rollsound.web.security.codes import LASTS_S, JoinCodes


class Clock:
    now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


WRONG = "222222"


def flood(codes: JoinCodes, *, addresses: int, each: int) -> int:
    """Wrong tries from many addresses; how many of them were looked at."""
    tries = (codes.use(WRONG, f"10.0.{n // 256}.{n % 256}") for _ in range(each) for n in range(addresses))
    return sum(not tried.wait_s for tried in tries)


def test_many_guessing_addresses_do_not_keep_a_new_one_out() -> None:
    codes = JoinCodes(Clock())
    flood(codes, addresses=1000, each=9)
    made = codes.make("crew")
    assert codes.use(WRONG, "192.168.7.90").code is None  # mistyped once
    assert codes.use(made.code, "192.168.7.90").code is made
    assert codes.use(codes.make("crew").code, "192.168.7.91").code is not None


def test_once_many_guess_each_address_has_few_tries_until_it_is_over() -> None:
    clock = Clock()
    codes = JoinCodes(clock)
    looked_at = flood(codes, addresses=1000, each=20)
    assert looked_at < 200 + 1000 * 2 + 8  # of 20 000
    late = codes.use(codes.make("crew").code, "10.0.0.1")
    assert late.code is None
    assert 0 < late.wait_s <= LASTS_S
    clock.now_s += LASTS_S
    assert codes.use(codes.make("crew").code, "10.0.0.1").code is not None


def test_a_code_closes_after_very_many_wrong_tries_and_a_fresh_one_opens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "_WRONG_OF_A_CODE", 300)
    codes = JoinCodes(Clock())
    old = codes.make("crew")
    assert flood(codes, addresses=299, each=1) == 299
    assert (codes.open_codes(), codes.guessed) == ([old], False)
    assert codes.use(WRONG, "10.9.9.9").closed == (old.id,)
    assert (codes.open_codes(), codes.guessed) == ([], True)
    assert codes.use(old.code, "192.168.7.90").code is None
    fresh = codes.make("crew")
    assert codes.use(fresh.code, "192.168.7.90").code is fresh
    assert not codes.guessed


def test_the_odds_that_are_told_hold() -> None:
    codes_there_are = len(limits.SIGNS) ** limits.LENGTH
    assert len(set(limits.SIGNS)) == len(limits.SIGNS) == 23
    assert 14_800 < codes_there_are / limits._WRONG_OF_A_CODE < 14_810


def test_tries_at_the_same_moment_are_counted_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each try is held where it is compared, until all that could slip by are there too."""
    codes = JoinCodes()
    codes.make("crew")
    met = threading.Barrier(16)
    plain = limits.hmac.compare_digest

    def slow(one: bytes, other: bytes) -> bool:
        with contextlib.suppress(threading.BrokenBarrierError):
            met.wait(0.02)
        return plain(one, other)

    monkeypatch.setattr(limits.hmac, "compare_digest", slow)
    with ThreadPoolExecutor(16) as threads:
        tried = list(threads.map(lambda _: codes.use(WRONG, "10.0.0.1"), range(16)))
    assert sum(not each.wait_s for each in tried) == limits._WRONG_BY_ADDRESS


def test_an_attacker_with_many_addresses_locks_nobody_out(visitors: Callable[..., Any], desk: Desk) -> None:
    home = "http://192.168.7.1:8060"
    attacker = visitors(client=("192.168.7.100", 1), home=home)
    for n in range(400):
        attacker._transport.client = (f"192.168.7.{100 + n // 4}", 1)
        attacker.post("/join", data={"code": WRONG, "name": "X"})
    fresh = desk.doors.codes.make("crew").code
    assert attacker.post("/join", data={"code": fresh, "name": "X"}).status_code == 429
    crew = visitors(client=("192.168.7.40", 1), home=home)
    assert crew.post("/join", data={"code": fresh, "name": "Tomas"}).status_code == 303


def test_the_mixer_is_told_that_somebody_guesses(
    mixer: Any, visitors: Callable[..., Any], desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "_WRONG_OF_A_CODE", 2)
    desk.doors.codes.make("crew")
    attacker = visitors(client=("192.168.7.100", 1), home="http://192.168.7.1:8060")
    assert "guesses codes" not in mixer.get("/settings").text
    for _ in range(2):
        attacker.post("/join", data={"code": WRONG, "name": "X"})
    assert "guesses codes" in mixer.get("/settings").text
