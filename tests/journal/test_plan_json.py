"""Plans as text and back."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.journal.plan_json import decode_plan, encode_plan
from kettlebridge.model.errors import JournalError
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AnyStep, Plan, Profile, StepKind, Water
from kettlebridge.model.reading import BoardInput
from tests.journal.builders import PLAN

# Drawn from the type hints, so a new field or step is covered the day it is written.
st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))
st.register_type_strategy(BoardInput, st.integers(0, 127).map(BoardInput))


def _as_it_is(cls: type) -> st.SearchStrategy[Any]:
    """Instances of a step with the `kind` that is its own."""
    fixed = {f.name: st.just(f.default) for f in dataclasses.fields(cls) if f.name == "kind"}
    return st.builds(cls, **fixed)


steps: st.SearchStrategy[AnyStep] = st.one_of(*(_as_it_is(cls) for cls in AnyStep.__args__))
profiles = st.builds(
    Profile,
    name=st.text(),
    water=st.from_type(Water),
    steps=st.lists(steps, max_size=4).map(tuple),
    ready_at=st.none() | st.text(),
)
plans = st.builds(Plan, kettle=st.from_type(Kettle), profile=profiles)


@given(plans)
def test_a_plan_reads_back_as_it_was_to_the_last_bit(plan: Plan) -> None:
    assert repr(decode_plan(encode_plan(plan))) == repr(plan)


def test_every_kind_of_step_finds_its_own_class_again() -> None:
    assert {step.kind for step in PLAN.profile.steps} == set(StepKind)
    assert decode_plan(encode_plan(PLAN)) == PLAN


def test_a_field_that_came_later_takes_its_default() -> None:
    data = json.loads(encode_plan(PLAN))
    del data["profile"]["steps"][0]["pump"]
    assert decode_plan(json.dumps(data)) == PLAN


def _set(*path: str | int, to: object) -> Callable[[Any], None]:
    def change(data: Any) -> None:
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = to

    return change


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (_set("extra", to=1), "plan: unknown extra"),
        (_set("kettle", "capacity_l", to="35"), "plan.kettle.capacity_l"),
        (_set("kettle", "has_pump", to=1), "plan.kettle.has_pump"),
        (_set("kettle", "drive", to="steam"), "plan.kettle.drive"),
        (_set("kettle", "inputs", to=128), "plan.kettle.inputs"),
        (_set("kettle", "safety", to={}), "plan.kettle.safety"),
        (_set("kettle", "probes", to={}), "plan.kettle.probes"),
        (_set("profile", to=[]), "plan.profile"),
        (_set("profile", "steps", 2, "kind", to="dance"), "plan.profile.steps[2]"),
        (_set("profile", "steps", 2, "kind", to="boil"), "plan.profile.steps[2]: unknown at_c"),
        (_set("profile", "steps", 3, "additions", 0, "grams", to=None), "plan.profile.steps[3].additions[0].grams"),
    ],
)
def test_a_plan_that_is_not_as_written_is_refused_with_its_place(change: Callable[[Any], None], place: str) -> None:
    data = json.loads(encode_plan(PLAN))
    change(data)
    with pytest.raises(JournalError) as refusal:
        decode_plan(json.dumps(data))
    assert str(refusal.value).startswith(place)


def test_what_is_not_json_is_refused() -> None:
    with pytest.raises(JournalError, match="not JSON"):
        decode_plan("{")


def test_a_plan_that_would_not_read_back_is_refused_before_the_batch() -> None:
    text_for_a_number: Any = "35"
    odd_step = dataclasses.replace(PLAN.profile.steps[0], kind=StepKind.BOIL)
    for plan in (
        dataclasses.replace(PLAN, ready_at_utc_s=math.nan),
        dataclasses.replace(PLAN, kettle=dataclasses.replace(PLAN.kettle, capacity_l=text_for_a_number)),
        dataclasses.replace(PLAN, profile=dataclasses.replace(PLAN.profile, steps=(odd_step,))),
    ):
        with pytest.raises(JournalError):
            encode_plan(plan)
