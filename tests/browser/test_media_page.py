"""Media in a browser: a take's waveforms are drawn, it is heard from keys and from findings, and jobs show how far."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browsing import SIZES, SIZES_OF_ALL, Visits
from playwright.sync_api import Page, Request, expect
from serving import RATE_HZ, Served, new_show

# How many kinds of columns there are, told by where each of them is not paper.
_COLUMNS = """() => {
  const canvas = document.querySelector("canvas.waves");
  if (!canvas || !canvas.width || !canvas.height) return 0;
  const copy = new OffscreenCanvas(canvas.width, canvas.height).getContext("2d", { willReadFrequently: true });
  copy.drawImage(canvas, 0, 0);  // reading the page's own again and again makes the browser advise against it
  const { data } = copy.getImageData(0, 0, canvas.width, canvas.height);
  const counts = new Map();
  for (let at = 0; at < data.length; at += 4) {
    const colour = (data[at] << 24) | (data[at + 1] << 16) | (data[at + 2] << 8) | data[at + 3];
    counts.set(colour, (counts.get(colour) ?? 0) + 1);
  }
  const paper = [...counts].sort((a, b) => b[1] - a[1])[0][0];
  const shapes = new Set();
  for (let x = 0; x < canvas.width; x += 1) {
    let shape = "";
    for (let y = 0; y < canvas.height; y += 1) {
      const at = 4 * (y * canvas.width + x);
      const colour = (data[at] << 24) | (data[at + 1] << 16) | (data[at + 2] << 8) | data[at + 3];
      shape += colour === paper ? "0" : "1";
    }
    shapes.add(shape);
  }
  return shapes.size;
}"""
# A picture without a wave has only rules and the mark of the place: a few kinds of columns.
_FEW, _MANY = 6, 30


def _is_sound(request: Request) -> bool:
    return re.search(r"/api/v1/media/[0-9a-f]+/listen\?", request.url) is not None


def _open_take(visits: Visits, size: str, name: str) -> tuple[Page, list[str]]:
    page, trouble = visits.open("/media", size)
    page.locator("main a[href^='/media/']", has_text=name).first.click()
    page.wait_for_url(re.compile(r"/media/[0-9a-f]+$"))
    return page, trouble.said


@pytest.mark.parametrize("size", SIZES_OF_ALL["tablet"])
def test_a_take_is_drawn_and_heard_by_the_space_bar(visits: Visits, size: str) -> None:
    page, said = _open_take(visits, size, "NF04_S214_T1")
    page.select_option("[data-height]", "16")  # the take is soft
    page.wait_for_function(f"() => ({_COLUMNS})() > {_MANY}")
    page.locator(".lanes").focus()
    with page.expect_response(lambda answer: _is_sound(answer.request)) as heard:
        page.keyboard.press("Space")
    assert heard.value.status == 200
    assert heard.value.headers["content-type"] == "audio/wav"
    expect(page.locator("[data-do=play]")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Space")
    expect(page.locator("[data-do=play]")).to_have_attribute("aria-pressed", "false")
    assert said == []
    page.close()


def test_a_picture_without_its_wave_is_not_taken_for_one(visits: Visits) -> None:
    context = visits.another()
    context.route("**/waveform?*", lambda route: route.fulfill(status=404, json={"detail": "gone"}))
    page = context.new_page()
    page.goto(f"{visits.served.home}/media")
    page.locator("main a[href^='/media/']", has_text="NF04_S214_T1").first.click()
    expect(page.locator("[data-trouble]")).not_to_be_empty()
    page.select_option("[data-height]", "16")
    page.wait_for_timeout(300)
    assert page.evaluate(f"() => ({_COLUMNS})()") <= _FEW
    context.close()


@pytest.mark.parametrize("size", SIZES_OF_ALL["phone"])
def test_a_finding_is_heard_at_its_spot_and_not_loud(visits: Visits, size: str) -> None:
    page, said = _open_take(visits, size, "NF04_S214_T2")
    page.locator("[data-level]").fill("90")
    spot = page.locator(".finding button[data-spot]").first
    start, track = (int(spot.get_attribute(f"data-{name}") or "-1") for name in ("start", "track"))
    assert start > RATE_HZ
    with page.expect_request(_is_sound) as asked:
        spot.click()
    assert f"track={track}" in asked.value.url
    assert f"from={start - RATE_HZ}" in asked.value.url
    assert page.input_value("[data-level]") == "20"  # what was set for another spot may be far too loud for this one
    assert said == []
    page.close()


@pytest.fixture
def recorded(tmp_path: Path) -> Iterator[Served]:
    """A show of one's own with media."""
    with Served(new_show(tmp_path)) as made:
        yield made


# Of its list of jobs the page's laws look at every size anyway.
@pytest.mark.parametrize("size", SIZES_OF_ALL["phone"])
def test_a_job_shows_how_far_it_is_and_what_came_of_it(
    recorded: Served, own_visits: Callable[[Served], Visits], size: str
) -> None:
    visits = own_visits(recorded)
    page, trouble = visits.open("/media", size)
    jobs = page.locator("#media-jobs li[data-job]")
    assert jobs.count() == 0
    page.click("#measure")
    expect(jobs.locator("progress")).to_be_visible()
    expect(jobs).to_have_attribute("data-state", "done", timeout=40_000)
    expect(jobs.locator("progress")).to_have_count(0)
    assert trouble.said == []


@pytest.mark.parametrize("size", ["laptop", "phone"])
def test_the_answer_comes_first_then_the_picture_then_what_it_is_worked_with(visits: Visits, size: str) -> None:
    page, _ = _open_take(visits, size, "NF04_S214_T2")
    tops = page.evaluate(
        """() => Object.fromEntries(
        ["h1", ".lede", ".media-amiss li", ".lanes", "#hearing", "[data-do=play]", ".finding"]
        .map((each) => [each, document.querySelector(`main ${each}`).getBoundingClientRect().top + scrollY]))"""
    )
    assert list(tops) == sorted(tops, key=lambda each: float(tops[each])), tops
    assert tops[".lanes"] < SIZES[size][1] * 2 / 3, "a third of the first screen is the picture's"
    work = page.evaluate(
        """() => [...document.querySelectorAll("main button, main input, main select")]
        .filter((each) => !each.closest(".lanes"))
        .map((each) => each.getBoundingClientRect().top + scrollY)"""
    )
    assert min(work) > tops[".lanes"]
    page.close()
