"""One key of a table by its name as the builder writes it. A model, a path of names and a raw value in, values out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from halfshaft.build.problems import nearest

M = TypeVar("M", bound=BaseModel)
Field = str  # the name of a field of a model


@cache
def _reader(kind: type[BaseModel], field: str) -> TypeAdapter[Any]:
    info = kind.model_fields[field]
    told: Any = Annotated[(info.annotation, *info.metadata)] if info.metadata else info.annotation
    return TypeAdapter(told)


def read_key(model: BaseModel, path: Sequence[str], raw: object, units: str) -> tuple[tuple[Field, ...], object]:
    """Names of fields along the path, and the value as the key's own reader makes it.

    Raises ValueError, in the builder's words, for a key that there is not or a value that it cannot have.
    """
    name = path[0]
    known = {(info.alias or field): field for field, info in type(model).model_fields.items()}
    if name not in known:
        near = nearest(name, known)
        raise ValueError(f"there is no key '{name}'{f': write {near[0]}' if near else ''}")
    field = known[name]
    inner = getattr(model, field)
    if len(path) > 1:
        if not isinstance(inner, BaseModel):
            raise ValueError(f"'{name}' is no table that is told, so nothing in it can be chosen")
        fields, value = read_key(inner, path[1:], raw, units)
        return (field, *fields), value
    if isinstance(inner, BaseModel):
        raise ValueError(f"'{name}' is a whole table: name one key in it")
    try:
        value = _reader(type(model), field).validate_python(raw, context={"units": units})
    except ValidationError as why:
        first = why.errors(include_url=False, include_context=False)[0]
        raise ValueError(f"{name}: {first['msg'].removeprefix('Value error, ')}") from None
    return (field,), value


def with_value(model: M, fields: Sequence[Field], value: object) -> M:
    """The model with one field, or one of a table in it, of another value."""
    if len(fields) > 1:
        value = with_value(getattr(model, fields[0]), fields[1:], value)
    return model.model_copy(update={fields[0]: value})
