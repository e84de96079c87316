"""What BeerXML 1.0 writes as text: numbers, and words of a list."""

from __future__ import annotations

from collections.abc import Callable

from kettlebridge.files import source_values as say
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field
from kettlebridge.files.source_values import number_of

Convert = Callable[[float], float]


def number(draft: Draft, source: Field | None, key: KeyPath, convert: Convert = float, doubt: str = "") -> float | None:
    """Puts a number where it belongs, if it is there; gives what was put."""
    if source is None or (value := number_of(draft, source)) is None:
        return None
    draft.put(key, round(convert(value), 9), source, doubt)
    return convert(value)


def word_of(draft: Draft, source: Field | None, words: dict[str, str]) -> str | None:
    """The house's word for one of the standard's; None, and a mistake, for any other."""
    if source is None:
        return None
    found = words.get(str(source.value).strip().lower())
    if found is None:
        draft.refuse(source, f'"{str(source.value)[:40]}" is none of {", ".join(words)}')
    return found


def none_of_it(draft: Draft, record: Field) -> bool:
    """Whether a record has an amount of zero, as templates do; it is left out."""
    amount = record.child("AMOUNT")
    try:
        nothing = amount is not None and float(str(amount.value)) == 0.0
    except ValueError:  # told where the amount is read
        nothing = False
    if not nothing:
        return False
    say.leave_out(draft, record, say.NONE_OF_IT)
    return True
