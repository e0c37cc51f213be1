"""Proofs where only the worst relations are listed, of one site alone, and of spares held against a receiver."""

from __future__ import annotations

from typing import Any

from radio_parts import pack, part

from rollsound.finding import Weight
from rollsound.radio.asking import asked
from rollsound.radio.carriers.audit import audit
from rollsound.radio.per_site import site_tasks, together
from rollsound.radio.proofs import MOST_TOLD, carriers_of, proofs


def sent(id: str, mhz: float, **more: Any) -> dict[str, Any]:
    return pack(id, frequency=f"{mhz:g} MHz", **more)


def test_a_carrier_below_nothing_is_never_fine_because_others_are_worse() -> None:
    radio = part(*(sent(f"p{n:02}", 480 + 0.4 * n) for n in range(MOST_TOLD - 2)))
    task = asked(radio).task
    carriers = carriers_of(radio)
    found = audit(task, carriers, listed=1)
    assert len({hold.hit for hold in found.broken}) == 1
    told = [each for each in proofs(radio, asked(radio), found, carriers) if each.kind == "carriers clean"]
    assert {each.subject for each in told} == {t.name for t in radio.transmitters}
    assert {each.weight for each in told} == {Weight.STOP}


def test_of_one_site_only_its_transmitters_are_told() -> None:
    radio = part(sent("a", 500, sites=["deck"]), pack("b", sites=["quay"]))
    asking = asked(radio, sites=["deck"])
    carriers = carriers_of(radio)
    here = {each.id for each in asking.task.wanted}
    found = proofs(radio, asking, audit(asking.task, carriers), carriers, asked_for=here)
    assert [each.what for each in found if each.kind == "carrier chosen"] == ["The one transmitter has a carrier."]
    everywhere = proofs(radio, asked(radio), audit(asked(radio).task, carriers), carriers)
    assert [each.what for each in everywhere if each.kind == "carrier chosen"] == ["B has no carrier."]


def test_a_spare_lies_in_the_window_of_its_receiver_with_its_own_carrier_gone() -> None:
    def told(spare: str) -> list[str]:
        two = (sent("a", 500, spare_frequencies=[f"{spare} MHz"]), sent("b", 505))
        radio = part(*two, receivers=[{"id": "r", "name": "R", "channels": 2, "hears": ["a", "b"], "window": "8 MHz"}])
        asking = asked(radio)
        found = proofs(radio, asking, audit(asking.task, carriers_of(radio)))
        return [each.what for each in found if each.kind == "spares" and each.weight is not Weight.FINE]

    assert told("512.7") == []  # 505 to 512.7 MHz with their widths is 7.9 MHz, though the carrier at 500 MHz is not
    assert told("513") == [
        "A's spare 513 MHz lies outside of the window of r: beside the others that it hears it has 497.200 MHz to "
        "512.800 MHz."
    ]


def test_every_spare_that_does_harm_is_told_however_many_there_are() -> None:
    close = [sent(f"p{n:02}", 480 + 1.1 * n, zone=f"z{n}", spare_frequencies=["530 MHz"]) for n in range(40)]
    radio = part(*close)  # 780 pairs of spares on one frequency
    asking = asked(radio)
    found = proofs(radio, asking, audit(asking.task, carriers_of(radio)))
    harmed = [each for each in found if each.kind == "spares" and each.weight is not Weight.FINE]
    assert len(harmed) >= 39


def test_what_one_site_counts_is_not_told_as_fewer_with_others() -> None:
    radio = part(*(sent(f"p{n:02}", 480 + 0.4 * n, sites=["deck"]) for n in range(20)), sent("q", 530, sites=["quay"]))
    audits = [audit(task, carriers_of(radio), listed=5) for task in site_tasks(radio).values()]
    whole = together(audits)
    assert len(whole.broken) < sum(audits[0].counts.values())
    assert whole.counts == audits[0].counts
