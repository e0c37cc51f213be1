"""Takes and Floor in a real browser: rolled by key and by thumb, on several devices, and through a gap."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable
from datetime import datetime
from typing import Any

import httpx
import laws
import pytest
from browsing import Visits
from playwright.sync_api import Page, expect
from serving import Served

from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import Rate
from rollsound.web.statics import static_url

BACK_WITHIN_MS = 20_000
CODE = re.compile(r"\d\d:\d\d:\d\d[:;]\d\d")
_KEPT = """async () => {
  if (!(await navigator.serviceWorker?.ready)?.active) return false;
  const shell = (await caches.keys()).find((name) => name.startsWith("shell-"));
  return Boolean(await (await caches.open("pages")).match("/takes")) && Boolean(shell)
    && (await (await caches.open(shell)).keys()).length > 10;
}"""
RATES = ("23.976", "24", "25", "29.97", "29.97 DF", "30", "59.94 DF")


def log(served: Served, visits: Visits, day: str) -> list[dict[str, Any]]:
    """The day's lines, asked beside the browser."""
    answer = httpx.get(f"{served.home}/api/v1/log/lines?day={day}", cookies=visits.cookies(), timeout=10)
    return list(answer.json()["lines"])


def counted(served: Served, visits: Visits, day: str, count: int, page: Page) -> list[dict[str, Any]]:
    """The day's lines, once there are so many."""
    for _ in range(50):
        lines = log(served, visits, day)
        if len(lines) >= count:
            break
        page.wait_for_timeout(100)
    assert len(lines) == count
    return lines


def roll(page: Page) -> None:
    page.locator("#main").focus()
    page.keyboard.press("r")


