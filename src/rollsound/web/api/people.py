"""People of the plan and their roles."""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from rollsound.log.changes import ABSENT, Change, items_of, join, value_at
from rollsound.web.api.answers import SavedAnswer
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/people", tags=["people"], responses=PROBLEMS)
_FIELDS = ("name", "job", "role", "contact", "note")


class PersonGiven(BaseModel):
    """A person, or what is to be changed of one: what is left out stays as it is."""

    name: str | None = Field(default=None, min_length=1, max_length=120)
    job: str | None = Field(default=None, max_length=200)
    role: Literal["mixer", "crew", "guest"] | None = None
    contact: str | None = Field(default=None, max_length=300)
    note: str | None = Field(default=None, max_length=2000)
    base_revision: int | None = Field(
        default=None, ge=1, le=2**31, description="what the one who types had before them"
    )


class PersonNew(PersonGiven):
    """A new person."""

    name: str = Field(min_length=1, max_length=120)
    role: Literal["mixer", "crew", "guest"] = "crew"


class PersonAnswer(BaseModel):
    """A person of the plan."""

    id: str
    name: str
    job: str
    role: str
    contact: str
    note: str


class PeopleAnswer(BaseModel):
    """Everybody in the plan."""

    people: list[PersonAnswer]


@router.get("", response_model=PeopleAnswer)
def people(desk: TheDesk) -> PeopleAnswer:
    """Everybody in the plan."""
    return PeopleAnswer(people=people_of(desk))


@router.post("", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def add(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: PersonNew) -> SavedAnswer:
    """Write a person into the plan."""
    document = desk.show.store.head().document
    taken = items_of(document.get("people", [])) or {}
    id = _id_for(given.name, set(taken))
    person = {"id": id, **given.model_dump(exclude_none=True, exclude={"base_revision"})}
    change = Change(f"/people/{id}", ABSENT, person)
    if "people" not in document:
        change = Change("/people", ABSENT, [person])
    return _save(desk, visitor, key, [change])


@router.put("/{person_id}", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def change(desk: TheDesk, visitor: TheVisitor, key: TheKey, person_id: str, given: PersonGiven) -> SavedAnswer:
    """Change what the plan says of a person."""
    kept = _kept(desk, person_id, given.base_revision)
    wanted = given.model_dump(exclude_none=True)
    changes = [
        Change(join(["people", person_id, name]), kept.get(name, ABSENT), wanted[name])
        for name in _FIELDS
        if name in wanted and wanted[name] != kept.get(name, "" if name != "role" else "crew")
    ]
    return _save(desk, visitor, key, changes, given.base_revision)


@router.delete("/{person_id}", response_model=SavedAnswer, dependencies=[needs(Right.PLAN)])
def remove(desk: TheDesk, visitor: TheVisitor, key: TheKey, person_id: str) -> SavedAnswer:
    """Take a person out of the plan."""
    return _save(desk, visitor, key, [Change(join(["people", person_id]), _kept(desk, person_id), ABSENT)])


def people_of(desk: Desk) -> list[PersonAnswer]:
    """Everybody in the plan, read leniently: a plan with mistakes elsewhere still has people."""
    found = items_of(desk.show.store.head().document.get("people", [])) or {}
    return [
        PersonAnswer(id=id, **{name: str(person.get(name, "crew" if name == "role" else "")) for name in _FIELDS})
        for id, person in found.items()
    ]


def _kept(desk: Desk, person_id: str, revision: int | None = None) -> dict[str, object]:
    store = desk.show.store
    document = store.head().document if revision is None else store.at(revision)
    found = value_at(document, join(["people", person_id]))
    if not isinstance(found, dict):
        raise missing(w("settings.no_person"))
    return found


def _save(
    desk: Desk, visitor: Visitor, key: str, changes: list[Change], base_revision: int | None = None
) -> SavedAnswer:
    if not changes:
        return SavedAnswer(revision=desk.show.store.head().revision, number=None, sentence="", changes=[])
    saved = desk.show.edit(changes, visitor.author(), key=key, base_revision=base_revision, guard=guard_of(visitor))
    desk.tell_saved(saved)
    return SavedAnswer.of(saved)


def _id_for(name: str, taken: set[str]) -> str:
    """An id made of a name's plain letters; the first that is free."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "person"
    number, id = 1, stem
    while id in taken:
        number += 1
        id = f"{stem}-{number}"
    return id
