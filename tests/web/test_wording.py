"""What cannot be taken from a form or from JSON is said in the house's own words, with its place."""

from __future__ import annotations

import json

import pytest
from pydantic import BaseModel, ValidationError

from kettlebridge.web.rescue import TROUBLES, Told
from kettlebridge.web.telling import Telling
from kettlebridge.web.wording import WORDS, mistakes

ODD: tuple[object, ...] = (None, "", "hot", "1e999", -1e6, 1e6, 0.5, True, [], {}, "x" * 400, "a b", "12345678")
"""Each is wrong in some field, most in many."""


def errors(model: type[BaseModel]) -> list[ValidationError]:
    """What `model` says of every odd value in every field: as of a form, and as of JSON."""

    def from_json(given: dict[str, object]) -> BaseModel:
        return model.model_validate_json(json.dumps(given), strict=False)

    def from_texts(given: dict[str, object]) -> BaseModel:
        return model.model_validate_strings({name: value for name, value in given.items() if isinstance(value, str)})

    def from_body(given: dict[str, object]) -> BaseModel:
        return model.model_validate_json(str(given["body"]))

    shapes: list[dict[str, object]] = [{name: value} for name in (*model.model_fields, "other") for value in ODD]
    bodies: list[dict[str, object]] = [{"body": text} for text in ("", "[]", "3", '"x"', "{", "null")]
    readers = ((model.model_validate, shapes), (from_json, shapes), (from_texts, shapes), (from_body, bodies))
    found = []
    for read, given in readers:
        for one in given:
            try:
                read(one)
            except ValidationError as error:
                found.append(error)
    return found


@pytest.mark.parametrize("model", [Telling, Told])
def test_every_mistake_has_words_of_its_own(model: type[BaseModel]) -> None:
    found = errors(model)
    kinds = {one["type"] for error in found for one in error.errors()}
    assert len(kinds) >= 8
    assert kinds <= set(WORDS)
    told = [(one["msg"], words) for error in found for one, words in zip(error.errors(), mistakes(error), strict=True)]
    assert [words for said, words in told if said in words or "nput" in words] == []
    assert max(len(words) for _, words in told if "none of" not in words) < 120


def test_a_figure_is_told_with_what_it_is_called_and_how_far_it_may_go() -> None:
    names = dict(TROUBLES["mash-missed"].fields)
    with pytest.raises(ValidationError) as caught:
        Told.model_validate({"found_c": "120"})
    assert mistakes(caught.value, names) == ("The stirred mash, in °C: 120 is too big: at most 95",)
    with pytest.raises(ValidationError) as caught:
        Told.model_validate({"found_c": ""})
    assert mistakes(caught.value, names) == ("The stirred mash, in °C: nothing stands there",)
