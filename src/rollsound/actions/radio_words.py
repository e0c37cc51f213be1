"""Carriers in words: what sets a margin, and a plan's transmitters row by row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rollsound.actions.radio_model import CarrierRow, HoldRow, UnplacedRow
from rollsound.actions.radio_model import RelaxationRow as Row
from rollsound.actions.radio_read import Asked
from rollsound.radio.carriers.answer import Audit, Hold, Limit, Unplaced
from rollsound.radio.raster import khz
from rollsound.radio.telling import FORMS, form_of, hold_in_words

NOTHING_HZ = 1_000_000_000
"""A margin from here on is none: there is nothing near enough to set one."""


def margin_khz(margin_hz: int | None) -> float | None:
    """A margin for people; none where nothing sets one."""
    return None if margin_hz is None or margin_hz >= NOTHING_HZ else margin_hz / 1e3


def names_of(asked: Asked) -> dict[str, str]:
    """Names by id; of a bare request the ids."""
    return {each.id: each.id for each in asked.task.wanted} | {each.id: each.name for each in asked.radio.transmitters}


def told(hold: Hold, names: Mapping[str, str]) -> str:
    """One relation in words, without the carrier that it touches: ``2 × Pack 1 − Pack 2, 125 kHz away (100 asked)``."""
    away = f"{khz(hold.distance_hz)} away ({khz(hold.required_hz).removesuffix(' kHz')} asked)"
    sources = [names.get(each, each) for each in hold.sources]
    if hold.limit is Limit.SPACING:
        return f"{sources[0]}, {away}"
    if hold.limit in FORMS:
        return f"{form_of(hold, names)}, {away}"
    if hold.limit is Limit.OCCUPIED:
        return f"{hold.why or 'occupied spectrum'}, {away}"
    if hold.limit is Limit.RANGE:
        return "lies outside of the range that it can tune to and may use"
    if hold.limit is Limit.STEP:
        return f"lies {khz(hold.required_hz)} off the steps that it tunes in"
    return f"lies further from the others of {hold.why or 'its receiver'} than its window reaches"


def hold_row(hold: Hold, names: Mapping[str, str]) -> HoldRow:
    """One relation as it is answered."""
    return HoldRow(
        limit=hold.limit.value,
        hit=hold.hit,
        sources=hold.sources,
        at_mhz=hold.at_hz / 1e6,
        distance_khz=hold.distance_hz / 1e3,
        required_khz=hold.required_hz / 1e3,
        margin_khz=hold.margin_hz / 1e3,
        sentence=f"{hold_in_words(hold, names)}.",
    )


def carrier_rows(
    asked: Asked,
    carriers_hz: Mapping[str, int],
    audit: Audit | None,
    *,
    spares_hz: Mapping[str, tuple[int, ...]] | None = None,
    moved: Iterable[str] = (),
) -> tuple[CarrierRow, ...]:
    """Every transmitter, in the order of the plan."""
    names, was = names_of(asked), asked.carriers_hz
    gone = set(moved)
    heard: dict[str, list[str]] = {}
    for receiver in asked.radio.receivers:
        for each in receiver.hears:
            heard.setdefault(each, []).append(receiver.name)
    rows = []
    for wanted in asked.task.wanted:
        written = asked.transmitter(wanted.id)
        freq = carriers_hz.get(wanted.id)
        hold = audit.set_by.get(wanted.id) if audit is not None else None
        margin = audit.margins_hz.get(wanted.id) if audit is not None else None
        far = margin is None or margin >= NOTHING_HZ
        spares = _spares(spares_hz, wanted.id, written.spare_frequencies if written else ())
        rows.append(
            CarrierRow(
                id=wanted.id,
                name=names[wanted.id],
                use=written.kind if written else wanted.guard,
                wearer=written.wearer if written else "",
                zone=wanted.zone,
                sites=tuple(asked.site_names.get(site, site) for site in written.sites) if written else (),
                mhz=None if freq is None else freq / 1e6,
                was_mhz=was[wanted.id] / 1e6 if wanted.id in gone and wanted.id in was else None,
                power_mw=written.power_mw if written else None,
                fixed=wanted.fixed,
                on_air=wanted.on_air,
                margin_khz=margin_khz(margin),
                limit="" if hold is None or far else hold.limit.value,
                set_by="" if hold is None or far else told(hold, names),
                spares_mhz=spares,
                heard_by=tuple(heard.get(wanted.id, ())),
            )
        )
    return tuple(rows)


def _spares(
    found_hz: Mapping[str, tuple[int, ...]] | None, id: str, written_hz: tuple[float, ...]
) -> tuple[float, ...]:
    """Those found now, or those that stand in the plan where none were looked for."""
    if found_hz is None:
        return tuple(round(each) / 1e6 for each in written_hz)
    return tuple(each / 1e6 for each in found_hz.get(id, ()))


def unplaced_rows(asked: Asked, unplaced: Iterable[Unplaced]) -> tuple[UnplacedRow, ...]:
    """Those without a frequency, with what would let them in."""
    names = names_of(asked)
    return tuple(
        UnplacedRow(
            id=each.id,
            name=names.get(each.id, each.id),
            why=each.why,
            relaxations=tuple(Row(kind=r.kind, what=r.what, mhz=r.freq_hz / 1e6) for r in each.relaxations),
        )
        for each in unplaced
    )
