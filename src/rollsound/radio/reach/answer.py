"""What is answered about reach: one path term by term, a map, areas and lines, the least power, two layouts compared.

Levels and noise are at the receiver's input. ``margin_db`` is the level's median over places, averaged over fading,
over the noise and over what the receiver needs; ``share_of_time`` is how much of the time fading leaves it above 0,
from 0 to 1, with all the antennas that the receiver hears with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rollsound.radio.model import RadioPart

Array = NDArray[np.float64]
Place = tuple[float, float]
"""x to the right and y up, in metres from the lower left corner of the drawing."""
WANTED_SHARE = 0.99
"""How much of the time sound is wanted."""


@dataclass(frozen=True)
class Term:
    """One term of a path: a level in dBm to begin with, then gains (above 0) and losses (below 0) in dB."""

    id: str
    name: str
    db: float
    source: str = ""
    status: str = ""
    note: str = ""


@dataclass(frozen=True)
class Budget:
    """One path from a transmitter to the receiver's input through one antenna: the why of a number.

    ``terms`` add up to ``level_dbm`` and ``noise_terms`` to ``noise_dbm``; ``noise_parts`` are what the noise is made
    of, which adds up as powers, not as decibels. ``share_of_time`` is with this antenna alone.
    """

    ground: str
    transmitter: str
    receiver: str
    antenna: str
    at_m: Place
    height_m: float
    distance_m: float
    freq_hz: float
    terms: tuple[Term, ...]
    walls: tuple[Term, ...]
    """Each crossing of a wall, in the order of the plan; their sum is the term ``walls``."""
    noise_terms: tuple[Term, ...]
    noise_parts: tuple[Term, ...]
    level_dbm: float
    noise_dbm: float
    needed_db: float
    margin_db: float
    share_of_time: float
    notes: tuple[str, ...] = ()

    def term(self, id: str) -> Term | None:
        """The term of this id, of the level or of the noise."""
        return next((term for term in (*self.terms, *self.noise_terms, *self.noise_parts) if term.id == id), None)


@dataclass(frozen=True)
class PlaceReach:
    """A transmitter at one place, heard by its receiver with all its antennas.

    ``branches`` are the ids of the antennas of each branch: of one branch they are combined, between branches the
    better one is chosen at every moment.
    """

    transmitter: str
    receiver: str
    at_m: Place
    budgets: tuple[Budget, ...]
    branches: tuple[tuple[str, ...], ...]
    branch_margins_db: tuple[float, ...]
    level_dbm: float
    """Of the best antenna."""
    margin_db: float
    """Of the best branch."""
    share_of_time: float


@dataclass(frozen=True)
class ReachMap:
    """Level, margin and share of time over a ground, by rows from the bottom: arrays of shape (len(y_m), len(x_m)).

    Of several transmitters each point tells of the worst one there, ``worst`` its place in ``transmitters``.
    """

    ground: str
    layout: str
    transmitters: tuple[str, ...]
    antennas: tuple[str, ...]
    height_m: float
    x_m: Array
    y_m: Array
    level_dbm: Array
    margin_db: Array
    share_of_time: Array
    worst: NDArray[np.int64]
    notes: tuple[str, ...] = ()

    def covered(self, wanted: float = WANTED_SHARE) -> float:
        """The share of the ground, 0 to 1, where sound holds for the wanted share of time."""
        return float(np.mean(self.share_of_time >= wanted))


@dataclass(frozen=True)
class Along:
    """A transmitter carried along a line, or all over an area: places in metres and what is heard from each."""

    id: str
    name: str
    transmitters: tuple[str, ...]
    layout: str
    at_m: Array
    """Shape (places, 2)."""
    way_m: Array
    """Metres along the line; of an area the number of the place."""
    level_dbm: Array
    margin_db: Array
    share_of_time: Array
    worst: NDArray[np.int64]
    """Which of the transmitters is the worst at each place."""

    @property
    def weakest(self) -> int:
        """The place where sound holds for the least time."""
        return int(np.lexsort((self.margin_db, self.share_of_time))[0])

    @property
    def weakest_share(self) -> float:
        """The share of time there."""
        return float(self.share_of_time[self.weakest])

    def held(self, wanted: float = WANTED_SHARE) -> float:
        """The share of the places, 0 to 1, where sound holds for the wanted share of time."""
        return float(np.mean(self.share_of_time >= wanted))


@dataclass(frozen=True)
class PowerTried:
    """What one power would give at the weakest place of an area."""

    power_mw: float
    share_of_time: float
    margin_db: float
    battery_hours: float | None = None


@dataclass(frozen=True)
class LeastPower:
    """The least power of a transmitter that holds everywhere on an area; none when no power of its kind does."""

    transmitter: str
    area: str
    layout: str
    wanted_share: float
    least_mw: float | None
    now_mw: float
    tried: tuple[PowerTried, ...]
    weakest_at_m: Place
    missing_db: float
    """How much more the highest power would need; 0 or less when it holds."""
    hours_gained: float | None
    """Battery hours at the least power over those at the power it has now; none when a draw is not known."""
    sentence: str


@dataclass(frozen=True)
class Draw:
    """What a transmitter takes from its battery: watts at each power, and the battery's watt hours."""

    watts: Mapping[float, float]
    battery_wh: float


