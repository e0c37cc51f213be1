"""A check that stays up to date while one carrier after the other is moved."""

from __future__ import annotations

from collections.abc import Mapping

from rollsound.errors import InputError
from rollsound.radio.carriers.answer import Audit
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.task import Task

LISTED = 100


class Live:
    """Carriers, and what a full check says of them."""

    def __init__(self, task: Task, carriers_hz: Mapping[str, int]) -> None:
        self._task = task
        self._known = {each.id for each in task.wanted}
        self._carriers = dict(carriers_hz)
        self.audit: Audit = audit(task, self._carriers, listed=LISTED)

    @property
    def carriers_hz(self) -> dict[str, int]:
        """Where everything is now."""
        return dict(self._carriers)

    def move(self, id: str, freq_hz: int) -> Audit:
        """Put a transmitter on a carrier, whether it had one or not."""
        if id not in self._known:
            raise InputError(f"{id} is not among the transmitters of this plan; take one of them")
        self._carriers[id] = freq_hz
        self.audit = audit(self._task, self._carriers, listed=LISTED)
        return self.audit

    def remove(self, id: str) -> Audit:
        """Take a transmitter off its carrier."""
        self._carriers.pop(id, None)
        self.audit = audit(self._task, self._carriers, listed=LISTED)
        return self.audit
