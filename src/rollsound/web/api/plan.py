"""The plan: as a document, as text, and changes to it."""

from __future__ import annotations

import threading
from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from rollsound.errors import MistakesError, RollsoundError
from rollsound.show.model import plan_schema
from rollsound.web.api.answers import ChangeShape, SavedAnswer, Take
from rollsound.web.desk import TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS, ProblemMistake, problem_of
from rollsound.web.security.rights import Right

router = APIRouter(prefix="/api/v1/plan", tags=["plan"], responses=PROBLEMS)
_LONGEST_TEXT = 4_000_000
_one_check = threading.Lock()


class PlanAnswer(BaseModel):
    """The plan as a document, as it was written, with quantities as text."""

    revision: int
    plan: dict[str, Any]


class TextAnswer(BaseModel):
    """The whole plan as text."""

    revision: int
    text: str


class TextGiven(BaseModel):
    """The whole plan as text, as somebody wants it."""

    text: str = Field(max_length=_LONGEST_TEXT)
    base_revision: int = Field(ge=0, le=2**31, description="the revision that the text was made from")
    take: Take = Field(default_factory=dict, description="which side holds where both changed the same, by path")


class CheckGiven(BaseModel):
    """A text to look at; nothing is saved."""

    text: str = Field(max_length=_LONGEST_TEXT)


class CheckAnswer(BaseModel):
    """Every mistake in a text; none when it could be saved."""

    mistakes: list[ProblemMistake]


class EditsGiven(BaseModel):
    """Changes to single values of the plan."""

    changes: list[ChangeShape] = Field(min_length=1, max_length=5000)
    base_revision: int | None = Field(default=None, ge=0, le=2**31)
    sentence: str = Field(default="", max_length=300, description="what was done; made from the changes when empty")
    take: Take = Field(default_factory=dict)


@router.get("", response_model=PlanAnswer)
def plan(desk: TheDesk) -> PlanAnswer:
    """The plan as it stands."""
    head = desk.show.store.head()
    return PlanAnswer(revision=head.revision, plan=head.document)


@router.get("/schema", response_model=dict[str, Any])
def schema() -> dict[str, Any]:
    """The plan's JSON Schema."""
    return plan_schema()


@router.get("/text", response_model=TextAnswer)
def text(desk: TheDesk) -> TextAnswer:
    """The whole plan as text, with its comments."""
    revision = desk.show.store.head().revision
    return TextAnswer(revision=revision, text=desk.show.text())


@router.put("/text", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def put_text(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: TextGiven) -> SavedAnswer:
    """Save the plan as text. What others changed since ``base_revision`` is kept, field by field."""
    saved = desk.show.save_text(
        given.text, given.base_revision, visitor.author(), key=key, take=given.take, guard=guard_of(visitor)
    )
    desk.tell_saved(saved)
    return SavedAnswer.of(saved)


@router.post("/check", response_model=CheckAnswer, dependencies=[needs(Right.PLAN)])
def check(given: CheckGiven) -> CheckAnswer:
    """Look at a text: its mistakes, each with its line, the first 200 of them. For those who may save it."""
    from rollsound.show.text import parse_plan

    try:
        with _one_check:  # reading a long text keeps a core busy for seconds; more at once would only be slower
            parse_plan(given.text)
    except MistakesError as error:
        return CheckAnswer(mistakes=problem_of(error).mistakes or [])
    except RollsoundError as error:
        return CheckAnswer(mistakes=[ProblemMistake(place="", line=0, sentence=error.sentence)])
    return CheckAnswer(mistakes=[])


@router.post("/edits", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def edits(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: EditsGiven) -> SavedAnswer:
    """Change single values of the plan."""
    saved = desk.show.edit(
        [each.change() for each in given.changes],
        visitor.author(),
        sentence=given.sentence,
        key=key,
        base_revision=given.base_revision,
        take=given.take,
        guard=guard_of(visitor),
    )
    desk.tell_saved(saved)
    return SavedAnswer.of(saved)
