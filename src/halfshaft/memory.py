"""Results kept by what they were worked from: an edit works again only what it touches."""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import is_dataclass
from hashlib import sha256
from threading import Lock
from typing import Any, TypeVar, cast

from pydantic import BaseModel

from halfshaft.digest import digest

T = TypeVar("T")
_READ = 40


class Memory:
    """Keeps the last `room` results, none where that is nought; safe to share between threads."""

    def __init__(self, room: int = 200) -> None:
        self._kept: OrderedDict[str, Any] = OrderedDict()
        self._room = room
        self._read: OrderedDict[int, tuple[Any, str]] = OrderedDict()  # large values already digested, held by number
        self._written: OrderedDict[bytes, str] = OrderedDict()  # and by what they are when written out
        self._lock = Lock()

    def recall(self, station: str, inputs: tuple[Any, ...], work: Callable[[], T]) -> tuple[T, bool]:
        """The result of `work()` for these inputs, and whether it was remembered.

        Raises whatever `work` raises; nothing is kept then.
        """
        if not self._room:
            return work(), False
        key = self._key(station, inputs)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return cast(T, self._kept[key]), True
        result = work()
        with self._lock:
            self._kept[key] = result
            while len(self._kept) > self._room:
                self._kept.popitem(last=False)
        return result, False

    def remembered(self, station: str, inputs: tuple[Any, ...]) -> Any | None:
        """The result for these inputs where it is still kept, else None."""
        if not self._room:
            return None
        key = self._key(station, inputs)
        with self._lock:
            if key not in self._kept:
                return None
            self._kept.move_to_end(key)
            return self._kept[key]

    def _key(self, station: str, inputs: tuple[Any, ...]) -> str:
        return station + digest(*(self._short(value) for value in inputs))

    def _short(self, value: Any) -> Any:
        """A frozen value as its digest, read once for as long as the same one comes again; others as they are."""
        if not isinstance(value, BaseModel) and not is_dataclass(value):
            return value
        with self._lock:
            held = self._read.get(id(value))
            if held is not None and held[0] is value:
                self._read.move_to_end(id(value))
                return ("digest", held[1])
        # what is written out alike is alike; the digest goes through every part of it and takes ten times as long
        try:
            written = sha256(pickle.dumps(value)).digest()
        except (pickle.PicklingError, TypeError, AttributeError):
            return value
        with self._lock:
            known = self._written.get(written)
        told = known or digest(value)
        with self._lock:
            self._read[id(value)] = (value, told)
            self._written[written] = told
            self._written.move_to_end(written)
            for kept in (self._read, self._written):
                while len(kept) > _READ:
                    kept.popitem(last=False)
        return ("digest", told)
