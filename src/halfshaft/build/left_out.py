"""What a table of the build did not say. A table as read in, its rows of defaults with their sources out."""

from __future__ import annotations

from pydantic import BaseModel

from halfshaft.build.catalogue import default
from halfshaft.checks import Assumed


def left_out(model: BaseModel, where: str) -> list[Assumed]:
    """Every value of a table, and of tables in it, that came from a row of defaults."""
    found: list[Assumed] = []
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        key = f"{where}.{field.alias or name}"
        if isinstance(value, BaseModel):
            found += left_out(value, key)
        more = field.json_schema_extra
        if isinstance(more, dict) and "default_row" in more and name not in model.model_fields_set:
            row = default(str(more["default_row"]))
            told = row.value if isinstance(row.value, str) else f"{row.value:g}"
            found.append(Assumed(key, f"{told} {row.unit}".strip(), row.source))
    return found
