"""A recipe in somebody else's form, as a tree of fields, and the draft of ours that is made of it.

Every field that holds a value ends in the report: used, doubtful or ignored. What nobody looked at is named as ignored.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from kettlebridge.files.document import Document, shown, written
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.model.errors import Mistake

MAX_BYTES = 1024 * 1024
"""A recipe of the longest is a twentieth of it."""
MAX_FIELDS = 20_000
MAX_DEPTH = 24

Scalar = str | int | float | bool | None


class Verdict(Enum):
    """What became of a field. DOUBTFUL: used, or left out, in a way that its author may not have meant."""

    USED = "used"
    DOUBTFUL = "doubtful"
    IGNORED = "ignored"


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """`place` is its path as a person counts; `line` is known in XML only. A field with children has no value."""

    name: str
    place: str
    line: int | None
    value: Scalar = None
    children: tuple[Field, ...] = ()

    def child(self, *names: str) -> Field | None:
        """The first child of the first name, and so on downwards."""
        found: Field | None = self
        for name in names:
            found = None if found is None else next((each for each in found.children if each.name == name), None)
        return found

    def leaves(self) -> Iterator[Field]:
        """Itself, or all that hold values below it."""
        if not self.children:
            yield self
        for each in self.children:
            yield from each.leaves()


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldNote:
    """One line of the report; `value` is cut short and safe for a terminal."""

    place: str
    line: int | None
    value: str
    verdict: Verdict
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceDocument(Document):
    """A draft that is validated like a recipe file, and whose mistakes are told where the source has them."""

    sources: dict[KeyPath, Field]

    def mistake(self, key: KeyPath, what: str) -> Mistake:
        """A mistake at the field that the key came from, or at the nearest around it."""
        for depth in range(len(key), 0, -1):
            source = self.sources.get(key[:depth])
            if source is not None:
                own = "" if depth == len(key) else f" ({written(key)})"
                return Mistake(path=self.path, line=source.line, key=f"{source.place}{own}", what=shown(what))
        return Mistake(path=self.path, line=None, key=shown(written(key)), what=shown(what))


@dataclass(slots=True)
class Draft:
    """A recipe file's data in the making."""

    path: str
    recipe: Field
    data: dict[str, Any] = field(default_factory=lambda: {"schema": 1})
    sources: dict[KeyPath, Field] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    _notes: dict[Field, FieldNote] = field(default_factory=dict)
    _assumed: list[FieldNote] = field(default_factory=list)

    def put(self, key: KeyPath, value: object, source: Field, doubt: str = "") -> None:
        """Takes a value from `source`; `doubt` says why it may not be what its author meant."""
        self._set(key, value)
        self.sources[key] = source
        self.note(source, Verdict.DOUBTFUL if doubt else Verdict.USED, doubt or f"is {written(key)}")

    def assume(self, key: KeyPath, value: object, around: Field, why: str) -> None:
        """Takes a value that nobody wrote."""
        self._set(key, value)
        self.sources[key] = around
        self._assumed.append(
            FieldNote(place=around.place, line=around.line, value="", verdict=Verdict.DOUBTFUL, why=why)
        )

    def begin(self, array: KeyPath, source: Field) -> KeyPath:
        """A new table at the end of an array of tables."""
        key = (*array, len(self._at(array, [])))
        self._at(array, []).append({})
        self.sources[key] = source
        return key

    def note(self, source: Field, verdict: Verdict, why: str) -> None:
        """Says what became of a field, or of all the fields in it that nothing was said of yet."""
        for leaf in source.leaves():
            self._notes.setdefault(
                leaf,
                FieldNote(place=leaf.place, line=leaf.line, value=_short(leaf.value), verdict=verdict, why=why),
            )

    def refuse(self, source: Field, what: str) -> None:
        """A mistake in the source itself."""
        self.mistakes.append(Mistake(path=self.path, line=source.line, key=source.place, what=shown(what)))
        self.note(source, Verdict.DOUBTFUL, what)

    def missing(self, around: Field, name: str) -> Mistake:
        """The mistake of a record that lacks what the standard requires."""
        return Mistake(path=self.path, line=around.line, key=around.place, what=f"{name} is missing")

    def report(self) -> tuple[FieldNote, ...]:
        """Every field of the source, in its order, then what was assumed."""
        self.note(self.recipe, Verdict.IGNORED, "is not known here")
        return (*(self._notes[leaf] for leaf in self.recipe.leaves()), *self._assumed)

    def _set(self, key: KeyPath, value: object) -> None:
        self._at(key[:-1], {})[key[-1]] = value

    def _at(self, key: KeyPath, empty: Any) -> Any:
        """The container at `key`, made if need be."""
        found: Any = self.data
        for nth, part in enumerate(key):
            if isinstance(found, dict):
                found = found.setdefault(part, empty if nth == len(key) - 1 else {})
            else:
                found = found[part]
        return found


def _short(value: Scalar) -> str:
    words = " ".join(shown(" ".join(str(value).split())).split()) if value is not None else ""
    return words if len(words) <= 60 else f"{words[:57]}..."
