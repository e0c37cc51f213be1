"""Two people at two browsers: each sees what the other does, and the same field is never decided in silence."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from browsing import Trouble, Visits, open_in
from playwright.sync_api import Page, expect
from serving import Served


@dataclass
class Two:
    """Ines at the mixer's machine, Mattis at a device that joined by a code."""

    served: Served
    visits: Visits
    ines: Page
    mattis: Page
    troubles: tuple[Trouble, Trouble]


@pytest.fixture
def two(own_show: Served, own_visits: Callable[[Served], Visits]) -> Iterator[Two]:
    visits = own_visits(own_show)
    ines, first = visits.open("/settings")
    _give_role(ines, "mattis", "mixer")
    expect(ines.locator("#code-person option[value=mattis]")).to_contain_text("mixer")
    ines.select_option("#code-person", "mattis")
    ines.click("#make-code button[type=submit]")
    code = ines.locator(".joining .code").inner_text().replace(" ", "")
    context = visits.another("tablet", state={})
    joining = context.new_page()
    joining.goto(f"{own_show.home}/join?code={code}")
    joining.fill("input[name=name]", "Tablet of Mattis")
    joining.click("button[type=submit]")
    joining.wait_for_url(lambda url: "/join" not in url)
    joining.close()
    mattis, second = open_in(context, f"{own_show.home}/settings")
    yield Two(own_show, visits, ines, mattis, (first, second))
    context.close()


def _open(page: Page, person: str) -> None:
    page.locator(f"#change-{person} > summary").click()


def _give_role(page: Page, person: str, role: str) -> None:
    if not page.locator(f"#role-{person}").is_visible():
        _open(page, person)
    page.select_option(f"#role-{person}", role)
    _save(page, person)


def _save(page: Page, person: str) -> None:
    page.locator(f"#person-{person} button[type=submit]").click()


def _outcome(page: Page, person: str) -> str:
    return page.locator(f"#person-{person} [data-outcome]").inner_text()


def test_both_see_what_both_change_and_what_is_being_typed_stays(two: Two) -> None:
    _open(two.mattis, "corin")
    two.mattis.fill("#job-corin", "Third boom, being typed")
    _open(two.ines, "zeynep")
    two.ines.fill("#job-zeynep", "Second boom, sung scenes")
    _save(two.ines, "zeynep")
    expect(two.mattis.locator("#settings-people tr", has_text="Second boom, sung scenes")).to_be_visible()
    assert two.mattis.input_value("#job-corin") == "Third boom, being typed"
    _save(two.mattis, "corin")
    expect(two.ines.locator("#settings-people tr", has_text="Third boom, being typed")).to_be_visible()
    people = [entry["person"] for entry in two.served.history(two.visits.cookies())[:2]]
    assert people == ["Mattis Øverdal", "Ines Kallio-Barros"]
    assert [trouble.said for trouble in two.troubles] == [[], []]


def test_the_same_field_is_told_with_both_values_and_names(two: Two) -> None:
    for page, job in ((two.ines, "Boom for the choir"), (two.mattis, "Boom for the deck")):
        _open(page, "corin")
        page.fill("#job-corin", job)
    _save(two.ines, "corin")
    expect(two.ines.locator("#settings-people tr", has_text="Boom for the choir")).to_be_visible()
    _save(two.mattis, "corin")
    expect(two.mattis.locator("#person-corin [data-outcome]")).to_contain_text("Boom for the choir")
    told = _outcome(two.mattis, "corin")
    assert all(part in told for part in ("Boom for the choir", "Boom for the deck", "Ines", "Mattis")), told
    assert two.mattis.input_value("#job-corin") == "Boom for the deck"  # what was typed is not lost
    newest = two.served.history(two.visits.cookies())[0]
    assert (newest["person"], newest["changes"][0]["after"]) == ("Ines Kallio-Barros", "Boom for the choir")


def test_different_fields_of_one_person_are_both_kept(two: Two) -> None:
    _open(two.ines, "corin")
    _open(two.mattis, "corin")
    two.ines.fill("#job-corin", "Third boom and cables")
    two.mattis.fill("#name-corin", "Corin Pascoe-Lund")
    _save(two.ines, "corin")
    expect(two.ines.locator("#settings-people tr", has_text="Third boom and cables")).to_be_visible()
    _save(two.mattis, "corin")
    row = two.ines.locator("#settings-people tr", has_text="Corin Pascoe-Lund")
    expect(row).to_contain_text("Third boom and cables")


def test_a_device_is_told_of_its_persons_new_role_and_of_their_leaving(two: Two) -> None:
    _give_role(two.ines, "mattis", "guest")
    notice = two.mattis.locator("#notices")
    expect(notice).to_contain_text("Your role in this show is now guest.")
    expect(two.mattis.locator("#make-code")).to_have_count(0)  # parts that follow the plan offer it no more
    notice.get_by_role("button", name="Show the page anew").click()
    expect(two.mattis.locator(".you")).to_contain_text("guest")
    expect(two.mattis.locator("#notices")).to_be_empty()
    two.ines.request.delete(
        f"{two.served.home}/api/v1/people/mattis",
        headers={
            "origin": two.served.home,
            "x-rollsound-token": two.ines.locator("meta[name=rollsound-token]").get_attribute("content") or "",
            "idempotency-key": "mattis-leaves-the-crew",
        },
    )
    expect(two.mattis.locator("#connection")).to_contain_text("Mattis Øverdal is not in the show's plan any more")
    two.mattis.reload()
    expect(two.mattis.locator("main .refused")).to_contain_text("Mattis Øverdal is not in the show's plan any more")
