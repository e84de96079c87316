"""What a batch hands to the next: from a whole virtual day, and merged over many."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from kettlebridge.core.known import beforehand
from kettlebridge.core.learning import learnt_after
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import initial
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.journal.plan_json import decode_plan, encode_plan
from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Plan
from kettlebridge.simulated.virtual_day import Second, VirtualDay

CONFIG = config_folder()
PLAN = Plan(
    kettle=load_kettle(CONFIG / "kettles" / "thimble.toml").kettle,
    profile=load_profile(CONFIG / "profiles" / "quillet_bitter.toml"),
)


@cache
def mash() -> tuple[list[Second], list[float]]:
    """A day to the end of the mash, and the bed's true temperature at every second of it."""
    day, lived, beds_c = VirtualDay(PLAN, seed=2), [], []
    for second in day.seconds():
        lived.append(second)
        beds_c.append(day.world.truth().bed_c)
        if second.state.ledger.grain.value == "lifted":
            break
    return lived, beds_c


def test_a_day_teaches_its_kettle_once_and_says_so() -> None:
    lived, _ = mash()
    told = [event for second in lived for event in second.events if event.code is EventCode.HEAT_UP_FITTED]
    assert len(told) == 1
    learnt = learnt_after(PLAN, lived[-1].state)
    assert learnt is not None
    assert learnt.heat_ups == 1
    assert learnt.rate_fraction == pytest.approx(1.0, abs=0.05)
    assert told[0].get("rate_fraction") == pytest.approx(learnt.rate_fraction, abs=1e-3)
    assert learnt.learnt_at_utc_s == lived[-1].state.at_utc_s


def test_the_next_plan_keeps_it_and_begins_with_it() -> None:
    lived, _ = mash()
    plan = replace(PLAN, learnt=learnt_after(PLAN, lived[-1].state))
    assert decode_plan(encode_plan(plan)) == plan
    known = beforehand(plan.kettle, plan.learnt)
    assert plan.learnt is not None
    assert known.rate_fraction == plan.learnt.rate_fraction
    assert known.rate_spread < beforehand(plan.kettle, None).rate_spread


def test_a_batch_that_taught_nothing_changes_nothing() -> None:
    lived, _ = mash()
    plan = replace(PLAN, learnt=learnt_after(PLAN, lived[-1].state))
    assert learnt_after(plan, initial(plan)) == plan.learnt
    assert learnt_after(PLAN, initial(PLAN)) is None


def test_one_odd_batch_among_many_moves_what_is_known_by_a_fifth() -> None:
    lived, _ = mash()
    first = learnt_after(PLAN, lived[-1].state)
    assert first is not None
    plan = replace(PLAN, learnt=replace(first, heat_ups=40, rate_fraction=1.1))
    after = learnt_after(plan, lived[-1].state)
    assert after is not None
    assert after.rate_fraction == pytest.approx(1.1 + (first.rate_fraction - 1.1) / 5.0)
    assert after.heat_ups == 41


def test_the_bed_is_where_the_rest_wants_it_and_the_snapshot_shows_it() -> None:
    lived, beds_c = mash()
    holds = [
        (second.state, bed_c)
        for second, bed_c in zip(lived, beds_c, strict=True)
        if second.state.stage.name == "hold" and second.state.stage.target_c is None and second.state.outputs.pump_on
    ]
    state, bed_c = holds[len(holds) // 2]
    shown = snapshot(PLAN, BatchId("b"), state)
    assert shown.step is not None
    assert shown.step.target_c is not None
    assert bed_c == pytest.approx(shown.step.target_c, abs=0.5)
    assert shown.bed_c == pytest.approx(bed_c, abs=0.6)
    assert snapshot(PLAN, BatchId("b"), lived[5].state).bed_c is None
