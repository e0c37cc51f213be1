"""Radio and reach on Ready: figures, scans read from the show's folder, answers kept while nothing changes."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rollsound.actions import ready_radio
from rollsound.actions.ready import _gather, ready, ready_without_media
from rollsound.actions.ready_radio import RadioProven, of_radio, radio_proven
from rollsound.demo.example import example_plan_text
from rollsound.finding import Area, Weight
from rollsound.log.model import Author
from rollsound.review.model import AreaAnswer, Place, Verdict
from rollsound.show.folder import Show

INES = Author("Ines", "ines", "here")
PLAN = """\
show: {title: Ferry}
people: [{id: ines, name: Ines, role: mixer}]
sites: [{id: deck, name: Deck}]
radio:
  region: here
  regions: [{id: here, name: Here, bands: [{id: uhf, range: 470-608 MHz, power: 50 mW}]}]
  transmitters:
    - {id: a, name: Pack A, tuning: 470-542 MHz, frequency: 500 MHz, power: 10 mW, exposure_checked: true}
    - {id: b, name: Pack B, tuning: 470-542 MHz, frequency: 500.5 MHz, power: 10 mW, exposure_checked: true}
    - {id: c, name: Pack C, tuning: 470-542 MHz, frequency: 501.3 MHz, power: 10 mW, exposure_checked: true}
  receivers: [{id: rack, name: Rack, channels: 3, hears: [a, b, c]}]
  scans: [{id: noon, file: scans/noon.csv}]
  grounds:
    - id: deck
      width: 40 m
      depth: 20 m
      antennas: [{id: a1, at: "0, 0 m"}]
      areas: [{id: rail, name: By the rail, outline: "2, 2; 6, 2; 6, 6 m"}]
"""
QUIET = "MHz;dBm\n" + "".join(f"{500 + n / 40};-100\n" for n in range(60))


@pytest.fixture
def show(tmp_path: Path) -> Show:
    made = Show.new(tmp_path / "show", PLAN, INES)
    (made.folder / "scans").mkdir()
    (made.folder / "scans" / "noon.csv").write_text(QUIET)
    return made


def area(verdict: Verdict, area: Area) -> AreaAnswer:
    return next(each for each in verdict.areas if each.area is area)


def anew(show: Show, old: str, new: str) -> Verdict:
    """The verdict after an edit."""
    text = show.text()
    assert old in text
    show.save_text(text.replace(old, new), show.revision, INES)
    return ready(show)


def test_radio_and_reach_have_their_figures(show: Show) -> None:
    with show:
        verdict = ready(show)
    radio, reach = area(verdict, Area.RADIO), area(verdict, Area.REACH)
    assert (radio.figure, radio.sentence) == ("100 kHz", "the smallest margin between carriers and products")
    assert (radio.weight, radio.holds) == (Weight.FINE, radio.total)
    assert reach.figure.startswith(("99", "100"))
    assert reach.sentence == "of the time at the weakest place: acting area By the rail"
    assert {each.what for each in verdict.held} >= {
        "radio: carriers clear of each other and of their products",
        "radio: what the plan names is there and can be",
        "reach: acting area, heard all over",
    }


def test_what_is_wrong_leads_to_where_it_is_mended(show: Show) -> None:
    with show:
        hit = anew(show, "501.3 MHz", "501 MHz")
        told = [told for told in hit.findings if told.finding.kind == "carriers clean"]
        found = next(each for each in told if each.finding.subject == "Pack C")
        assert found.place == Place(page="radio", path="/radio/transmitters/c/frequency")
        named = anew(show, "hears: [a, b, c]", "hears: [a, b, x]")
        found = next(told for told in named.findings if told.finding.kind == "radio plan")
        assert found.place == Place(page="plan", path="/radio/receivers/rack/hears")


def test_a_strange_carrier_on_the_scan_shows_at_once(show: Show) -> None:
    with show:
        assert not [told for told in ready(show).findings if told.finding.area is Area.RADIO]
        (show.folder / "scans" / "noon.csv").write_text(QUIET.replace("500.5;-100", "500.5;-60"))
        verdict = anew(show, "title: Ferry", "title: Ferries")  # the radio part stays; the file does not
        (found,) = [told.finding for told in verdict.findings if told.finding.area is Area.RADIO]
    assert (found.kind, found.subject, found.weight) == ("occupied spectrum", "Pack B", Weight.STOP)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "is not there"),
        ("", "noon.csv is empty"),
        ("MHz;dBm\n500;nan\n", "line 2"),
        ("MHz;volts\n500;3\n501;4\n", "does not say the unit"),
    ],
    ids=["missing", "empty", "broken", "without unit"],
)
def test_a_scan_that_cannot_be_read_is_told_once(show: Show, text: str | None, said: str) -> None:
    with show:
        path = show.folder / "scans" / "noon.csv"
        path.unlink() if text is None else path.write_text(text)
        verdict = ready(show)
        (found,) = [told.finding for told in verdict.findings if told.finding.area is Area.RADIO]
        assert str(show.folder) not in verdict.model_dump_json()
    assert (found.kind, found.weight) == ("scan", Weight.WATCH)
    assert said in found.what


def test_an_answer_is_kept_while_nothing_that_it_rests_on_changes(show: Show, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[int] = []
    real = ready_radio._prove
    monkeypatch.setattr(ready_radio, "_prove", lambda *given: made.append(1) or real(*given))  # type: ignore[func-returns-value]
    with show:
        ready(show)
        anew(show, "title: Ferry", "title: Ferries")
        assert len(made) == 1
        anew(show, "power: 10 mW", "power: 12 mW")
        assert len(made) == 2
        (show.folder / "scans" / "noon.csv").write_text(QUIET + "502;-99\n")
        anew(show, "title: Ferries", "title: Ferry")
        assert len(made) == 3


def test_nothing_is_claimed_of_radio_before_its_arithmetic_is_there(show: Show) -> None:
    with show:
        assert area(ready_without_media(show), Area.RADIO).total == 0


def test_one_figure_out_of_all_bounds_takes_no_other_proof_away(show: Show, monkeypatch: pytest.MonkeyPatch) -> None:
    from rollsound.errors import InputError
    from rollsound.radio import proofs

    def fails(*_: object, **__: object) -> None:
        raise InputError("a frequency is not above 0")

    monkeypatch.setattr(proofs, "proofs", fails)
    with show:
        verdict = ready(show)
    assert any("could not be proven: a frequency is not above 0." in told.finding.what for told in verdict.findings)
    assert area(verdict, Area.SIGNAL).total > 0


def test_ready_of_the_demo_is_quick_once_it_is_warm(tmp_path: Path) -> None:
    with Show.new(tmp_path / "show", example_plan_text(), INES) as show:
        verdict = ready(show)
        times = []
        for _ in range(5):
            begin = time.perf_counter()
            _gather(show, datetime.now(UTC))  # as for an edit of anything but radio
            times.append(time.perf_counter() - begin)
        assert area(verdict, Area.RADIO).total > 5
        assert area(verdict, Area.REACH).total > 2
    assert min(times) < 0.15


def test_a_finding_of_reach_leads_to_the_ground(show: Show) -> None:
    with show:
        rows = radio_proven(show.folder, show.plan()).findings
    reach = [
        each for each in rows if each.area is Area.REACH and any("/radio/grounds/" in ref.path for ref in each.refs)
    ]
    assert reach
    for proof in of_radio(RadioProven(findings=tuple(reach))):
        for told in proof.told:
            assert told.place is not None
            assert (told.place.page, told.place.id) == ("reach", "deck")
