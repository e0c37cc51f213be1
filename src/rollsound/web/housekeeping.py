"""What a server does beside answering: rolling backups, and news of changes that another program made."""

from __future__ import annotations

import logging
import threading
import time

from rollsound.errors import RollsoundError
from rollsound.log.backups import make_backup
from rollsound.log.daybook import LogBook
from rollsound.web.desk import Desk

_LOOK_S = 1.0
_BACKUP_S = 600.0
_log = logging.getLogger("rollsound.web")


class Housekeeping(threading.Thread):
    """A thread of its own; ``stop`` ends it and makes the last backup."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(name="housekeeping", daemon=True)
        self._desk = desk
        self._ended = threading.Event()
        self._next_backup = time.monotonic()
        self._looked_at = -1

    def run(self) -> None:
        """Look after the show until it is stopped."""
        while not self._ended.is_set():
            try:
                self.look()
            except RollsoundError as error:  # a disk that is full or away for a while; the next look may find it back
                _log.warning("%s", error.sentence)
            except Exception:  # one fault must not end all later backups
                _log.exception("the show could not be looked after; the next look tries again")
            self._ended.wait(_LOOK_S)

    def stop(self) -> None:
        """End, with a backup of what was done last."""
        self._ended.set()
        self.join(timeout=5.0)
        if not self._desk.show.read_only:
            make_backup(self._desk.show.store.path, only_if_changed=True)

    def look(self) -> None:
        """One look: news of others, and a backup when it is time."""
        store = self._desk.show.store
        head = store.head()
        if head.revision > self._desk.told_revision:
            self._desk.told_revision = head.revision
            self._desk.heed_people()
            newest = store.entry(head.revision)
            news = {"revision": head.revision, "paths": []}
            if newest is not None:
                news |= {"person": newest.author.person, "sentence": newest.sentence}
                news["paths"] = [change.path for change in newest.changes][:100]
            self._desk.live.publish("plan", news)
        self._look_at_log()
        if time.monotonic() >= self._next_backup and not self._desk.show.read_only:
            self._next_backup = time.monotonic() + _BACKUP_S
            make_backup(store.path, only_if_changed=True)

    def _look_at_log(self) -> None:
        """News of the log that another program wrote."""
        store = self._desk.show.store
        version = store.data_version()
        if version == self._looked_at:
            return
        self._looked_at = version
        newest = LogBook(store).last_number()
        if newest > self._desk.told_logged:
            self._desk.told_logged = newest
            self._desk.live.publish("log", {"number": newest, "anew": True})
