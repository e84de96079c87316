"""What BeerJSON 1.0 writes as {unit, value}, and words of a list."""

from __future__ import annotations

from collections.abc import Mapping

from kettlebridge.files import beerjson_units as units
from kettlebridge.files.beerjson_units import Convert
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field
from kettlebridge.files.source_values import number_of

TIME = "there it is the moment within the step; taken as minutes before the end, as converters write it"


def measured(draft: Draft, source: Field | None, table: Mapping[str, Convert]) -> float | None:
    """A {unit, value} object in the house's unit; None, and a mistake, for anything else."""
    if source is None:
        return None
    unit, value = source.child("unit"), source.child("value")
    if unit is None or value is None:
        draft.refuse(source, f"needs a value and a unit: {', '.join(table)}")
        return None
    convert = table.get(str(unit.value))
    if convert is None:
        draft.refuse(unit, f'"{str(unit.value)[:40]}" is none of {", ".join(table)}')
        return None
    if isinstance(value.value, str):
        draft.refuse(value, "is text, not a number")
        return None
    number = number_of(draft, value)
    return None if number is None else convert(number)


def put(
    draft: Draft, key: KeyPath, source: Field | None, table: Mapping[str, Convert], doubt: str = ""
) -> float | None:
    """Puts a measured value where it belongs, if it is there; gives what was put."""
    value = measured(draft, source, table)
    if source is None or value is None:
        return None
    draft.put(key, round(value, 9), source, doubt)
    return value


def word_of(draft: Draft, source: Field | None, words: Mapping[str, str]) -> str | None:
    """The house's word for one of the standard's; None, and a mistake, for any other."""
    if source is None:
        return None
    found = words.get(str(source.value))
    if found is None:
        draft.refuse(source, f'"{str(source.value)[:40]}" is none of {", ".join(words)}')
    return found


def minutes_before_end(draft: Draft, record: Field) -> tuple[float, Field, str] | None:
    """Minutes before the end, where they stand, and what is doubtful in them."""
    duration, time = record.child("timing", "duration"), record.child("timing", "time")
    if duration is not None:
        value = measured(draft, duration, units.TIME_MIN)
        return None if value is None else (value, duration, "")
    value = measured(draft, time, units.TIME_MIN)
    return None if value is None or time is None else (value, time, TIME)
