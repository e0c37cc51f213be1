"""What a search for carriers answers, and what a check of carriers says. All frequencies and margins in whole hertz."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from rollsound.radio.carriers.task import Product


class Limit(StrEnum):
    """What sets a margin."""

    SPACING = "spacing"
    TWO_THIRD = Product.TWO_THIRD.value
    THREE_THIRD = Product.THREE_THIRD.value
    TWO_FIFTH = Product.TWO_FIFTH.value
    THREE_FIFTH = Product.THREE_FIFTH.value
    THREE_FIFTH_MIXED = Product.THREE_FIFTH_MIXED.value
    RANGE = "range"
    OCCUPIED = "occupied"
    STEP = "step"
    WINDOW = "window"


@dataclass(frozen=True)
class Hold:
    """One relation between carriers: how far apart they are, and how far they are asked to be.

    ``margin_hz`` is ``distance_hz - required_hz``; below 0 the relation is broken. Of a product, ``sources`` are in the
    order of its form (of ``2A-B``: A, B), and ``at_hz`` is where it falls; of a spacing, ``sources`` is the other one.
    """

    limit: Limit
    hit: str
    sources: tuple[str, ...]
    at_hz: int
    distance_hz: int
    required_hz: int
    unavoidable: bool = False
    """Among fixed transmitters only: told, not counted."""
    why: str = ""
    """Of occupied spectrum: whose."""

    @property
    def margin_hz(self) -> int:
        """How much further apart than asked."""
        return self.distance_hz - self.required_hz


@dataclass(frozen=True)
class Audit:
    """A check of carriers against a task."""

    margins_hz: dict[str, int]
    """Of every transmitter with a carrier: the smallest over spacing and products; a billion where there is neither."""
    set_by: dict[str, Hold]
    broken: tuple[Hold, ...]
    """All relations below 0 that count, worst first."""
    unavoidable: tuple[Hold, ...] = ()
    counts: dict[Limit, int] = field(default_factory=dict)
    """Of broken relations, by what sets them."""

    @property
    def clean(self) -> bool:
        """Nothing that counts is broken."""
        return not self.broken and not any(self.counts.values())

    @property
    def margin_hz(self) -> int | None:
        """The worst margin; none without two carriers."""
        return min(self.margins_hz.values(), default=None)


@dataclass(frozen=True)
class Bound:
    """A proof that no more than ``most`` can be placed, in one sentence."""

    most: int
    why: str
    with_musts: int | None = None
    """The most with all of priority 1 among them, where that is fewer still."""


@dataclass(frozen=True)
class Relaxation:
    """A change of the request that was tried and lets a transmitter in: ``kind`` for programs, ``what`` for people."""

    kind: str
    what: str
    freq_hz: int
    cost: float
    """Smaller is cheaper: kHz of protection given up, or the like. Only for order."""


@dataclass(frozen=True)
class Unplaced:
    """A transmitter without a carrier, why, and what would let it in, cheapest first."""

    id: str
    why: str
    relaxations: tuple[Relaxation, ...] = ()


@dataclass(frozen=True)
class CarrierPlan:
    """The answer of a search. It never leaves without an audit that is clean."""

    carriers_hz: dict[str, int]
    audit: Audit
    unplaced: tuple[Unplaced, ...] = ()
    spares_hz: dict[str, tuple[int, ...]] = field(default_factory=dict)
    """By transmitter; every spare is clear of all carriers, with every other spare switched on too."""
    moved: tuple[str, ...] = ()
    """Those that had a carrier and got another."""
    bound: Bound | None = None
    proved: bool = False
    """Whether nothing better can be: as many as the bound with all that must be placed, or all at the largest margin
    that is possible. Never said of a repair or an addition, which keep what is there."""
    moves: int = 0
    """How many the search made, from its seed."""
    stopped: bool = False
    """Whether it was stopped before it was through."""

    @property
    def margin_hz(self) -> int | None:
        """The worst margin."""
        return self.audit.margin_hz
