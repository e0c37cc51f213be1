"""What intermodulation products really amount to: the level of each at each receiver, and whether it will be heard.

Two carriers that meet in a receiver's first stages make products there; arithmetic tells where they fall, and this how
strong they are. All levels are in dBm at one plane, the receiver's input.

A product of carriers that are modulated is wider than they are. Here every signal has the spectrum of a bell that holds
99 % of its power within its occupied width; so a product of third order of 200 kHz signals loses 1 dB of its power out
of a 200 kHz channel that it sits on, and 20 dB at 300 kHz from it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.radio.carriers.task import Product, Task

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SHAPES: dict[Product, tuple[int, ...]] = {
    Product.TWO_THIRD: (2, -1),
    Product.THREE_THIRD: (1, 1, -1),
    Product.TWO_FIFTH: (3, -2),
    Product.THREE_FIFTH: (3, -1, -1),
    Product.THREE_FIFTH_MIXED: (2, 1, -2),
}
"""How often each source stands in a product, in the order of its form."""
THIRD = (Product.TWO_THIRD, Product.THREE_THIRD)
OUT_OF_RANGE_DB = 30.0
"""What a receiver's first filter is taken to hold back outside its tuning range. From memory, no source."""
CONVERSION_DB = 10.0
"""What a transmitter's last stage takes when it turns a strange signal into a product. From memory, no source."""
_MOST_CHOICES = 2_000_000
"""Of sources looked at together: some 100 MB at three sources."""
_BELL_OF_WIDTH = 2 * 2.5758293035489004
"""The occupied width, in standard deviations of the bell: 99 % of its power lie within."""


@dataclass(frozen=True)
class Chain:
    """One receiver's input: what arrives there from every transmitter, and what it can bear."""

    receiver: str
    hears: tuple[str, ...]
    levels_dbm: Mapping[str, float]
    intercept_dbm: float
    """Third order, of all stages from the antenna on, as seen at the receiver's input."""
    noise_dbm: float
    """In the receiver's width."""
    needed_db: float = 22.0
    """Carrier over noise at which sound is good."""
    width_hz: int = 200_000
    selectivity_db: float = 60.0
    fifth_intercept_dbm: float | None = None
    """Of fifth order; taken as the third when it is not known, which is on the safe side for clean stages."""


@dataclass(frozen=True)
class ProductLevel:
    """One product at one receiver."""

    receiver: str
    hit: str
    product: Product
    sources: tuple[str, ...]
    at_hz: int
    distance_hz: int
    """From the carrier that it hits."""
    level_dbm: float
    """Of the part of it that falls into the channel."""
    noise_dbm: float
    wanted_dbm: float
    needed_db: float
    formed_in: str = "receiver"
    """``receiver``, or the id of the transmitter that it forms in."""

    @property
    def over_noise_db(self) -> float:
        """How far it stands over the receiver's noise; below 0 under it."""
        return self.level_dbm - self.noise_dbm

    @property
    def under_wanted_db(self) -> float:
        """How far the wanted carrier stands over it."""
        return self.wanted_dbm - self.level_dbm

    @property
    def heard(self) -> bool:
        """Whether it will be heard: over the noise, and the wanted carrier not far enough over it."""
        return self.over_noise_db > 0 and self.under_wanted_db < self.needed_db

    @property
    def verdict(self) -> str:
        """What it does, in words."""
        if self.over_noise_db <= 0:
            return f"{-self.over_noise_db:.0f} dB under the noise"
        if self.heard:
            return f"will be heard: {self.over_noise_db:.0f} dB over the noise, {_beside(self.under_wanted_db)}"
        falls = self.under_wanted_db - self.needed_db
        return f"{self.over_noise_db:.0f} dB over the noise; will be heard when the wanted falls by {falls:.0f} dB"


def _beside(under_db: float) -> str:
    return f"{under_db:.0f} dB under the wanted" if under_db >= 0 else f"{-under_db:.0f} dB over the wanted"


