"""A fingerprint of any value the stations pass around: equal content gives equal text, whatever object holds it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import BaseModel

_PLAIN = frozenset({type(None), bool, int, float, str})
_PLAIN_KINDS = (bool, int, float, complex, str, bytes, Path, np.generic)


def digest(*values: Any) -> str:
    """SHA-256 over the content, as hex; dataclasses, pydantic models, arrays, mappings and plain values.

    Raises TypeError for anything else, rather than fall back on an object's identity.
    """
    parts: list[bytes] = []
    for value in values:
        _feed(parts.append, value)
    return hashlib.sha256(b"".join(parts)).hexdigest()


def _feed(take: Callable[[bytes], None], value: Any) -> None:
    # type name and length stand before the content, so that ('ab', 'c') and ('a', 'bc') differ
    kind = type(value)
    if kind in _PLAIN or (isinstance(value, _PLAIN_KINDS) and not isinstance(value, Enum)):
        text = value if isinstance(value, bytes) else repr(value).encode()
        take(b"%s%d:" % (kind.__name__.encode(), len(text)))
        take(text)
    elif isinstance(value, np.ndarray):
        take(f"array{value.dtype}{value.shape}".encode())
        take(np.ascontiguousarray(value).tobytes())
    elif isinstance(value, Enum):
        take(f"enum{kind.__name__}.{value.name}".encode())
    elif is_dataclass(kind):
        take(f"dataclass{kind.__qualname__}".encode())
        for name in _names(kind):
            _feed(take, name)
            _feed(take, getattr(value, name))
    elif isinstance(value, BaseModel):
        take(f"model{kind.__qualname__}".encode())
        for name in kind.model_fields:
            _feed(take, name)
            _feed(take, getattr(value, name))
        _feed(take, sorted(value.model_fields_set))
    elif isinstance(value, Mapping):
        take(f"mapping{len(value)}".encode())
        for key, item in value.items():
            _feed(take, key)
            _feed(take, item)
    elif isinstance(value, (list, tuple)):
        take(f"row{len(value)}".encode())
        for item in value:
            _feed(take, item)
    elif isinstance(value, (set, frozenset)):
        take(f"set{len(value)}".encode())
        for part in sorted(digest(item) for item in value):
            take(part.encode())
    elif isinstance(value, slice):
        take(b"slice")
        _feed(take, (value.start, value.stop, value.step))
    else:
        raise TypeError(f"cannot take a fingerprint of a {kind.__qualname__}")


@cache
def _names(kind: type[Any]) -> tuple[str, ...]:
    return tuple(one.name for one in fields(kind))
