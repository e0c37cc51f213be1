"""The order of names in the document's text: the model's, then those it does not know as they came."""

from __future__ import annotations

import functools
from typing import Any, get_args

from pydantic import BaseModel

from rollsound.show.model import Plan


def in_order(document: dict[str, Any]) -> dict[str, Any]:
    """The document with its names in the order of the plan's model."""
    return _dict(document, Plan)


def _dict(value: dict[str, Any], model: type[BaseModel] | None) -> dict[str, Any]:
    known = _fields(model) if model is not None else {}
    names = [name for name in known if name in value] + [name for name in value if name not in known]
    return {name: _any(value[name], known.get(name)) for name in names}


def _any(value: Any, model: type[BaseModel] | None) -> Any:
    if isinstance(value, dict):
        return _dict(value, model)
    if isinstance(value, list):
        return [_any(part, model) for part in value]
    return value


@functools.cache
def _fields(model: type[BaseModel]) -> dict[str, type[BaseModel] | None]:
    """A model's names as people write them, each with the model of what stands there, if it has one."""
    return {field.alias or name: model_in(field.annotation) for name, field in model.model_fields.items()}


def model_in(annotation: Any) -> type[BaseModel] | None:
    """The model inside of an annotation: of a part, or of the items of a list of parts."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (model_in(part) for part in get_args(annotation))
    return next((model for model in found if model is not None), None)
