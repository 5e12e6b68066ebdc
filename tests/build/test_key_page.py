"""The page of keys names every key and every reading that is understood, so that nobody has to read the code."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from halfshaft.build.readings import COLUMNS, KINDS
from halfshaft.build.schema import Build, Reading

PAGE = (Path(__file__).parents[2] / "docs" / "build.md").read_text(encoding="utf-8")


def models(annotation: Any) -> set[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return {annotation}.union(*(models(field.annotation) for field in annotation.model_fields.values()))
    return set().union(*(models(part) for part in get_args(annotation)))


KEYS = sorted(
    {
        field.alias or name
        for model in models(Build) - {Reading}
        for name, field in model.model_fields.items()
        if (model, name) != (Build, "readings")
    }
)


@pytest.mark.parametrize("key", [*KEYS, *sorted(KINDS), *COLUMNS])
def test_the_page_names_it_as_code(key: str) -> None:
    quoted = " ".join(re.findall(r"`([^`\n]+)`", PAGE))
    assert re.search(rf"(?<![a-z_]){key}(?![a-z_])", quoted)