@dataclass(frozen=True)
class Side:
    """One of two things compared: a radio part (with its grounds) and a layout's name."""

    name: str
    radio: RadioPart
    ground: str
    layout: str | None = None


@dataclass(frozen=True)
class Difference:
    """What the second side gives over the first on one area, one line or the whole ground."""

    id: str
    kind: str
    """area, line or ground."""
    gain_db: float
    """How much more margin the second has: the median over the places of the difference at each."""
    margin_first_db: float
    margin_second_db: float
    """Of the median place."""
    weakest_first: float
    weakest_second: float
    """The share of time at the weakest place, 0 to 1."""
    held_first: float
    held_second: float
    """The share of places that hold for the wanted share of time, 0 to 1."""
    sentence: str


@dataclass(frozen=True)
class Comparison:
    """Two sides, place by place."""

    first: str
    second: str
    transmitters: tuple[str, ...]
    differences: tuple[Difference, ...]
    maps: tuple[ReachMap, ReachMap]


@dataclass(frozen=True)
class Fitted:
    """One number of the model, before the walk test and after.

    ``sigma`` is its standard uncertainty; when the readings cannot tell it, it stays as it was, ``told`` is false and
    ``why`` says what is missing.
    """

    id: str
    name: str
    unit: str
    before: float | None
    after: float | None
    sigma: float | None
    told: bool
    why: str = ""
    readings: int = 0
    """How many readings say something about it."""


@dataclass(frozen=True)
class Residual:
    """One reading beside what is computed for it, before and after the fit; an outlier is named, and not fitted to."""

    id: str
    at_m: Place
    antenna: str
    transmitter: str
    distance_m: float
    level_dbm: float
    before_dbm: float
    after_dbm: float
    outlier: bool = False
    from_quality: bool = False

    @property
    def before_db(self) -> float:
        """Read over computed, before."""
        return self.level_dbm - self.before_dbm

    @property
    def after_db(self) -> float:
        """Read over computed, after."""
        return self.level_dbm - self.after_dbm


@dataclass(frozen=True)
class SetAside:
    """A reading that could not be used, and why, in one sentence."""

    id: str
    why: str


@dataclass(frozen=True)
class WalkFit:
    """A walk test fitted. ``radio_after`` is the radio part with the ground as fitted: a map of it is the map after."""

    ground: str
    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    set_aside: tuple[SetAside, ...]
    rms_before_db: float
    rms_after_db: float
    """Over the readings that are no outliers."""
    radio_after: RadioPart
    sentence: str
    notes: tuple[str, ...] = ()
    numbers: dict[str, float] = field(default_factory=dict)

    @property
    def outliers(self) -> tuple[Residual, ...]:
        """The readings that do not fit the rest."""
        return tuple(residual for residual in self.residuals if residual.outlier)
