"""What pydantic found in a form or in JSON, in plain words and with its place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

LONGEST = 40
"""Letters of a value that are shown again."""

WORDS: dict[str, str] = {
    "missing": "missing",
    "extra_forbidden": "there is no such field",
    "greater_than_equal": "{given} is too small: at least {ge:g}",
    "less_than_equal": "{given} is too big: at most {le:g}",
    "float_parsing": "{given} is no number",
    "float_type": "{given} is no number",
    "int_parsing": "{given} is no whole number",
    "int_parsing_size": "{given} is no whole number",
    "int_type": "{given} is no whole number",
    "int_from_float": "{given} is no whole number",
    "finite_number": "{given} is no number to reckon with",
    "bool_parsing": "{given} is neither true nor false",
    "bool_type": "{given} is neither true nor false",
    "string_type": "{given} is no text",
    "string_unicode": "{given} is no text",
    "string_too_short": "{given} is too short: at least {min_length} letters",
    "string_too_long": "{given} is too long: at most {max_length} letters",
    "string_pattern_mismatch": "{given} has a letter in it that is not allowed",
    "enum": "{given} is none of {expected}",
    "json_invalid": "this is no JSON",
    "model_type": "this is no table of fields",
}
"""By pydantic's kind of error; `given` is what stood there, the others are pydantic's own figures."""

OTHERWISE = "{given} makes no sense"
NOTHING = "nothing stands there"
WHOLE = "body"


def mistakes(error: ValidationError, names: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Each with its place in front, without a full stop. `names`: what people call the fields."""
    return tuple(_mistake(found, names or {}) for found in error.errors(include_url=False))


def _mistake(found: Mapping[str, Any], names: Mapping[str, str]) -> str:
    place = ".".join(map(str, found["loc"])) or WHOLE
    words = NOTHING if found["input"] in (None, "") else WORDS.get(found["type"], OTHERWISE)
    return f"{names.get(place, place)}: {words.format(given=_given(found['input']), **found.get('ctx', {}))}"


def _given(value: object) -> str:
    text = str(value)
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
