"""What the page *Radio* shows: every transmitter with its carrier, the margin it keeps and what sets it.

The page asks often, with one carrier moved a step: the task is made once for each state of the plan and kept.
"""

from __future__ import annotations

import threading
import weakref
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rollsound.actions.radio_read import Stamp, scan_stamps
from rollsound.errors import InputError, RollsoundError

if TYPE_CHECKING:
    from pathlib import Path

    from rollsound.radio.carriers.answer import Audit, Bound
    from rollsound.radio.carriers.live import Live
    from rollsound.radio.carriers.task import Task, Wanted
    from rollsound.radio.model import RadioPart, Transmitter
    from rollsound.radio.scan import ScanLevels
    from rollsound.show.folder import Show

NO_LIMIT_HZ = 1_000_000_000
"""A margin that nothing sets: of a carrier without any other."""
_KEPT = 12
BEST = 3


@dataclass(frozen=True)
class Question:
    """The radio part of a plan as it stood, and the task made of it, as far as its mistakes leave one."""

    revision: int
    site: str
    radio: RadioPart
    task: Task
    scans: Mapping[str, ScanLevels] = field(default_factory=dict)
    mistakes: tuple[tuple[str, str], ...] = ()
    """Place and sentence of each; a transmitter that has one is not in the task."""
    notes: tuple[str, ...] = ()

    @property
    def transmitters(self) -> tuple[Transmitter, ...]:
        """Those that send on the site, in the order of the plan."""
        return tuple(
            each for each in self.radio.transmitters if not self.site or not each.sites or self.site in each.sites
        )

    @property
    def carriers_hz(self) -> dict[str, int]:
        """The carriers that are checked."""
        return {each.id: each.now_hz for each in self.task.wanted if each.now_hz is not None}

    def wanted(self, transmitter: str) -> Wanted:
        """What a transmitter asks for.

        Raises
        ------
        InputError
            when the task has none of this id
        """
        found = next((each for each in self.task.wanted if each.id == transmitter), None)
        if found is None:
            raise InputError(f"no transmitter '{transmitter}' is in this carrier plan; look at the table again")
        return found


@dataclass(frozen=True, eq=False)
class State:
    """A question with its answer as the plan stands."""

    question: Question
    audit: Audit | None
    bound: Bound | None = None

    @property
    def waiting(self) -> tuple[str, ...]:
        """Transmitters without a carrier."""
        return tuple(each.id for each in self.question.transmitters if each.frequency_hz is None)


@dataclass(frozen=True)
class OpenTo:
    """Frequencies that are free to one transmitter, the worst margin of all at each, and the best few."""

    freqs_hz: list[int]
    margins_hz: list[int]
    best_hz: list[int]


_states: OrderedDict[tuple[str, int, str, tuple[Stamp, ...]], State] = OrderedDict()
_lives: dict[int, Live] = {}
_one = threading.RLock()


def state_of(show: Show, site: str = "") -> State:
    """The carrier plan of a site, or of all sites together, checked; kept until the plan or a scan changes.

    Raises
    ------
    InputError
        when the plan has no such site
    """
    head = show.store.head()
    radio = show.plan().radio
    key = (str(show.folder), head.revision, site, scan_stamps(show.folder, radio))
    with _one:
        kept = _states.get(key)
        if kept is None:
            kept = state_with(show, radio, head.revision, site)
            _states[key] = kept
            while len(_states) > _KEPT:
                _states.popitem(last=False)
    return kept


def unchecked(show: Show, site: str = "") -> State:
    """The same before anything was checked, which is there at once."""
    head = show.store.head()
    return State(question_of(show.folder, show.plan().radio, head.revision, site), None)


def state_with(show: Show, radio: RadioPart, revision: int, site: str = "") -> State:
    """The same for a radio part that is not in the plan, or not yet.

    Raises
    ------
    InputError
        when the plan has no such site
    """
    if site and site not in {each.id for each in show.plan().sites}:
        raise InputError(f"the plan has no site '{site}'; choose one of the list")
    return _state(question_of(show.folder, radio, revision, site))


def moved(state: State, transmitter: str, freq_hz: int) -> Audit:
    """The check with one carrier elsewhere; nothing is saved.

    Raises
    ------
    InputError
        when the transmitter is unknown
    """
    question = state.question
    question.wanted(transmitter)
    with _one:
        live = _lives.get(id(state))
        if live is None:
            from rollsound.radio.carriers.live import Live

            live = Live(question.task, question.carriers_hz)
            _lives[id(state)] = live
            weakref.finalize(state, _lives.pop, id(state), None)
        before = question.carriers_hz.get(transmitter)
        found = live.move(transmitter, freq_hz)
        if before is None:
            live.remove(transmitter)
        else:
            live.move(transmitter, before)
    return found


def open_to(state: State, transmitter: str) -> OpenTo:
    """Where one transmitter could go with all others where they are.

    Raises
    ------
    InputError
        when the transmitter is unknown
    """
    from rollsound.radio.carriers.free import free

    question = state.question
    wanted = question.wanted(transmitter)
    others = {id: hz for id, hz in question.carriers_hz.items() if id != transmitter}
    found = free(question.task, others, wanted)
    best = [hz for hz, _ in found.best(BEST)]
    return OpenTo([int(each) for each in found.freqs_hz], [int(each) for each in found.margin_hz], best)


def _state(question: Question) -> State:
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.bounds import bound

    carriers = question.carriers_hz
    return State(question, audit(question.task, carriers) if carriers else None, bound(question.task))


def question_of(folder: Path, radio: RadioPart, revision: int, site: str = "") -> Question:
    """The task of a radio part; files of scans begin at ``folder``."""
    from rollsound.radio.asking import asked

    scans, problems = _scans(folder, radio)
    asking = asked(radio, sites=(site,) if site else None, scans=scans)
    mistakes = [*problems, *((each.place, each.sentence) for each in asking.wrong)]
    return Question(revision, site, radio, asking.task, scans, tuple(mistakes), asking.notes)


def _scans(folder: Path, radio: RadioPart) -> tuple[dict[str, ScanLevels], list[tuple[str, str]]]:
    """The levels of every scan that is used and can be read, and why others cannot."""
    from rollsound.actions.radio_read import scan_is_there, scan_text
    from rollsound.radio.scan import read

    found: dict[str, ScanLevels] = {}
    problems = []
    for each in radio.scans:
        path = folder / each.file
        if not each.used or not scan_is_there(path):  # that one is not there, is told by the question itself
            continue
        try:
            found[each.id] = read(scan_text(path), each.file)
        except RollsoundError as error:
            problems.append((f"scans {each.id}", error.sentence))
    return found, problems
