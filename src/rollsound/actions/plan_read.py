"""A plan to ask something of: from a show's folder, or from a YAML or JSON text that holds a plan or a part of one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from rollsound.actions.gather import read_text_file
from rollsound.errors import InputError, Mistake, MistakesError, storage

if TYPE_CHECKING:
    from rollsound.show.model import Plan
    from rollsound.wrong import Wrong

Place = tuple[int | str, ...]


@dataclass(frozen=True)
class PlanRead:
    """A plan and where it was read.

    ``document`` is as it was written, ``comments`` are those of a YAML text, ``revision`` is a show's.
    """

    path: Path
    form: Literal["show", "text"]
    plan: Plan
    document: Mapping[str, Any]
    line_of: Callable[[Place], int]
    """The line of a place (names, and positions in lists), or of the nearest around it; 0 where there are no lines."""
    comments: Mapping[str, Any]
    revision: int | None = None
    is_json: bool = False

    @property
    def name(self) -> str:
        """The show's title; that of a text without a show's head is the file's name."""
        return self.plan.show.title

    @property
    def folder(self) -> Path:
        """Where names of files begin."""
        return self.path if self.form == "show" else self.path.parent

    def line(self, at: Iterable[str]) -> int:
        """The line of a place that has ids in place of positions: ``("kit", "items", "cart", "mass")``."""
        place: list[int | str] = []
        here: Any = self.document
        for step in at:
            if isinstance(here, list):
                found = next(
                    (n for n, each in enumerate(here) if isinstance(each, dict) and each.get("id") == step), None
                )
                if found is None:
                    break
                place.append(found)
                here = here[found]
            else:
                place.append(step)
                here = here.get(step) if isinstance(here, dict) else None
        return self.line_of(tuple(place))

    def notes(self, *parts: str) -> tuple[str, ...]:
        """What stands in these parts of the plan and is no field of it, each a sentence with its line.

        A misspelt name is kept and not looked at: it is told, so that nobody relies on it.
        """
        from rollsound.show.proofs import unknown_fields

        told = []
        for place, near in unknown_fields(self.plan):
            if place[0] not in parts:
                continue
            line = self.line(place)
            where = f"line {line}: " if line else ""
            meant = f"; perhaps '{near}' was meant" if near else ""
            told.append(
                f"{where}'{place[-1]}' at {' '.join(place[:-1]) or 'the plan'} is no field, and not looked at{meant}."
            )
        return tuple(told)

    def refuse(self, wrong: Iterable[Wrong]) -> None:
        """Tell all that is wrong beyond its form at once, each with its line; nothing happens where nothing is.

        Raises
        ------
        MistakesError
            with every mistake
        """
        told = [Mistake(each.place, self.line(each.at), each.sentence) for each in dict.fromkeys(wrong)]
        if told:
            raise MistakesError(str(self.path), sorted(told, key=lambda each: each.line))


def read_plan(path: Path) -> PlanRead:
    """Read a show's folder, or a YAML or JSON text of a plan; a text may hold only some of a plan's parts.

    Raises
    ------
    MistakesError
        with every mistake and, where it has lines, its line
    InputError
        when it is neither
    StorageError
        when it is not there
    """
    with storage(path):
        is_folder = path.is_dir()
        path.stat()
    if is_folder:
        return _of_show(path)
    text = read_text_file(path)
    if path.suffix.lower() == ".json" or text.lstrip("\ufeff \t\r\n")[:1] == "{":
        return _of_json(path, text)
    from rollsound.show.text import read_text

    whole = read_text(text, path.name)
    return _of_text(path, whole.document, whole.line_of, comments=whole.comments)


def _of_show(path: Path) -> PlanRead:
    from rollsound.show.folder import Show

    with Show.open(path, read_only=True) as show:
        return PlanRead(path, "show", show.plan(), show.document(), lambda _place: 0, {}, show.revision)


def _of_json(path: Path, text: str) -> PlanRead:
    from rollsound.jsontext import read_json

    whole = read_json(text, path.name)
    if not isinstance(whole.value, dict):
        raise InputError(f"{path.name} holds no group of named values; begin with a part of the plan, such as 'kit'")
    return _of_text(path, whole.value, whole.line_of, is_json=True)


def _of_text(
    path: Path,
    document: dict[str, Any],
    line_of: Callable[[Place], int],
    *,
    comments: Mapping[str, Any] | None = None,
    is_json: bool = False,
) -> PlanRead:
    from rollsound.show.checked import checked
    from rollsound.show.model import Plan

    if not set(Plan.model_fields) & set(document):
        parts = ", ".join(name for name in Plan.model_fields if name != "version")
        raise InputError(
            f"{path.name} holds no part of a plan; begin with one of: {parts}; or name a show's folder", path=str(path)
        )
    plan = checked({"show": {"title": path.stem}, **document}, path.name, line_of)
    return PlanRead(path, "text", plan, document, line_of, comments or {}, is_json=is_json)
