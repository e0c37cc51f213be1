"""One more transmitter now, and spare frequencies, as the page *Radio* asks for them. Nothing else moves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rollsound.actions.radio_page import open_to, state_with
from rollsound.actions.radio_page_edits import add, frequency_text, ids_in, new_id, put
from rollsound.errors import InputError, MistakesError

if TYPE_CHECKING:
    from rollsound.actions.radio_page import Question
    from rollsound.log.model import Head
    from rollsound.radio.carriers.task import Task
    from rollsound.radio.model import RadioPart
    from rollsound.show.folder import Show


@dataclass(frozen=True)
class NewTransmitter:
    """A transmitter as somebody wrote it."""

    name: str
    kind: str
    wearer: str
    tuning: str
    step: str
    power: str
    site: str


@dataclass(frozen=True)
class Added:
    """The plan's document with it, where it was put, and the worst margin then."""

    document: dict[str, Any]
    id: str
    freq_hz: int
    margin_hz: int


@dataclass(frozen=True)
class Spared:
    """The plan's document with spares; ``short`` are ids of those that got fewer than wanted."""

    document: dict[str, Any]
    found: int
    short: tuple[str, ...]


def add_one(show: Show, head: Head, new: NewTransmitter) -> Added:
    """Put one more transmitter where it keeps the most margin.

    Raises
    ------
    InputError
        when what was written cannot be read, or no frequency is free for it; the cheapest change that was tried and
        helps is told then
    """
    listed = ("transmitters",)
    id = new_id(new.name, ids_in(head.document, listed))
    written = {
        "id": id,
        "name": new.name,
        "kind": new.kind,
        "wearer": new.wearer.strip(),
        "tuning": new.tuning.strip(),
        "step": new.step.strip(),
        "power": new.power.strip(),
        "sites": [new.site] if new.site else [],
    }
    document = add(head.document, listed, {name: value for name, value in written.items() if value})
    try:
        radio = radio_of(document)
    except MistakesError as error:
        first = error.mistakes[0]
        raise InputError(f"{first.place.rpartition(', ')[2]} {first.sentence}") from error
    state = state_with(show, radio, head.revision, new.site)
    own = next((sentence for place, sentence in state.question.mistakes if id in place.split(", ")[0].split()), "")
    if own:
        raise InputError(f"the new transmitter {own}")
    refuse_mistakes(state.question)
    found = open_to(state, id)
    if not found.best_hz:
        raise InputError(_why_not(state.question.wanted(id).low_hz, state.question.wanted(id).high_hz, state, id))
    best = found.best_hz[0]
    margin = found.margins_hz[found.freqs_hz.index(best)]
    return Added(put(document, ("transmitters", id), {"frequency": frequency_text(best)}), id, best, margin)


def find_spares(show: Show, head: Head, site: str, wanted: int) -> Spared:
    """Spares for every transmitter of a site that has a frequency.

    Raises
    ------
    InputError
        when the plan has a mistake, or the carriers themselves do not hold
    """
    state = state_with(show, show.plan().radio, head.revision, site)
    refuse_mistakes(state.question)
    if state.audit is not None and not state.audit.clean:
        raise InputError(
            "the carriers do not hold by themselves, so nothing can be kept clear of them; repair them first"
        )
    found = _spares(state.question.task, state.question.carriers_hz, wanted)
    document = head.document
    short = []
    for each in state.question.transmitters:
        if each.id not in state.question.carriers_hz:
            continue
        its = found.get(each.id, ())
        values = {"spares_wanted": wanted or None, "spare_frequencies": [frequency_text(hz) for hz in its] or None}
        document = put(document, ("transmitters", each.id), values)
        if len(its) < wanted:
            short.append(each.id)
    return Spared(document, sum(len(its) for its in found.values()), tuple(short))


def refuse_mistakes(question: Question) -> None:
    """Raise InputError where somebody is left out of the task: nothing can be kept clear of a carrier not looked at."""
    if question.mistakes:
        place, sentence = question.mistakes[0]
        raise InputError(f"the plan has a mistake at {place}: it {sentence}; correct it first")


def _spares(task: Task, carriers_hz: dict[str, int], wanted: int) -> dict[str, tuple[int, ...]]:
    """So many for each of those with a carrier: all of them may be switched on at once."""
    from rollsound.radio.carriers.spares import spares

    return spares(replace(task, wanted=tuple(replace(each, spares=wanted) for each in task.wanted)), carriers_hz)[0]


def radio_of(document: dict[str, Any]) -> RadioPart:
    """The radio part of a document that is not saved.

    Raises
    ------
    MistakesError
        with everything in it that cannot be read
    """
    from rollsound.show.checked import checked

    return checked(document, "the plan", lambda place: 0).radio


def _why_not(low_hz: int, high_hz: int, state: Any, id: str) -> str:
    from rollsound.radio.carriers.relax import reasons

    told = f"no frequency is free for it between {low_hz / 1e6:g} and {high_hz / 1e6:g} MHz"
    for reason in reasons(state.question.task, state.question.carriers_hz, [id]):
        if reason.relaxations:
            return f"{told}; {reason.relaxations[0].what} would let it in"
    return f"{told}; move another one, or give it another range"
