"""Carriers checked, planned, repaired, added and kept spare; what was found saved where it was read.

Whatever is answered was audited, and carries the cautions about licence and exposure.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rollsound.actions.radio_findings import audit_of, cautions_of, findings_of, tasks_of
from rollsound.actions.radio_model import (
    Assignment,
    BoundRow,
    CheckResult,
    PlanResult,
    SpareResult,
    SpareRow,
)
from rollsound.actions.radio_products import product_rows
from rollsound.actions.radio_read import Asked, read
from rollsound.actions.radio_save import save_frequencies
from rollsound.actions.radio_words import carrier_rows, hold_row, margin_khz, names_of, unplaced_rows
from rollsound.errors import InputError
from rollsound.radio.carriers.answer import Bound, CarrierPlan
from rollsound.radio.carriers.task import Mode, Task

if TYPE_CHECKING:
    from rollsound.radio.carriers.find import Found

MOST_TOLD = 200
"""Of broken relations; their number is told all the same."""
SPARES_EACH = 2
"""Frequencies kept free for each, where the plan does not say how many."""


@dataclass(frozen=True)
class SoFar:
    """The best that a search has found until now."""

    placed: int
    wanted: int
    margin_khz: float | None
    moves: int
    effort_moves: int
    """How many it will make at most."""
    seconds: float


def check(asked: Asked, *, products: int | None = None) -> CheckResult:
    """Check the frequencies that are there against everything that is asked of them, on every site by itself.

    Parameters
    ----------
    products
        how many products are ranked by what they would do at the receivers; none when None
    """
    from rollsound.radio.carriers.bounds import bound

    _refuse_empty(asked)
    carriers = asked.carriers_hz
    tasks = tasks_of(asked)
    found = audit_of(asked, tasks, carriers)
    names = names_of(asked)
    ranked = None if products is None else product_rows(asked.radio, asked.task, carriers, products)
    notes = asked.notes
    if products is not None and ranked is None:
        notes = (*notes, "No receiver hears anything, so the levels of products are not known.")
    return CheckResult(
        path=str(asked.path),
        name=asked.name,
        transmitters=len(asked.task.wanted),
        carriers=carrier_rows(asked, carriers, found),
        without=tuple(each.id for each in asked.task.wanted if each.id not in carriers),
        margin_khz=margin_khz(found.margin_hz) if len(carriers) > 1 else None,
        broken=tuple(hold_row(each, names) for each in found.broken[:MOST_TOLD]),
        unavoidable=tuple(hold_row(each, names) for each in found.unavoidable[:MOST_TOLD]),
        counts={limit.value: n for limit, n in found.counts.items() if n},
        bound=_bound_row(bound(asked.task)),
        products=ranked or (),
        findings=tuple(findings_of(asked, found, tasks)),
        notes=notes,
        cautions=cautions_of(asked),
    )


def plan(
    asked: Asked,
    mode: Mode | None = None,
    *,
    seed: int = 0,
    seconds: float | None = None,
    moves: int | None = None,
    progress: Callable[[SoFar], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> PlanResult:
    """Look for frequencies.

    Parameters
    ----------
    mode
        what is looked for; what a request itself says, or all with the best worst margin, when None
    seconds
        only cuts short: the same seed gives the same plan when the search ends by itself or by ``moves``
    progress
        is told whenever something better is found, and now and then
    stop
        asked now and then; the best found until then is answered
    """
    _refuse_empty(asked)
    return _plan_result(asked, *_search(asked, mode, seed, seconds, moves, progress, stop))


def _refuse_empty(asked: Asked) -> None:
    if not asked.task.wanted:
        where = f" at {', '.join(asked.sites)}" if asked.sites else ""
        raise InputError(
            f"{asked.name} has no transmitter{where}; write them under 'radio', each with its id, name and tuning",
            path=str(asked.path),
        )


def _search(
    asked: Asked,
    mode: Mode | None,
    seed: int,
    seconds: float | None,
    moves: int | None,
    progress: Callable[[SoFar], None] | None,
    stop: Callable[[], bool] | None,
) -> tuple[CarrierPlan, Mode, int, float]:
    from rollsound.actions.radio_search import find_within, with_all_spares

    if seconds is not None and not 0 < seconds < 86_400:
        raise InputError(f"a search of {seconds:g} seconds cannot be made; ask for more than 0, and less than a day")
    chosen = mode or asked.mode
    began = time.monotonic()

    def tell(found: Found) -> None:
        assert progress is not None
        progress(
            SoFar(
                found.placed,
                len(asked.task.wanted),
                margin_khz(found.margin_hz),
                found.moves,
                found.effort_moves,
                time.monotonic() - began,
            )
        )

    found = find_within(
        asked.task,
        chosen,
        seed=seed,
        effort_moves=moves,
        seconds=seconds,
        progress=None if progress is None else tell,
        stop=stop,
    )
    return with_all_spares(asked.task, asked.radio, found), chosen, seed, time.monotonic() - began


def _plan_result(asked: Asked, found: CarrierPlan, mode: Mode, seed: int, seconds: float) -> PlanResult:
    names = names_of(asked)
    order = [each.id for each in asked.task.wanted if each.id in found.carriers_hz]
    return PlanResult(
        path=str(asked.path),
        name=asked.name,
        mode=mode.value,
        seed=seed,
        assignments=tuple(Assignment(id=id, mhz=found.carriers_hz[id] / 1e6) for id in order),
        unplaced=unplaced_rows(asked, found.unplaced),
        margin_khz=margin_khz(found.margin_hz) if len(order) > 1 else None,
        bound=_bound_row(found.bound),
        proved=found.proved,
        carriers=carrier_rows(asked, found.carriers_hz, found.audit, spares_hz=found.spares_hz, moved=found.moved),
        spares=_spare_rows(asked.task, found.spares_hz, names),
        moved=found.moved,
        moves=found.moves,
        seconds=round(seconds, 3),
        stopped=found.stopped,
        findings=tuple(findings_of(with_carriers(asked, found.carriers_hz, found.spares_hz), found.audit)),
        notes=(*asked.notes, *_all_at_once(asked, mode)),
        cautions=cautions_of(asked),
    )


def _all_at_once(asked: Asked, mode: Mode) -> tuple[str, ...]:
    """Who adds one on one site is told that what sends on the others was held against it too."""
    if mode is not Mode.ADD or len(tasks_of(asked)) < 2:
        return ()
    return (
        "All sites are held at once, as if everybody sent everywhere; to add on one site among those who send there, "
        f"name it with --site: {', '.join(asked.site_names)}.",
    )


def spare(asked: Asked, *, each: int | None = None, ids: Collection[str] = ()) -> SpareResult:
    """Frequencies that can be switched to at once: clear of all carriers that are there, and of each other.

    Parameters
    ----------
    each
        how many for each transmitter; what the plan wants, or two, when None
    ids
        of the transmitters that need some; those that the plan wants them for, or all, when empty

    Raises
    ------
    InputError
        when a transmitter is not there, or the carriers themselves do not hold
    """
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.spares import spares
    from rollsound.radio.kept_spares import in_use, kept_spares, written_spares

    _refuse_empty(asked)
    for id in ids:
        asked.wanted(id)
    if each is not None and not 1 <= each <= 8:
        raise InputError(f"{each} spare frequencies for one transmitter cannot be kept; ask for 1 to 8")
    carriers = asked.carriers_hz
    if not carriers:
        raise InputError(f"{asked.name} has no frequencies yet; find some first, with: rollsound radio plan")
    if not audit(asked.task, carriers).clean:
        if len(tasks := tasks_of(asked)) > 1 and audit_of(asked, tasks, carriers).clean:
            raise InputError(
                f"the frequencies of {asked.name} hold on every site, and not on all of them at once; name one with "
                "--site"
            )
        raise InputError(
            f"the frequencies of {asked.name} do not hold by themselves, so nothing can be kept clear of them; look "
            f"with: rollsound radio check {asked.path}"
        )
    chosen = set(ids) or {w.id for w in asked.task.wanted if w.spares and w.id in carriers} or set(carriers)
    task = replace(
        asked.task,
        wanted=tuple(
            replace(w, spares=(each or w.spares or SPARES_EACH) if w.id in chosen else 0) for w in asked.task.wanted
        ),
    )
    # what others keep free stays, where it holds: the new spares are clear of it too
    others = {id: freqs for id, freqs in written_spares(asked.radio).items() if id not in chosen}
    found, _ = spares(*in_use(task, carriers, kept_spares(asked.task, carriers, others)))
    rows = _spare_rows(task, found, names_of(asked))
    return SpareResult(
        path=str(asked.path),
        name=asked.name,
        spares=rows,
        short=tuple(row.id for row in rows if len(row.mhz) < row.wanted),
        notes=asked.notes,
        cautions=cautions_of(asked),
    )


def save_plan(asked: Asked, result: PlanResult, *, name: str = "") -> PlanResult:
    """Save the frequencies and spares of a plan where it was asked for; answers with where that is.

    Parameters
    ----------
    name
        of the person whose edit it is; the mixer's when empty

    Raises
    ------
    InputError
        for a bare request, which has no place for them; and for frequencies of one site that collide on another
    ClashError
        when somebody changed the same frequencies since the plan was read
    StorageError
        when the disk fails
    """
    from rollsound.actions.radio_elsewhere import refuse_elsewhere

    carriers = {each.id: round(each.mhz * 1e6) for each in result.assignments}
    refuse_elsewhere(asked.radio, carriers, sites=asked.sites, site_names=asked.site_names, scans=asked.scans)
    spares = {each.id: tuple(round(mhz * 1e6) for mhz in each.mhz) for each in result.spares}
    # A spare that the new carriers harm goes with the plan that was; those that still hold are in the result.
    everyone = {each.id: spares.get(each.id, ()) for each in asked.task.wanted}
    saved = save_frequencies(asked, carriers, everyone, f"Planned carriers ({result.mode})", name)
    return result.model_copy(update={"saved": saved})


def save_spares(asked: Asked, result: SpareResult, *, name: str = "") -> SpareResult:
    """Save spare frequencies where they were asked for, and how many are wanted, so that later plans look for them.

    Nobody else's are touched. Raises as ``save_plan``.
    """
    spares = {each.id: tuple(round(mhz * 1e6) for mhz in each.mhz) for each in result.spares}
    wanted = {each.id: each.wanted for each in result.spares}
    saved = save_frequencies(asked, {}, spares, "Kept spare frequencies", name, wanted=wanted)
    return result.model_copy(update={"saved": saved})


def with_carriers(asked: Asked, carriers_hz: Mapping[str, int], spares_hz: Mapping[str, Collection[int]]) -> Asked:
    """The same question, as if these frequencies and spares stood in it already."""
    from rollsound.written import Written

    def written(hz: int) -> Written:
        return Written(hz, f"{hz} Hz")

    wanted = tuple(replace(w, now_hz=carriers_hz.get(w.id)) for w in asked.task.wanted)
    asked_for = {each.id for each in wanted}
    transmitters = tuple(
        each.model_copy(
            update={
                "frequency_hz": written(carriers_hz[each.id]) if each.id in carriers_hz else None,
                "spare_frequencies": tuple(written(hz) for hz in spares_hz.get(each.id, ())),
            }
        )
        if each.id in asked_for
        else each
        for each in asked.radio.transmitters
    )
    task = replace(asked.task, wanted=wanted)
    return replace(
        asked,
        task=task,
        radio=asked.radio.model_copy(update={"transmitters": transmitters}),
        asking=None if asked.asking is None else replace(asked.asking, task=task),
    )


def _bound_row(found: Bound | None) -> BoundRow | None:
    return None if found is None else BoundRow(most=found.most, why=found.why)


def _spare_rows(task: Task, spares_hz: Mapping[str, tuple[int, ...]], names: Mapping[str, str]) -> tuple[SpareRow, ...]:
    return tuple(
        SpareRow(id=w.id, name=names[w.id], mhz=tuple(hz / 1e6 for hz in spares_hz.get(w.id, ())), wanted=w.spares)
        for w in task.wanted
        if w.spares or spares_hz.get(w.id)
    )


__all__ = ["Asked", "SoFar", "check", "plan", "read", "save_plan", "save_spares", "spare", "with_carriers"]
