"""Spare frequencies: as many as wanted, and clear of all carriers with every other spare switched on too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from rollsound.finding import Finding, Weight
from rollsound.quantities import several
from rollsound.radio.carriers.answer import Limit
from rollsound.radio.carriers.task import Task, Wanted
from rollsound.radio.model import RadioPart
from rollsound.radio.raster import whole
from rollsound.radio.telling import finding, hold_in_words, mhz

MOST_BROKEN = 20_000
"""Relations among which every spare that does harm is looked for."""


def spare_proofs(radio: RadioPart, tasks: Sequence[Task], carriers_hz: Mapping[str, int]) -> Iterator[Finding]:
    """Those that want spares, and those that have them; silent where there are neither."""
    asked = {each.id for task in tasks for each in task.wanted}
    wanting = [t for t in radio.transmitters if t.id in asked and (t.spares_wanted or t.spare_frequencies)]
    if not wanting:
        return
    fine = True
    lacking = [t for t in wanting if len(t.spare_frequencies) < t.spares_wanted]
    if lacking:
        fine = False
        names = several([f"{t.name} ({len(t.spare_frequencies)} of {t.spares_wanted})" for t in lacking])
        yield finding(
            Weight.WATCH,
            names if len(lacking) == 1 else "spares",
            "spares",
            f"Spare frequencies are missing: {names}.",
            why="When something strange comes on the air, a spare is there at once.",
            remedy="Find spares on the page Radio, or with radio spare on the command line.",
            at=["transmitters", lacking[0].id, "spare_frequencies"],
            numbers={
                "spares": float(sum(len(t.spare_frequencies) for t in lacking)),
                "wanted": float(sum(t.spares_wanted for t in lacking)),
            },
        )
    told: set[str] = set()
    for task in tasks:
        for each in _harmed(radio, task, carriers_hz, told):
            fine = False
            yield each
    if fine:
        number = sum(len(t.spare_frequencies) for t in wanting)
        yield finding(
            Weight.FINE,
            "spares",
            "spares",
            f"All {number} spare frequencies are clear of every carrier and of each other.",
            numbers={"spares": float(number)},
        )


def _harmed(radio: RadioPart, task: Task, carriers_hz: Mapping[str, int], told: set[str]) -> Iterator[Finding]:
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.places import window

    asked = {each.id: each for each in task.wanted}
    extra: dict[str, tuple[Wanted, int]] = {}
    for t in radio.transmitters:
        for n, freq in enumerate(t.spare_frequencies):
            hertz = whole(freq)
            if t.id in asked and hertz is not None:
                spare = replace(asked[t.id], id=f"{t.id} spare {n + 1}", fixed=False, on_air=False, within="")
                extra[spare.id] = (spare, hertz)
    if not extra:
        return
    together = replace(task, wanted=(*task.wanted, *(wanted for wanted, _ in extra.values())))
    found = audit(together, {**carriers_hz, **{name: hertz for name, (_, hertz) in extra.items()}}, listed=MOST_BROKEN)
    names = {t.id: t.name for t in radio.transmitters}
    names |= {name: f"{names[name.partition(' ')[0]]}'s spare {mhz(hertz)}" for name, (_, hertz) in extra.items()}
    for hold in found.broken:
        mine = next((each for each in (hold.hit, *hold.sources) if each in extra), None)
        if mine is None or mine in told:
            continue
        told.add(mine)
        yield finding(
            Weight.WATCH if hold.limit is not Limit.OCCUPIED else Weight.STOP,
            names[mine],
            "spares",
            f"{hold_in_words(hold, names)}.",
            why="A spare is switched on in a hurry; it must not harm the rest.",
            remedy="Find spares anew on the page Radio, or with radio spare on the command line.",
            at=["transmitters", mine.partition(" ")[0], "spare_frequencies"],
            numbers={"margin_khz": hold.margin_hz / 1e3},
        )
    for name, (wanted, hertz) in extra.items():
        id = name.partition(" ")[0]
        within = asked[id].within
        rest = [(each, carriers_hz[each.id]) for each in task.wanted if each.id in carriers_hz and each.id != id]
        room = window(task, replace(wanted, within=within), rest)
        if name in told or room is None or room[0] <= hertz <= room[1]:
            continue
        told.add(name)
        yield finding(
            Weight.WATCH,
            names[name],
            "spares",
            f"{names[name]} lies outside of the window of {within}: beside the others that it hears it has "
            f"{mhz(room[0])} to {mhz(room[1])}.",
            why="Switched to it, the receiver would lose one of them.",
            remedy="Find spares anew on the page Radio, or with radio spare on the command line.",
            at=["transmitters", id, "spare_frequencies"],
        )
