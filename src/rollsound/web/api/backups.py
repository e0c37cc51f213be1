"""Backups of the show: seen, made, gone back to."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel

from rollsound.log.backups import Backup, backups_of, make_backup
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/backups", tags=["backups"], responses=PROBLEMS)


class BackupAnswer(BaseModel):
    """One backup."""

    name: str
    kind: str
    at: datetime
    revision: int
    size_bytes: int


class BackupsAnswer(BaseModel):
    """All backups, newest first."""

    backups: list[BackupAnswer]


class RestoredAnswer(BaseModel):
    """The show went back to a backup; as it was until then it is kept under ``aside``."""

    backup: str
    revision: int
    aside: str


@router.get("", response_model=BackupsAnswer)
def backups(desk: TheDesk) -> BackupsAnswer:
    """All backups beside the show."""
    return BackupsAnswer(backups=[_answer(each) for each in backups_of(desk.show.store.path)])


@router.post("", response_model=BackupAnswer, dependencies=[needs(Right.PLAN)])
def make(desk: TheDesk) -> BackupAnswer:
    """Make a backup now, proven by reading it back."""
    return _answer(make_backup(desk.show.store.path))


@router.post("/{name}/restore", response_model=RestoredAnswer, dependencies=[needs(Right.MACHINE)])
def restore(desk: TheDesk, visitor: TheVisitor, name: str) -> RestoredAnswer:
    """Go back to a backup; on this machine only. Nothing is thrown away."""
    found = backup_named(desk, name)
    restored = desk.go_back(found.path, visitor.author())
    return RestoredAnswer(
        backup=found.path.name, revision=restored.revision, aside=restored.aside.name if restored.aside else ""
    )


def backup_named(desk: Desk, name: str) -> Backup:
    """A backup by its name; looked up in the list, never on the disk by a name from outside."""
    for each in backups_of(desk.show.store.path):
        if each.path.name == name:
            return each
    raise missing(w("settings.no_backup"))


def _answer(backup: Backup) -> BackupAnswer:
    return BackupAnswer(
        name=backup.path.name,
        kind=backup.kind,
        at=backup.at,
        revision=backup.revision,
        size_bytes=backup.size_bytes,
    )