def test_a_take_is_rolled_cut_and_marked_by_keys(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    visits = own_visits(own_show)
    page, trouble = visits.open("/takes?day=day-4")
    expect(page.locator("#takes-clock")).to_have_text(CODE)
    page.fill("#takes-number", "214")
    page.fill("#takes-sound-roll", "NF-04")
    roll(page)
    expect(page.locator("#takes-roll")).to_have_text("Cut")
    assert laws.accessible(page) == []
    page.keyboard.press("c")
    page.keyboard.press("r")
    expect(page.locator("#takes-roll")).to_have_text("Roll")
    expect(page.locator("#takes-take")).to_have_value("2")
    page.keyboard.press("/")
    page.keyboard.type("ramp comes down, r and c are letters here")
    page.keyboard.press("Enter")
    expect(page.locator("#takes-list")).to_contain_text("ramp comes down")
    expect(page.locator("#takes-list .ringed")).to_have_text("1")
    (take,) = counted(own_show, visits, "day-4", 1, page)
    fields = take["fields"]
    assert {name: fields[name] for name in ("scene", "slate", "take", "sound_roll", "circled")} == {
        "scene": "31",
        "slate": "214",
        "take": "1",
        "sound_roll": "NF-04",
        "circled": True,
    }
    assert fields["timecode_in"] < fields["timecode_out"]
    # A new slate, then a wild track, after which the slate goes on where it was.
    page.locator("#main").focus()
    page.keyboard.press("n")
    expect(page.locator("#takes-number")).to_have_value("215")
    expect(page.locator("#takes-take")).to_have_value("1")
    page.keyboard.press("w")
    expect(page.locator("#takes-take")).to_have_value("WT1")
    roll(page)
    roll(page)
    expect(page.locator("#takes-list")).to_contain_text("WT1")
    expect(page.locator("#takes-kind")).to_have_value("take")
    page.set_viewport_size({"width": 390, "height": 844})
    assert [*laws.accessible(page), *laws.overflow(page), *laws.small_targets(page)] == []
    assert trouble.said == []
    page.close()


def test_single_keys_can_be_turned_off(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    page, _ = own_visits(own_show).open("/takes?day=day-5")
    page.locator("#takes-key-list > summary").click()
    page.locator("#takes-keys").uncheck()
    roll(page)
    page.wait_for_timeout(300)
    expect(page.locator("#takes-roll")).to_have_text("Roll")
    page.close()


def test_rolls_through_a_gap_are_kept_and_sent_once(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/takes", "phone")
    day = page.evaluate("() => JSON.parse(document.getElementById('takes-state').dataset.state).day")
    before = len(log(own_show, visits, day))
    page.wait_for_function(_KEPT)
    page.fill("#takes-scene", "4")
    page.fill("#takes-number", "50")
    page.fill("#takes-take", "1")
    own_show.kill()
    for _ in range(2):
        page.locator("#takes-roll").click()
        expect(page.locator("#takes-roll")).to_have_text("Cut")
        page.locator("#takes-roll").click()
        expect(page.locator("#takes-roll")).to_have_text("Roll")
    page.locator("[data-mark=circled]").click()
    expect(page.locator("#connection")).to_contain_text("5 changes wait on this device")
    expect(page.locator("#log-waiting li")).to_have_count(5)
    # A take rolls on through a page that is closed and opened again with nobody there.
    page.locator("#takes-roll").click()
    expect(page.locator("#log-waiting li")).to_have_count(6)
    page.close()
    page = visits.context("phone").new_page()
    page.goto(f"{own_show.home}/takes")
    expect(page.locator("#takes-roll")).to_have_text("Cut")
    expect(page.locator("#takes-now")).to_contain_text("50 / 3")
    page.locator("#takes-roll").click()
    own_show.start()
    expect(page.locator("#connection")).to_be_hidden(timeout=BACK_WITHIN_MS)
    counted(own_show, visits, day, before + 3, page)
    page.wait_for_timeout(2_000)  # time enough for a second sending, if there were one
    takes = [each["fields"] for each in log(own_show, visits, day)[before:]]
    assert [(each["slate"], each["take"]) for each in takes] == [("50", "1"), ("50", "2"), ("50", "3")]
    assert [bool(each.get("circled")) for each in takes] == [False, True, False]
    assert all(each["timecode_out"] > each["timecode_in"] for each in takes)
    page.close()


def test_what_one_device_writes_the_other_shows_and_both_are_kept(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    first, trouble = visits.open("/floor?day=day-2", "phone")
    other, more = visits.open("/floor?day=day-2", "tablet")
    for page, who in ((first, "Idris"), (other, "Runa")):
        page.locator("#floor-other > summary").click()
        page.fill("#other-pack", "pack-09")
        page.fill("#other-who", who)
    first.locator("#floor-other button[type=submit]").click()
    other.locator("#floor-other button[type=submit]").click()
    lines = counted(own_show, visits, "day-2", 2, first)
    assert {each["fields"]["character"] for each in lines} == {"Idris", "Runa"}
    expect(first.locator("#floor-recent + ul, .recent")).to_contain_text("Pack pack-09 on Runa")
    pack = first.locator("#pack-pack-09")
    pack.get_by_role("button", name="Battery changed").click()
    expect(other.locator("#pack-pack-09")).to_contain_text("Battery changed")
    first.locator("#floor-undo").click()
    expect(other.locator("#pack-pack-09")).to_contain_text("nobody wrote it down")
    assert trouble.said == more.said == []
    first.close()
    other.close()


def test_a_floor_touched_in_a_gap_is_sent_with_its_moment(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    """The tablet's own clock is a minute and a half ahead; the log has the time of the machine that serves."""
    visits = own_visits(own_show)
    page = visits.context("phone").new_page()
    page.add_init_script("const real = Date.now.bind(Date); Date.now = () => real() + 90_000;")
    page.goto(f"{own_show.home}/floor?day=day-3")
    page.wait_for_function("() => Object.keys(localStorage).some((name) => name.startsWith('rollsound-skew-'))")
    own_show.kill()
    page.fill("#note-text", "Wind rises on the quay")
    page.locator("form[data-log=note] button[type=submit]").click()
    pressed = time.time()
    expect(page.locator("#log-waiting li")).to_contain_text("Wind rises on the quay")
    page.wait_for_timeout(2_000)
    own_show.start()
    expect(page.locator("#connection")).to_be_hidden(timeout=BACK_WITHIN_MS)
    (line,) = counted(own_show, visits, "day-3", 1, page)
    assert abs(datetime.fromisoformat(line["at"]).timestamp() - pressed) < 1.5
    expect(page.locator(".recent")).to_contain_text("Wind rises on the quay")
    expect(page.locator("#note-text")).to_have_value("")
    page.close()


@pytest.mark.source("rollsound.timecode, proved there against SMPTE ST 12-1", kind="library")
def test_the_pages_clock_counts_as_the_library_does(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    page, _ = own_visits(own_show).open("/takes?day=day-5")
    chance = random.Random(7)
    asked, expected = [], []
    for name in RATES:
        rate = Rate.parse(name)
        told = {
            "numerator": rate.numerator,
            "denominator": rate.denominator,
            "nominal": rate.nominal,
            "drop": rate.drop,
        }
        counts = [0, 1, rate.frames_per_day - 1, rate.nominal * 60 - 1, rate.nominal * 60, rate.nominal * 600]
        for frames in [*counts, *(chance.randrange(rate.frames_per_day) for _ in range(200))]:
            label = str(Timecode.from_frames(frames, rate))
            seconds = chance.randrange(40_000)
            passed = rate.numerator * seconds * 1000 // (rate.denominator * 1000)
            asked.append([told, frames, label, seconds])
            expected.append([label, frames, str(Timecode.from_frames(frames + passed, rate))])
    found = page.evaluate(
        """async ([address, asked]) => {
          const { framesOf, labelAt, labelOf } = await import(address);
          return asked.map(([rate, frames, label, seconds]) => [
            labelOf(frames, rate), framesOf(label, rate), labelAt(seconds * 1000, { timecode: label, atMs: 0 }, rate)]);
        }""",
        [static_url("js/timecode.js"), asked],
    )
    assert found == expected
    page.close()
