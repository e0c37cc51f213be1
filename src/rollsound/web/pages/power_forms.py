"""The forms in which one row of the plan is written: which fields it has, and what stands in them now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

CHEMISTRIES = ("li-ion", "lifepo4", "nimh", "alkaline", "lithium", "zinc-carbon", "lead-acid")
STATES = ("working", "idle", "asleep", "off")


@dataclass(frozen=True)
class Field:
    """One field. ``inside`` names the group of the plan that it stands in, such as a feeding's wire."""

    name: str
    kind: Literal["text", "number", "check", "choice"] = "text"
    options: tuple[str, ...] = ()
    required: bool = False
    hint: bool = False
    inside: str = ""
    least: float = 0
    most: float | None = None
    step: str = "any"
    mono: bool = False

    @property
    def sent(self) -> str:
        """What the change calls it."""
        return f"{self.inside}_{self.name}" if self.inside else self.name


@dataclass(frozen=True)
class Filled:
    """A field with what the plan has in it."""

    field: Field
    value: str
    checked: bool = False
    options: tuple[tuple[str, str], ...] = ()
    """Value and what it is called."""


def _count(name: str, least: int, most: int) -> Field:
    return Field(name, "number", least=least, most=most, step="1")


def _share(name: str) -> Field:
    return Field(name, "number", least=0.01, most=1, hint=True)


BATTERY = (
    Field("name", required=True),
    Field("chemistry", "choice", CHEMISTRIES),
    Field("voltage", mono=True, hint=True),
    Field("capacity", mono=True, hint=True),
    Field("cell", mono=True, hint=True),
    _count("count", 0, 1000),
    _share("depth"),
    _share("health"),
    Field("cutoff", mono=True, hint=True),
    Field("charge_power", mono=True, hint=True),
    Field("note"),
)
SUPPLY = (
    Field("name"),
    Field("battery", "choice", ("batteries",)),
    _count("in_parallel", 1, 100),
    _count("in_series", 1, 100),
    Field("each", "check"),
    Field("swappable_running", "check"),
    Field("mains", "check"),
    Field("from_supply", "choice", ("supplies",)),
    Field("output", mono=True, hint=True),
    Field("efficiency", "number", least=0.01, most=1, hint=True),
    Field("most", mono=True, hint=True),
    Field("temperature", mono=True, hint=True),
    Field("note"),
)
FEED = (
    Field("piece", "choice", ("pieces",), hint=True),
    Field("item", "choice", ("items",), hint=True),
    _count("count", 0, 1000),
    Field("draw", mono=True, hint=True),
    Field("length", inside="wire", mono=True, hint=True),
    Field("section", inside="wire", mono=True, hint=True),
    Field("fuse", inside="wire", mono=True, hint=True),
)
PHASE = (
    Field("day", "choice", ("days",)),
    Field("from", required=True, mono=True, hint=True),
    Field("to", required=True, mono=True, hint=True),
    Field("state", "choice", STATES),
    Field("break", "check"),
    Field("note"),
)
SOCKET = (
    Field("name"),
    Field("most", required=True, mono=True, hint=True),
    Field("from", mono=True, hint=True),
    Field("to", mono=True, hint=True),
    _count("places", 0, 1000),
    Field("attended", "check"),
    Field("temperature", mono=True, hint=True),
    Field("note"),
)
ITEM = (
    Field("name", required=True),
    Field("kind"),
    Field("model", "choice", ("models",), hint=True),
    _count("count", 0, 100_000),
    Field("mass", mono=True, hint=True),
    Field("rack_units", "number", most=60),
    Field("draw", mono=True, hint=True),
    Field("make", hint=True),
    Field("serials", mono=True, hint=True),
    Field("value", "number", hint=True),
    Field("origin", mono=True, hint=True),
    Field("consumable", "check", hint=True),
    Field("travels_in", hint=True),
    Field("travels_by", "choice", ("cabin", "hold", "air cargo", "road or sea", "stays")),
    Field("note"),
)
MOVE = (
    Field("name"),
    Field("load", "choice", ("loads",), required=True, hint=True),
    _count("people", 1, 20),
    Field("women", "check"),
    Field("zones", hint=True),
    Field("arms_length", "check"),
    Field("surface", "choice", ("good", "uneven")),
    Field("slope", mono=True, hint=True),
    _count("steps", 0, 1000),
    Field("note"),
)
_UNSET = {"chemistry": "li-ion", "state": "working", "surface": "good"}
"""What holds where nothing is written; the form shows it, and writes it once it is changed."""


def filled(
    fields: Sequence[Field], item: Mapping[str, Any], choices: Mapping[str, Sequence[tuple[str, str]]], none: str
) -> list[Filled]:
    """The fields of a form with what the plan has.

    Parameters
    ----------
    choices
        by the name of a list: ids and names of what it offers
    none
        how an empty choice is called
    """
    return [_filled(field, item, choices, none) for field in fields]


def _filled(
    field: Field, item: Mapping[str, Any], choices: Mapping[str, Sequence[tuple[str, str]]], none: str
) -> Filled:
    inside = item.get(field.inside) if field.inside else item
    value = inside.get(field.name) if isinstance(inside, Mapping) else None
    if field.kind == "check":
        return Filled(field, "", checked=value is True)
    if isinstance(value, list | tuple):
        value = ", ".join(str(each) for each in value)
    text = _UNSET.get(field.name, "") if value is None else str(value)
    if field.kind != "choice":
        return Filled(field, text)
    offered = choices.get(field.options[0])
    options = list(offered) if offered is not None else [(each, each) for each in field.options]
    if field.name not in _UNSET and not (field.required and text):
        options.insert(0, ("", none))
    if text and text not in {id for id, _ in options}:
        options.append((text, text))
    return Filled(field, text, options=tuple(options))
