"""Where each key of a TOML text stands. Text that a TOML reader accepted in, path -> line number out."""

from __future__ import annotations

from bisect import bisect_right

Path = tuple[str | int, ...]


def line_index(text: str) -> dict[Path, int]:
    """Line, from 1, of every table, key and array element; array elements by number.

    The text must be valid TOML: it is walked, not checked.
    """
    return _Walk(text).lines


class _Walk:
    """A cursor over the text; `lines` fills as it goes."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [i + 1 for i, c in enumerate(text) if c == "\n"]
        self.lines: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}  # arrays of tables: how many so far
        prefix: Path = ()
        while self._skip() < len(text):
            if text[self.at] == "[":
                prefix = self._header()
            else:
                self._pair(prefix)

    def _line(self) -> int:
        return bisect_right(self.starts, self.at) + 1

    def _note(self, path: Path) -> None:
        line = self._line()
        for end in range(1, len(path)):
            self.lines.setdefault(path[:end], line)
        self.lines.setdefault(path, line)

    def _skip(self) -> int:
        """Past blanks, line ends and comments."""
        while self.at < len(self.text):
            char = self.text[self.at]
            if char == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif char in " \t\r\n\ufeff":
                self.at += 1
            else:
                break
        return self.at

    def _header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._key("]")
        path: Path = ()
        for number, key in enumerate(keys):
            path += (key,)
            if path in self.tables and not (many and number == len(keys) - 1):
                path += (self.tables[path] - 1,)
        if many:
            self.tables[path] = self.tables.get(path, 0) + 1
            path += (self.tables[path] - 1,)
        self._note(path)
        self.at += 2 if many else 1
        return path

    def _key(self, stop: str) -> list[str]:
        """A dotted key, up to but without `stop`."""
        keys: list[str] = []
        while self.at < len(self.text) and self.text[self.at] != stop:
            char = self.text[self.at]
            if char in "\"'":
                keys.append(self._string())
            elif char in ". \t":
                self.at += 1
            else:
                start = self.at
                while self.at < len(self.text) and self.text[self.at] not in f". \t\r\n{stop}":
                    self.at += 1
                if self.at == start:  # a line end where none can be: step on, never stand still
                    self.at += 1
                else:
                    keys.append(self.text[start : self.at])
        return keys

    def _pair(self, prefix: Path) -> None:
        start = self.at
        keys = self._key("=")
        path = prefix + tuple(keys)
        end, self.at = self.at, start
        self._note(path)
        self.at = end + 1
        self._value(path)

    def _value(self, path: Path) -> None:
        self._skip()
        char = self.text[self.at : self.at + 1]
        if char in ("'", '"'):
            self._string()
        elif char == "[":
            self._each(path, "]")
        elif char == "{":
            self._each(path, "}")
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}\n#":
                self.at += 1

    def _each(self, path: Path, stop: str) -> None:
        self.at += 1
        number = 0
        while self._skip() < len(self.text) and self.text[self.at] != stop:
            if self.text[self.at] == ",":
                self.at += 1
            elif stop == "}":
                self._pair(path)
            else:
                self._note((*path, number))
                self._value((*path, number))
                number += 1
        self.at += 1

    def _string(self) -> str:
        quote = self.text[self.at]
        triple = quote * 3
        long = self.text.startswith(triple, self.at)
        start = self.at = self.at + (3 if long else 1)
        while self.at < len(self.text):
            if quote == '"' and self.text[self.at] == "\\":
                self.at += 2
            elif long and self.text.startswith(triple, self.at):
                end = self.at
                self.at += 3
                while self.text[self.at : self.at + 1] == quote:  # up to two quotes may stand before the closing three
                    self.at += 1
                return self.text[start:end]
            elif not long and self.text[self.at] == quote:
                self.at += 1
                return self.text[start : self.at - 1]
            else:
                self.at += 1
        return self.text[start:]
