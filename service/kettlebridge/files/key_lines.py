"""On which line each key of a TOML text stands: neither tomllib nor pydantic knows it.

A key is a path of table names and zero-based indexes: `("step", 2, "addition", 0, "grams")`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

KeyPath = tuple[str | int, ...]

MAX_DEPTH = 16
"""Deeper tables of a dotted key get no line of their own: no sensible file has them, a hostile one may have many."""

_BLANK = re.compile(r"[ \t\n]*(?:#[^\n]*[ \t\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_DOT = re.compile(r"[ \t]*\.[ \t]*")
_SCALAR = re.compile(r"[^,\]}#\n]+")
_STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)
_ESCAPE = re.compile(r'\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(["\\bfnrt]))')
_SHORT_ESCAPES = {"b": "\b", "f": "\f", "n": "\n", "r": "\r", "t": "\t"}


class KeyLines:
    """Lines, 1-based, of the keys of one text that tomllib has accepted."""

    def __init__(self, text: str = "") -> None:
        self._lines = dict(_Scanner(text).keys())

    def of(self, path: KeyPath) -> int | None:
        """The line of the key, or of the nearest table around it; None where not even that is written."""
        for depth in range(len(path), 0, -1):
            line = self._lines.get(path[:depth])
            if line is not None:
                return line
        return None


class _Scanner:
    """One walk through the text. It trusts that the text is TOML: tomllib has refused everything else."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._line = 1
        self._counted_to = 0
        self._arrays: dict[KeyPath, int] = {}

    def keys(self) -> Iterator[tuple[KeyPath, int]]:
        """Every key with its line; the first line wins where a table is met again."""
        seen: set[KeyPath] = set()
        for path, line in self._document():
            for depth in range(1, min(len(path), MAX_DEPTH) + 1):
                if path[:depth] not in seen:
                    seen.add(path[:depth])
                    yield path[:depth], line

    def _document(self) -> Iterator[tuple[KeyPath, int]]:
        table: KeyPath = ()
        self._skip(_BLANK)
        while self._at < len(self._text):
            line = self._line_here()
            brackets = 2 if self._text.startswith("[[", self._at) else int(self._text[self._at] == "[")
            if brackets:
                self._at += brackets
                table = self._header(self._key(), opens_element=brackets == 2)
                self._at += brackets
                yield table, line
            else:
                path = table + self._key()
                self._at += 1
                yield path, line
                yield from self._value(path)
            self._skip(_BLANK)

    def _header(self, key: tuple[str, ...], *, opens_element: bool) -> KeyPath:
        """The path of a header: names of arrays of tables on the way stand for their last element."""
        path: KeyPath = ()
        for position, name in enumerate(key):
            path = (*path, name)
            last = position == len(key) - 1
            if last and opens_element:
                self._arrays[path] = self._arrays.get(path, -1) + 1
            if path in self._arrays:
                path = (*path, self._arrays[path])
        return path

    def _key(self) -> tuple[str, ...]:
        """A key, dotted or not, and the blanks around it."""
        self._skip(_BLANK)
        parts = [self._key_part()]
        while self._skip(_DOT):
            parts.append(self._key_part())
        self._skip(_BLANK)
        return tuple(parts)

    def _key_part(self) -> str:
        bare = self._skip(_BARE_KEY)
        if bare:
            return bare
        quoted = self._string()
        return quoted[1:-1] if quoted.startswith("'") else _ESCAPE.sub(_unescaped, quoted[1:-1])

    def _value(self, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
        self._skip(_BLANK)
        opening = self._text[self._at : self._at + 1]
        if opening == "[":
            yield from self._array(path)
        elif opening == "{":
            yield from self._inline_table(path)
        elif not self._string():
            self._skip(_SCALAR)
        self._skip(_BLANK)

    def _array(self, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
        self._at += 1
        self._skip(_BLANK)
        index = 0
        while self._text[self._at : self._at + 1] not in {"]", ""}:
            yield (*path, index), self._line_here()
            yield from self._value((*path, index))
            self._skip_comma()
            index += 1
        self._at += 1

    def _inline_table(self, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
        self._at += 1
        self._skip(_BLANK)
        while self._text[self._at : self._at + 1] not in {"}", ""}:
            line = self._line_here()
            inner = path + self._key()
            self._at += 1
            yield inner, line
            yield from self._value(inner)
            self._skip_comma()
        self._at += 1

    def _skip_comma(self) -> None:
        if self._text[self._at : self._at + 1] == ",":
            self._at += 1
            self._skip(_BLANK)

    def _string(self) -> str:
        for pattern in _STRINGS:
            text = self._skip(pattern)
            if text:
                return text
        return ""

    def _skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self._text, self._at)
        if not found:
            return ""
        self._at = found.end()
        return found.group()

    def _line_here(self) -> int:
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        return self._line


def _unescaped(match: re.Match[str]) -> str:
    code = match[1] or match[2]
    return chr(int(code, 16)) if code else _SHORT_ESCAPES.get(match[3], match[3])
