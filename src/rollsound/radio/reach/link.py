"""A transmitter with the receiver that hears it: everything about its paths that does not depend on its place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.radio import kinds
from rollsound.radio.model import HIGH_POWER, AntennaKind, AntennaPlaced, Ground, RadioPart, Receiver, Transmitter
from rollsound.radio.reach.answer import Term
from rollsound.radio.reach.crossing import Stretches, stretches
from rollsound.radio.reach.feeder import Feeder, feeder
from rollsound.radio.reach.noise_at import Floor, floor_at
from rollsound.radio.reach.sender import Sender, sender
from rollsound.radio.reach.through import WallLoss, walls_at
from rollsound.radio.reach.way import floors_term, way_notes


@dataclass(frozen=True)
class Path:
    """One antenna that a transmitter is heard through, with the terms that no place changes: before and behind it."""

    antenna: AntennaPlaced
    kind: AntennaKind
    sent: tuple[Term, ...]
    fed: tuple[Term, ...]

    @property
    def fixed_db(self) -> float:
        """Their sum: the level in dBm that would arrive with neither way, walls nor direction."""
        return math.fsum(term.db for term in (*self.sent, *self.fed))


@dataclass(frozen=True)
class Link:
    """A transmitter, its receiver, and the antennas between them.

    ``branches`` are places in ``paths``: antennas of one branch are combined, and the better branch is taken at every
    moment. ``floors`` are the noise of each branch.
    """

    sender: Sender
    receiver: str
    needed_db: float
    width_hz: float
    rician_k_db: float | None
    paths: tuple[Path, ...]
    branches: tuple[tuple[int, ...], ...]
    floors: tuple[Floor, ...]
    walls: tuple[WallLoss, ...]
    notes: tuple[str, ...]

    @property
    def transmitter(self) -> str:
        """Its id."""
        return self.sender.id

    @property
    def freq_hz(self) -> float:
        """Of its carrier."""
        return self.sender.freq_hz


def links(
    radio: RadioPart, ground: Ground, transmitters: Sequence[str] | None = None, layout: str | None = None
) -> tuple[Link, ...]:
    """Every transmitter with its receiver on a ground.

    Parameters
    ----------
    transmitters
        ids; all that send on this site and are received here when None
    layout
        antennas of this layout only; all antennas when None

    Raises
    ------
    InputError
        when an id or the layout is unknown, nothing sends, or nothing hears
    """
    if not ground.antennas:
        raise InputError(f"the ground '{ground.id}' has no antenna; place one where the receivers listen")
    names = layouts_of(ground)
    if layout is not None and layout not in names:
        raise InputError(
            f"no layout of the ground '{ground.id}' is called '{layout}'; there are: {', '.join(names) or 'none yet'}"
        )
    chosen = senders(radio, ground) if transmitters is None else _named(radio, transmitters)
    if not chosen:
        raise InputError(f"no transmitter sends on the ground '{ground.id}'; name one, or give one this site")
    walls, lines = walls_at(radio, ground), stretches(ground.walls)
    return tuple(_link(radio, ground, one, layout, walls, lines) for one in chosen)


def layouts_of(ground: Ground) -> tuple[str, ...]:
    """Names of the layouts of its antennas, in the order of the plan."""
    return tuple(dict.fromkeys(name for antenna in ground.antennas for name in antenna.layouts))


def senders(radio: RadioPart, ground: Ground) -> tuple[Transmitter, ...]:
    """The transmitters that are carried about on a site: those that name it or none, and stand nowhere.

    Monitors and talkback are left out: they send from one place to receivers that are carried.
    """
    return tuple(
        one
        for one in radio.transmitters
        if (not one.sites or ground.id in one.sites) and not one.stand and one.kind not in HIGH_POWER
    )


def antennas_of(found: Iterable[Link]) -> tuple[str, ...]:
    """Ids of all antennas that take part."""
    return tuple(dict.fromkeys(path.antenna.id for link in found for path in link.paths))


def notes_of(ground: Ground, found: Sequence[Link]) -> tuple[str, ...]:
    """What to tell beside every figure, each sentence once."""
    told = [*way_notes(ground, [link.freq_hz for link in found]), *(note for link in found for note in link.notes)]
    return tuple(dict.fromkeys(told))


def _named(radio: RadioPart, ids: Sequence[str]) -> tuple[Transmitter, ...]:
    there = {one.id: one for one in radio.transmitters}
    unknown = [id for id in ids if id not in there]
    if unknown:
        raise InputError(f"no transmitter is called '{unknown[0]}'; there are: {', '.join(there) or 'none yet'}")
    return tuple(there[id] for id in dict.fromkeys(ids))


def _link(
    radio: RadioPart,
    ground: Ground,
    transmitter: Transmitter,
    layout: str | None,
    walls: tuple[WallLoss, ...],
    lines: Stretches,
) -> Link:
    hears = next((one for one in radio.receivers if transmitter.id in one.hears), None)
    placed = _heard_by(ground, hears, transmitter, layout)
    kind = kinds.receiver(radio, hears or Receiver(id="usual", name="usual"))
    sends = sender(radio, ground, transmitter)
    branches = _branches(len(placed), kind.branches)
    shares = {number: len(branch) for branch in branches for number in branch}
    feeders = [feeder(radio, one, sends.freq_hz, shares[number]) for number, one in enumerate(placed)]
    paths = tuple(Path(one.placed, one.kind, _sent(ground, sends, one), one.terms) for one in feeders)
    floors = tuple(
        floor_at(radio, ground, [feeders[number] for number in branch], kind, sends.freq_hz, walls, lines)
        for branch in branches
    )
    together = "Branches are taken to fade each by itself; a body or a wall in the way takes from all of them at once."
    notes = [together] if len(branches) > 1 else []
    notes += [] if hears else [f"No receiver of the plan hears {sends.name}: a usual one with all antennas is taken."]
    return Link(
        sender=sends,
        receiver=hears.id if hears else "",
        needed_db=kind.needed_db,
        width_hz=kind.width_hz,
        rician_k_db=float(ground.rician_k_db) if ground.fading == "rician" else None,
        paths=paths,
        branches=branches,
        floors=floors,
        walls=walls,
        notes=(*notes, *sends.notes, *(note for floor in floors for note in floor.notes)),
    )


def _sent(ground: Ground, sends: Sender, towards: Feeder) -> tuple[Term, ...]:
    between = (floors_term(ground, towards.placed, sends.freq_hz),) if towards.placed.floors else ()
    return (*sends.terms, sends.towards(towards), *between)


def _heard_by(
    ground: Ground, receiver: Receiver | None, transmitter: Transmitter, layout: str | None
) -> list[AntennaPlaced]:
    """The antennas of its receiver on this ground and in this layout; all of them when the receiver names none here."""
    in_layout = [one for one in ground.antennas if layout is None or not one.layouts or layout in one.layouts]
    here = {one.id for one in ground.antennas}
    own = [id for id in receiver.antennas if id in here] if receiver else []
    found = [one for one in in_layout if not own or one.id in own]
    if not found:
        whose = f"receiver '{receiver.id}'" if receiver else f"a receiver of {transmitter.name}"
        raise InputError(
            f"{whose} has no antenna in the layout '{layout}' of the ground '{ground.id}'; add one to the layout, or "
            "to the receiver's antennas"
        )
    return found


def _branches(antennas: int, branches: int) -> tuple[tuple[int, ...], ...]:
    """Deal antennas to a receiver's branches in turn; those of one branch are combined."""
    return tuple(tuple(range(first, antennas, branches)) for first in range(min(antennas, branches)))
