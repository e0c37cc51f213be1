"""Products ranked by what they would do: each at the receiver where it does most, the most harmful first."""

from __future__ import annotations

from collections.abc import Mapping

from rollsound.actions.radio_model import ProductRow
from rollsound.errors import InputError
from rollsound.radio.carriers.task import Task
from rollsound.radio.levels import SHAPES, ProductLevel
from rollsound.radio.model import RadioPart

MOST_ROWS = 1000
"""That can be asked for at once."""


def product_rows(
    radio: RadioPart, task: Task, carriers_hz: Mapping[str, int], most: int
) -> tuple[ProductRow, ...] | None:
    """The ``most`` harmful products; None where no receiver hears anything, so that no level is known.

    Raises
    ------
    InputError
        when none, or more than a thousand, are asked for
    """
    from rollsound.radio.proofs import levels_of

    if not 1 <= most <= MOST_ROWS:
        raise InputError(f"{most} products cannot be ranked; ask for 1 to {MOST_ROWS:,}")
    levels = levels_of(radio, task, carriers_hz)
    if levels is None:
        return None
    names = {each.id: each.name for each in radio.transmitters}
    receivers = {each.id: each.name for each in radio.receivers}
    rows: list[ProductRow] = []
    seen: set[tuple[str, str, tuple[str, ...]]] = set()
    for each in levels:
        what = each.hit, each.product.value, each.sources
        if what in seen:  # at another antenna or receiver it does less
            continue
        seen.add(what)
        rows.append(_row(each, names, receivers))
        if len(rows) == most:
            break
    return tuple(rows)


def _row(level: ProductLevel, names: Mapping[str, str], receivers: Mapping[str, str]) -> ProductRow:
    parts: list[str] = []
    for times, source in zip(SHAPES[level.product], level.sources, strict=True):
        sign = "" if not parts else " + " if times > 0 else " \N{MINUS SIGN} "
        parts.append(f"{sign}{f'{abs(times)} × ' if abs(times) > 1 else ''}{names.get(source, source)}")
    return ProductRow(
        receiver=receivers.get(level.receiver, level.receiver),
        hit=level.hit,
        hit_name=names.get(level.hit, level.hit),
        form=level.product.value,
        sources=level.sources,
        product="".join(parts),
        at_mhz=level.at_hz / 1e6,
        distance_khz=level.distance_hz / 1e3,
        level_dbm=round(level.level_dbm, 1),
        over_noise_db=round(level.over_noise_db, 1),
        under_wanted_db=round(level.under_wanted_db, 1),
        heard=level.heard,
        verdict=level.verdict,
    )
