"""Proofs of the radio part: each holds, fails where it should, and is silent where there is nothing to prove."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from radio_parts import REGION, pack, part

from rollsound.finding import Area, Finding, Weight
from rollsound.radio.asking import asked
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.task import Occupied
from rollsound.radio.model import RadioPart
from rollsound.radio.naming import names_wrong
from rollsound.radio.per_site import site_tasks, together
from rollsound.radio.proofs import carriers_of, proofs
from rollsound.radio.scan import ScanLevels, read

MHZ = 1_000_000
HERE = {"region": "here", "regions": [REGION]}


def proven(radio: RadioPart, scans: Mapping[str, ScanLevels] | None = None, **more: Any) -> list[Finding]:
    """All findings, the audit made of every site."""
    tasks = site_tasks(radio, scans=scans)
    carriers = carriers_of(radio)
    checked = together([audit(task, carriers) for task in tasks.values()])
    return proofs(radio, asked(radio, scans=scans), checked, carriers, tasks=tuple(tasks.values()), **more)


def of(found: list[Finding], kind: str) -> list[tuple[str, str]]:
    """Weight and sentence of one check."""
    return [(each.weight.value, each.what) for each in found if each.kind == kind]


def sent(id: str, mhz: float, **more: Any) -> dict[str, Any]:
    return pack(id, frequency=f"{mhz} MHz", **more)


CLEAN = (sent("a", 500), sent("b", 500.5), sent("c", 501.3))


def test_an_empty_radio_part_proves_nothing() -> None:
    assert proven(RadioPart()) == []


def test_a_plan_that_holds() -> None:
    found = proven(part(*CLEAN, **HERE))
    assert {each.weight for each in found if each.kind != "exposure screening"} == {Weight.FINE}
    assert of(found, "carrier chosen") == [("fine", "All 3 transmitters have a carrier.")]
    assert of(found, "carriers clean") == [
        ("fine", "All 3 carriers are clean; the smallest margin is 100 kHz, of A, set by B.")
    ]
    assert of(found, "inside tuning")[0][0] == "fine"
    assert of(found, "occupied spectrum") == []  # nothing is occupied
    assert of(found, "spares") == []
    assert of(found, "control links") == []
    assert of(found, "strong neighbour") == []
    assert [each for each in found if each.area is Area.REACH] == []
    (region,) = of(found, "region limits")
    assert region[0] == "fine"
    assert "check your licence and local rules" in region[1].lower()
    margin = next(each for each in found if each.kind == "carriers clean")
    assert margin.numbers["margin_khz"] == 100.0
    assert all(each.source for each in found)


def test_a_check_without_an_audit_says_only_what_it_can() -> None:
    radio = part(*CLEAN)
    kinds = {each.kind for each in proofs(radio, asked(radio))}
    assert "carrier chosen" in kinds
    assert not kinds & {"carriers clean", "inside tuning", "occupied spectrum", "products heard"}


def test_carriers_that_are_not_chosen() -> None:
    none = of(proven(part(pack("a"), pack("b"))), "carrier chosen")
    assert none == [("watch", "No carrier is chosen yet for 2 transmitters.")]
    some = of(proven(part(*CLEAN, pack("d"), pack("e", priority=1), pack("f", on_air=True))), "carrier chosen")
    assert some == [
        ("watch", "D has no carrier."),
        ("stop", "E has no carrier."),
        ("stop", "F is on the air, and the plan has no carrier for it."),
    ]


def test_mistakes_are_told_with_their_place() -> None:
    radio = part(*CLEAN, pack("d", step="35 kHz", worn="shoe"))
    told = [each for each in proven(radio) if each.kind == "radio plan"]
    assert [each.weight for each in told] == [Weight.STOP, Weight.STOP]
    assert told[0].what.startswith("The radio part, transmitters d, step: is 35 kHz, which does not divide")
    assert [each.refs[0].path for each in told] == [
        "plan#/radio/transmitters/d/step",
        "plan#/radio/transmitters/d/worn",
    ]


def test_a_carrier_on_a_product_of_others() -> None:
    found = proven(part(*CLEAN, sent("d", 501.0)))  # 2 × 500.5 − 500.0
    told = [each for each in found if each.kind == "carriers clean"]
    hits = {each.subject: each for each in told}
    assert "D is hit by 2 × B − A at 501 MHz: 0 kHz away, where 100 kHz are asked for" in hits["D"].what
    assert hits["D"].weight is Weight.STOP  # nobody says how strong it is
    assert hits["D"].refs[0].path == "plan#/radio/transmitters/d/frequency"
    assert hits["D"].numbers["margin_khz"] == -100.0


def heard_at(power: str) -> dict[str, Finding]:
    """The same hit, at a receiver of known intercept."""
    rack = {"id": "rack", "name": "Rack", "channels": 4, "hears": ["a", "b", "c", "d"]}
    found = proven(part(*[{**each, "power": power} for each in (*CLEAN, sent("d", 501.0))], receivers=[rack]))
    return {each.kind + each.subject: each for each in found}


def test_a_product_under_the_noise_only_deserves_a_look() -> None:
    quiet, loud = heard_at("0.5 mW"), heard_at("250 mW")
    assert quiet["carriers cleanD"].weight is Weight.WATCH
    assert "under the noise" in quiet["carriers cleanD"].why
    assert quiet["products heardproducts"].weight is Weight.FINE
    assert "No product will be heard; the strongest, at rack, is" in quiet["products heardproducts"].what
    assert loud["carriers cleanD"].numbers["over_noise_db"] > 0


def test_products_that_will_be_heard_are_named() -> None:
    rack = {"id": "rack", "name": "Rack", "channels": 3, "hears": ["a", "b", "d"], "model": "weak"}
    kinds = [{"id": "weak", "intercept": "-25 dBm"}]
    far = {"power": "2 mW"}
    radio = part(
        sent("a", 500, power="250 mW"),
        sent("b", 500.5, power="250 mW"),
        sent("d", 501.0, **far),
        receivers=[rack],
        receiver_kinds=kinds,
    )
    (weight, sentence), *_ = of(proven(radio), "products heard")
    assert weight == "watch"
    assert "At rack a product of B and A at 501 MHz, 0 kHz from D, will be heard" in sentence


def test_fixed_carriers_that_harm_each_other_are_told_as_unavoidable() -> None:
    radio = part(*[{**each, "fixed": True} for each in (*CLEAN, sent("d", 501.0))])
    found = proven(radio)
    assert of(found, "carriers clean")[0][0] == "fine"
    (weight, sentence), *_ = of(found, "fixed carriers")
    assert weight == "watch"
    assert "all of them are fixed" in sentence


TUNING: dict[str, tuple[dict[str, Any], str]] = {
    "range": (sent("a", 541.95), "A leaves the range that it can tune to and may use, which ends at 542 MHz"),
    "raster": (sent("a", 500.01), "A lies 10 kHz off its raster; the next place is 500 MHz"),
}


@pytest.mark.parametrize(("one", "said"), TUNING.values(), ids=list(TUNING))
def test_carriers_where_nothing_tunes(one: dict[str, Any], said: str) -> None:
    ((weight, sentence),) = of(proven(part(one)), "inside tuning")
    assert weight == "stop"
    assert said in sentence


def test_a_window_too_narrow_for_what_it_hears() -> None:
    rack = {"id": "rack", "name": "Rack", "channels": 3, "window": "1 MHz", "hears": ["a", "b", "c"]}
    ((weight, sentence),) = of(proven(part(*CLEAN, receivers=[rack])), "inside tuning")
    assert weight == "stop"
    assert "more than the window of rack, 1,000 kHz" in sentence


def test_occupied_spectrum() -> None:
    tv = {"id": "tv", "range": "500.2-508 MHz", "guard": "100 kHz", "why": "television 25"}
    found = of(proven(part(*CLEAN, excluded=[tv])), "occupied spectrum")
    assert [each[0] for each in found] == ["stop", "stop"]  # A keeps its guard to the hertz
    assert any("B lies in occupied spectrum (television 25)" in each[1] for each in found)
    near = of(proven(part(*CLEAN, excluded=[{**tv, "range": "500.15-500.2 MHz"}])), "occupied spectrum")
    assert near == [
        (
            "stop",
            "A lies 150 kHz from occupied spectrum at 500.150 MHz (television 25), where 200 kHz are asked for.",
        )
    ]
    clear = of(proven(part(*CLEAN, excluded=[{**tv, "range": "510-518 MHz"}])), "occupied spectrum")
    assert clear == [("fine", "Every carrier is clear of occupied spectrum: 1 range, guard and all.")]


def test_a_strange_carrier_on_the_scan() -> None:
    levels = read("MHz;dBm\n500.4;-100\n500.5;-55\n500.6;-100\n", "noon.csv")
    radio = part(*CLEAN, scans=[{"id": "noon", "file": "noon.csv"}])
    found = of(proven(radio, {"noon": levels}), "occupied spectrum")
    assert found == [("stop", "B lies in occupied spectrum (scan noon, −55 dBm).")]


def test_what_is_occupied_elsewhere_harms_nobody_here() -> None:
    tv = {"id": "tv", "range": "500.2-508 MHz", "sites": ["quay"]}
    on_deck = [{**each, "sites": ["deck"]} for each in CLEAN]
    found = proven(part(*on_deck, sent("d", 501.0, sites=["quay"]), excluded=[tv]))
    assert [each[1].split()[0] for each in of(found, "occupied spectrum")] == ["D"]
    assert of(found, "carriers clean")[0][0] == "fine"  # and the product of those on the deck never meets it


REGIONS: dict[str, tuple[dict[str, Any], str, str]] = {
    "too strong": (sent("a", 500, power="250 mW"), "stop", "more than the 50 mW e.r.p. listed"),
    "too wide": (sent("a", 500, width="300 kHz"), "watch", "300 kHz wide is more than the 200 kHz listed"),
    "not listed": (sent("a", 650, tuning="470-700 MHz", kind="monitor"), "stop", "not listed whole for a monitor"),
    "edge": (sent("a", 470.05), "stop", "469.95 to 470.15 MHz is not listed whole"),
}


@pytest.mark.parametrize(("one", "weight", "said"), REGIONS.values(), ids=list(REGIONS))
def test_limits_of_the_region(one: dict[str, Any], weight: str, said: str) -> None:
    radio = part(one, **HERE)
    (found,) = [each for each in proofs(radio, asked(radio)) if each.kind == "region limits"]
    assert found.weight.value == weight
    assert said in found.what
    assert "licence and local rules" in found.remedy


def test_a_limit_from_memory_only_deserves_a_look() -> None:
    band = {"id": "b", "range": "470-600 MHz", "power": "10 mW", "status": "from memory", "source": "a decree"}
    radio = part(sent("a", 500, power="50 mW"), region="x", regions=[{"id": "x", "name": "X", "bands": [band]}])
    (found,) = [each for each in proven(radio) if each.kind == "region limits"]
    assert found.weight is Weight.WATCH
    assert found.source == "a decree (from memory)"


def test_without_a_region_nothing_is_held_against_limits() -> None:
    ((weight, sentence),) = of(proven(part(*CLEAN)), "region limits")
    assert weight == "watch"
    assert sentence.startswith("The plan names no region")


def test_spares() -> None:
    missing = of(proven(part(*CLEAN, sent("d", 505, spares_wanted=2, spare_frequencies=["506 MHz"]))), "spares")
    assert missing == [("watch", "Spare frequencies are missing: D (1 of 2).")]
    held = of(proven(part(*CLEAN, sent("d", 505, spares_wanted=1, spare_frequencies=["506.2 MHz"]))), "spares")
    assert held == [("fine", "All 1 spare frequencies are clear of every carrier and of each other.")]
    hit = of(proven(part(*CLEAN, sent("d", 505, spares_wanted=1, spare_frequencies=["501 MHz"]))), "spares")
    assert hit[0][0] == "watch"
    assert "D's spare 501 MHz" in hit[0][1]


def test_control_links_and_networks() -> None:
    meshed = {"id": "mesh", "name": "Mixer link", "kind": "802.15.4", "channel": 12}
    network = {"id": "net", "name": "Video village", "channel": 1}
    clash = of(proven(part(control=[meshed, network])), "control links")
    assert clash[0][0] == "watch"
    assert "Mixer link" in clash[0][1]
    fine = of(proven(part(control=[{**meshed, "channel": 26}, network])), "control links")
    assert fine == [("fine", "Of 2 links and networks none lies over another, and none must give way to radar.")]
    nowhere = of(proven(part(control=[{**network, "channel": 20}])), "control links")
    assert nowhere[0][0] == "stop"


ANTENNA = {"id": "a1", "at": "0, 0 m", "cable_length": "4 m"}
GROUND: dict[str, Any] = {"id": "deck", "width": "60 m", "depth": "30 m", "antennas": [ANTENNA], "walls": []}


def test_a_router_by_an_antenna() -> None:
    def told(at: str) -> list[tuple[str, str]]:
        network = {"id": "net", "name": "Router", "channel": 36, "ground": "deck", "at": at}
        return of(proven(part(control=[network], grounds=[GROUND])), "router near antenna")

    assert told("0.5, 0 m")[0][0] == "watch"
    assert told("5, 0 m") == [("fine", "Every network stands clear of the receive antennas.")]


def test_a_monitor_transmitter_by_an_antenna() -> None:
    def told(at: str, power: str) -> list[tuple[str, str]]:
        stands = [{"id": "cart", "at": at}]
        ears = sent("ears", 530, kind="monitor", stand="cart", power=power)
        rack = {"id": "rack", "name": "Rack", "channels": 3, "hears": ["a", "b", "c"]}
        return of(
            proven(part(*CLEAN, ears, receivers=[rack], grounds=[{**GROUND, "stands": stands}])), "strong neighbour"
        )

    ((weight, sentence),) = told("0.6, 0 m", "250 mW")
    assert weight in ("watch", "stop")
    assert "EARS stands" in sentence
    assert told("40, 10 m", "50 mW")[0][0] == "fine"


def test_exposure_is_screened_in_cautious_words() -> None:
    (above,) = [each for each in proven(part(sent("a", 500, power="50 mW"))) if each.kind == "exposure screening"]
    assert above.weight is Weight.WATCH
    assert "no finding of harm" in above.why
    assert "A (50 mW)" in above.what
    told = f"{above.what} {above.why} {above.remedy}".lower()
    assert " safe" not in told
    assert "dangerous" not in told
    looked = of(proven(part(sent("a", 500, power="50 mW", exposure_checked=True))), "exposure screening")
    assert looked[0][0] == "fine"
    low = of(proven(part(sent("a", 500, power="2 mW"))), "exposure screening")
    assert low[0][0] == "fine"
    assert "no promise" in low[0][1]
    assert of(proven(part(sent("a", 500, kind="boom", power="250 mW"))), "exposure screening") == []


def reach(**more: Any) -> list[Finding]:
    near = {"id": "near", "name": "By the rail", "outline": "2, 2; 6, 2; 6, 6; 2, 6 m"}
    far = {"id": "far", "name": "The far end", "outline": "2000, 2; 2010, 2; 2010, 6 m"}
    ground = {**GROUND, "width": "3000 m", "areas": [near, far], **more}
    rack = {"id": "rack", "name": "Rack", "channels": 3, "hears": ["a", "b", "c"], "antennas": ["a1"]}
    return [each for each in proven(part(*CLEAN, receivers=[rack], grounds=[ground])) if each.area is Area.REACH]


def test_reach_of_acting_areas_and_walking_lines() -> None:
    near, far, walk = reach(lines=[{"id": "walk", "name": "Along the rail", "line": "2, 2; 20, 2 m"}])
    assert (near.weight, near.kind) == (Weight.FINE, "reach of acting area")
    assert near.what.startswith("On deck, all are heard all over 'By the rail' for 9")
    assert (far.weight, far.numbers["held_percent"]) == (Weight.STOP, 0.0)
    assert "is heard for only" in far.what
    assert far.refs[0].path == "plan#/radio/grounds/deck/areas/far"
    assert (walk.kind, walk.weight) == ("reach of walking line", Weight.FINE)
    assert reach(areas=[]) == []
    assert reach(antennas=[]) == []


def test_the_layout_that_serves_best_is_named() -> None:
    poor = {**ANTENNA, "id": "a2", "at": "2900, 20 m", "layouts": ["at the cart"]}
    near, _ = reach(antennas=[{**ANTENNA, "layouts": ["on the set"]}, poor])
    assert near.what.endswith("with the layout on the set.")
    (nothing,) = reach(antennas=[{**ANTENNA, "layouts": ["x"], "cable": "string"}])
    assert (nothing.kind, nothing.weight) == ("reach plan", Weight.WATCH)


def test_shares_are_never_rounded_up() -> None:
    from rollsound.radio.reach_proofs import _percent

    assert _percent(0.98999) == "98.9 %"
    assert _percent(0.99) == "99 %"
    assert _percent(1.0) == "100 %"


NAMES: dict[str, tuple[RadioPart, str]] = {
    "worn": (part(pack(worn="shoe")), "/radio/transmitters/p1/worn"),
    "stand": (part(pack(stand="cart"), grounds=[GROUND]), "/radio/transmitters/p1/stand"),
    "antenna of a receiver": (
        part(receivers=[{"id": "r", "name": "R", "antennas": ["a9"]}], grounds=[GROUND]),
        "/radio/receivers/r/antennas",
    ),
    "kind of receiver": (part(receivers=[{"id": "r", "name": "R", "model": "x"}]), "/radio/receivers/r/model"),
    "ground of a link": (part(control=[{"id": "n", "channel": 1, "ground": "x"}]), "/radio/control/n/ground"),
    "kind of antenna": (
        part(grounds=[{**GROUND, "antennas": [{**ANTENNA, "model": "dish"}]}]),
        "/radio/grounds/deck/antennas/a1/model",
    ),
    "cable": (
        part(grounds=[{**GROUND, "antennas": [{**ANTENNA, "cable": "string"}]}]),
        "/radio/grounds/deck/antennas/a1/cable",
    ),
    "material": (
        part(grounds=[{**GROUND, "walls": [{"id": "w", "line": "0, 0; 1, 1 m", "material": "cheese"}]}]),
        "/radio/grounds/deck/walls/w/material",
    ),
    "stand of a reading": (
        part(grounds=[{**GROUND, "readings": [{"id": "r1", "stand": "x", "level": "-60 dBm"}]}]),
        "/radio/grounds/deck/readings/r1/stand",
    ),
    "antenna of a reading": (
        part(grounds=[{**GROUND, "readings": [{"id": "r1", "at": "1, 1 m", "antenna": "x"}]}]),
        "/radio/grounds/deck/readings/r1/antenna",
    ),
    "transmitter of a reading": (
        part(grounds=[{**GROUND, "readings": [{"id": "r1", "at": "1, 1 m", "transmitter": "x"}]}]),
        "/radio/grounds/deck/readings/r1/transmitter",
    ),
}


@pytest.mark.parametrize(("radio", "path"), NAMES.values(), ids=list(NAMES))
def test_names_that_point_at_nothing(radio: RadioPart, path: str) -> None:
    (wrong,) = names_wrong(radio)
    assert wrong.path == path
    assert "which is not there" in wrong.sentence
    assert any(each.weight is Weight.STOP for each in proofs(radio, asked(radio)))  # and nothing stumbles over it


def test_names_of_sites() -> None:
    radio = part(
        pack(sites=["dekc"]),
        excluded=[{"id": "x", "range": "480-490 MHz", "sites": ["mars"]}],
        grounds=[GROUND],
    )
    found = {each.path: each.sentence for each in names_wrong(radio, ["deck"])}
    assert set(found) == {"/radio/transmitters/p1/sites", "/radio/excluded/x/sites"}
    assert "perhaps 'deck' was meant" in found["/radio/transmitters/p1/sites"]
    assert names_wrong(radio) == ()


def test_sites_are_asked_one_by_one() -> None:
    radio = part(
        pack("a", sites=["deck"]),
        pack("b"),
        excluded=[{"id": "x", "range": "480-490 MHz", "guard": "0 kHz", "sites": ["quay"]}],
    )
    tasks = site_tasks(radio, site_ids=["deck", "quay", "chapel", "hall"])
    assert {site: [each.id for each in task.wanted] for site, task in tasks.items()} == {
        "deck": ["a", "b"],
        "quay": ["b"],
        "": ["b"],
    }
    assert tasks["quay"].occupied == (Occupied(480 * MHZ, 490 * MHZ, 0, "excluded: x"),)
    assert tasks["deck"].occupied == tasks[""].occupied == ()
    assert list(site_tasks(part(pack()))) == [""]
    assert set(site_tasks(radio, site_ids=["deck", "quay"])) == {"deck", "quay"}
