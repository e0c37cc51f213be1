"""What was changed, by whom, when; undo and redo."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel

from rollsound.web.api.answers import ChangeShape, EntryAnswer, SavedAnswer
from rollsound.web.desk import TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS
from rollsound.web.security.rights import Right

router = APIRouter(prefix="/api/v1", tags=["history"], responses=PROBLEMS)
Revision = Annotated[int, Query(ge=0, le=2**31)]


class HistoryAnswer(BaseModel):
    """Entries of the journal, newest first."""

    entries: list[EntryAnswer]


class CompareAnswer(BaseModel):
    """What leads from one revision to another."""

    changes: list[ChangeShape]


@router.get("/history", response_model=HistoryAnswer)
def history(
    desk: TheDesk,
    limit: Annotated[int, Query(ge=1, le=500)] = 50,
    before: Annotated[int | None, Query(ge=0, le=2**31, description="entries with a smaller number only")] = None,
    person: Annotated[str, Query(max_length=100)] = "",
    path: Annotated[str, Query(max_length=2000)] = "",
) -> HistoryAnswer:
    """The journal."""
    entries = desk.show.history(limit=limit, before=before, person=person, path=path)
    return HistoryAnswer(entries=[EntryAnswer.of(entry) for entry in entries])


@router.get("/history/compare", response_model=CompareAnswer)
def compare(desk: TheDesk, older: Revision, newer: Revision) -> CompareAnswer:
    """What differs between two revisions."""
    return CompareAnswer(changes=[ChangeShape.of(change) for change in desk.show.compare(older, newer)])


@router.post("/undo", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def undo(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> SavedAnswer:
    """Take back the newest change of the one who asks."""
    saved = desk.show.undo(visitor.author(), key, guard_of(visitor))
    desk.tell_saved(saved)
    return SavedAnswer.of(saved)


@router.post("/redo", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def redo(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> SavedAnswer:
    """Do again what the one who asks took back last."""
    saved = desk.show.redo(visitor.author(), key, guard_of(visitor))
    desk.tell_saved(saved)
    return SavedAnswer.of(saved)