def product_dbm(
    shape: Sequence[int], levels_dbm: Sequence[Floats | float], intercept_dbm: Floats | float
) -> Floats | float:
    """A product's level, seen at the input: Σ nᵢ·Pᵢ − (k − 1)·IIPₖ, and more where more sources take part.

    Parameters
    ----------
    shape
        how often each source stands in it, such as (2, -1)
    levels_dbm
        of the sources, in the same order
    intercept_dbm
        input intercept of the order of the product

    Source: cubic (fifth-power) transfer curve written out; for two equal tones the usual 3·P − 2·IIP3.
    """
    times = [abs(n) for n in shape]
    order = sum(times)
    base = math.comb(order, (order + 1) // 2)
    ways = math.factorial(order) // math.prod(math.factorial(n) for n in times)
    total = sum(n * np.asarray(level) for n, level in zip(times, levels_dbm, strict=True))
    result = total - (order - 1) * np.asarray(intercept_dbm) + 20 * math.log10(ways / base)
    return result if isinstance(result, np.ndarray) and result.ndim else float(result)


def channel_share_db(
    distance_hz: float, shape: Sequence[int], width_hz: float, channel_hz: float, floor_db: float = 60.0
) -> float:
    """How much of a product's power falls into a channel this far from its middle, in dB below all of it."""
    sigma = math.sqrt(sum(n * n for n in shape)) * width_hz / _BELL_OF_WIDTH
    if sigma == 0:
        return 0.0 if abs(distance_hz) <= channel_hz / 2 else -floor_db
    root = sigma * math.sqrt(2)
    upper, lower = (distance_hz + channel_hz / 2) / root, (distance_hz - channel_hz / 2) / root
    share = 0.5 * (math.erf(upper) - math.erf(lower))
    return max(10 * math.log10(share), -floor_db) if share > 0 else -floor_db


def product_levels(
    task: Task,
    carriers_hz: Mapping[str, int],
    chains: Iterable[Chain],
    *,
    forms: Sequence[Product] = THIRD,
    coupling_db: Mapping[frozenset[str], float] | None = None,
    powers_dbm: Mapping[str, float] | None = None,
    most: int = 1000,
) -> tuple[ProductLevel, ...]:
    """Every product near a carrier, at every receiver that hears it, the most harmful first.

    Parameters
    ----------
    forms
        which products
    coupling_db
        loss from one transmitter's antenna to another's, by pairs of ids: then products of two that form in
        transmitters are told too; ``powers_dbm`` are needed for it
    most
        how many to return
    """
    kept = [part for chain in chains for part in _of_chain(task, carriers_hz, chain, forms, coupling_db, powers_dbm)]
    if not kept:
        return ()
    harm = np.concatenate([part.harm_db for part in kept])
    owner = np.repeat(np.arange(len(kept)), [part.harm_db.size for part in kept])
    place = np.concatenate([np.arange(part.harm_db.size) for part in kept])
    worst = np.argsort(-harm, kind="stable")[:most]
    return tuple(kept[int(owner[at])].told(int(place[at])) for at in worst)


@dataclass(frozen=True)
class _Part:
    """All products of one form at one receiver, in arrays."""

    chain: Chain
    form: Product
    names: Sequence[str]
    hit: Ints
    sources: Ints
    at_hz: Ints
    distance_hz: Ints
    level_dbm: Floats
    wanted_dbm: Floats
    in_transmitter: NDArray[np.bool_]

    @property
    def harm_db(self) -> Floats:
        """For order: over the noise, less what the wanted carrier stands higher than it needs to."""
        over = self.level_dbm - self.chain.noise_dbm
        spare = self.wanted_dbm - self.level_dbm - self.chain.needed_db
        return np.asarray(over - np.maximum(spare, 0.0), np.float64)

    def told(self, at: int) -> ProductLevel:
        sources = tuple(self.names[int(source)] for source in self.sources[at])
        return ProductLevel(
            receiver=self.chain.receiver,
            hit=self.names[int(self.hit[at])],
            product=self.form,
            sources=sources,
            at_hz=int(self.at_hz[at]),
            distance_hz=int(self.distance_hz[at]),
            level_dbm=float(self.level_dbm[at]),
            noise_dbm=self.chain.noise_dbm,
            wanted_dbm=float(self.wanted_dbm[at]),
            needed_db=self.chain.needed_db,
            formed_in=sources[0] if self.in_transmitter[at] else "receiver",
        )


def _of_chain(
    task: Task,
    carriers_hz: Mapping[str, int],
    chain: Chain,
    forms: Sequence[Product],
    coupling_db: Mapping[frozenset[str], float] | None,
    powers_dbm: Mapping[str, float] | None,
) -> list[_Part]:
    present = [each for each in task.wanted if each.id in carriers_hz and each.id in chain.levels_dbm]
    result = []
    for zone in dict.fromkeys(each.zone for each in present if each.id in chain.hears):
        here = [each for each in present if each.zone == zone]
        names = [each.id for each in here]
        freq = np.array([carriers_hz[name] for name in names], np.int64)
        heard = np.array([name in chain.hears for name in names])
        level = np.array([chain.levels_dbm[name] for name in names])
        width = max(each.width_hz for each in here)
        between = _between(names, coupling_db, powers_dbm)
        for form in forms:
            hit, sources, at = _near(freq, heard, form, width)
            if not hit.size:
                continue
            shape = SHAPES[form]
            fifth = chain.intercept_dbm if chain.fifth_intercept_dbm is None else chain.fifth_intercept_dbm
            intercept = fifth if sum(map(abs, shape)) == 5 else chain.intercept_dbm
            whole = np.asarray(product_dbm(shape, [level[sources[:, k]] for k in range(len(shape))], intercept))
            sent = np.full(whole.shape, -np.inf)
            if form is Product.TWO_THIRD and between is not None:
                sent = level[sources[:, 0]] + between[sources[:, 0], sources[:, 1]]
            away = np.abs(at - freq[hit])
            each_away, back = np.unique(away, return_inverse=True)
            share = np.array(
                [channel_share_db(d, shape, width, chain.width_hz, chain.selectivity_db) for d in each_away]
            )
            total = np.maximum(whole, sent) + share[back]
            result.append(_Part(chain, form, names, hit, sources, at, away, total, level[hit], sent > whole))
    return result


def _between(
    names: Sequence[str],
    coupling_db: Mapping[frozenset[str], float] | None,
    powers_dbm: Mapping[str, float] | None,
) -> Floats | None:
    """By transmitter A and B: how far under A's carrier the product 2A−B leaves A's antenna."""
    if not coupling_db or not powers_dbm:
        return None
    result = np.full((len(names), len(names)), -np.inf)
    for one, a in enumerate(names):
        for other, b in enumerate(names):
            loss = coupling_db.get(frozenset((a, b)))
            if a != b and loss is not None:
                result[one, other] = powers_dbm[b] - loss - CONVERSION_DB - powers_dbm[a]
    return result


def _near(freq: Ints, heard: NDArray[np.bool_], form: Product, width_hz: int) -> tuple[Ints, Ints, Ints]:
    """Products of a form that fall near a heard carrier that is none of their sources: (hit, sources, where)."""
    shape = SHAPES[form]
    targets = np.flatnonzero(heard)
    targets = targets[np.argsort(freq[targets], kind="stable")]
    reach = width_hz // 2 + round(3 * math.sqrt(sum(n * n for n in shape)) * width_hz / _BELL_OF_WIDTH)
    size = max(1, _MOST_CHOICES // freq.size ** (len(shape) - 1))
    blocks = [range(at, min(at + size, freq.size)) for at in range(0, freq.size, size)]
    found = [_near_block(freq, targets, shape, reach, _sources(freq.size, shape, block)) for block in blocks]
    hit, sources, at = (np.concatenate(each) for each in zip(*found, strict=True))
    return hit, sources, at


def _near_block(freq: Ints, targets: Ints, shape: Sequence[int], reach: int, sources: Ints) -> tuple[Ints, Ints, Ints]:
    at = np.zeros(len(sources), np.int64)
    for column, times in enumerate(shape):
        at += times * freq[sources[:, column]]
    low = np.searchsorted(freq[targets], at - reach, "left")
    many = np.searchsorted(freq[targets], at + reach, "right") - low
    each = np.repeat(np.arange(at.size), many)
    hit = targets[low[each] + np.arange(each.size) - np.repeat(np.cumsum(many) - many, many)]
    good = ~(sources[each] == hit[:, None]).any(axis=1)
    return hit[good], sources[each][good], at[each][good]


def _sources(number: int, shape: Sequence[int], first: range) -> Ints:
    """All choices of sources, all different; those that stand in a product alike are taken once.

    ``first`` are those taken as the first source: all choices of three at once would fill the memory of a small
    machine where hundreds send in one zone.
    """
    axes = [np.arange(first.start, first.stop), *[np.arange(number)] * (len(shape) - 1)]
    keep = np.ones([axis.size for axis in axes], bool)
    grids = np.meshgrid(*axes, indexing="ij", sparse=True)
    for one in range(len(shape)):
        for other in range(one + 1, len(shape)):
            alike = shape[one] == shape[other]
            keep &= grids[one] < grids[other] if alike else grids[one] != grids[other]
    found = np.argwhere(keep)
    found[:, 0] += first.start
    return found.astype(np.int64, copy=False)
