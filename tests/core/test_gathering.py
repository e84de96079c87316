"""Each finding that the rules go by, from one moment of a healthy rest in which one thing is otherwise."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.additions import Phase, Planned
from kettlebridge.core.arming_phases import DROP_S, REJOIN_S
from kettlebridge.core.arming_state import Arming
from kettlebridge.core.arming_state import Phase as Arms
from kettlebridge.core.calls import Call, CallKind
from kettlebridge.core.evidence import NEVER_HEARD_S
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.probes import ProbeMemory
from kettlebridge.core.stage import Stage, StageState, Wish, nothing
from kettlebridge.core.steps.heat import COLD, WAIT
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import Addition, AdditionKind, HeatStep, StepKind
from tests.core.bench_kettle import KETTLE, MASH_REST, STARTED_UTC_S, plan_of
from tests.core.moments import BEGUN_S, CONTROL, NOW_S, ROW, Moment, resting

REST = resting()
DAY_OVER = StageState(step_index=1)
SUGAR = Addition(name="candi", kind=AdditionKind.SUGAR, grams=500.0, before_end_min=10.0)
HOPS = Addition(name="leaf", kind=AdditionKind.HOPS, grams=20.0, before_end_min=10.0)
READY_UTC_S = STARTED_UTC_S + NOW_S
READY = resting(plan_of(HeatStep(name="strike", to_c=70.0, ready=True), ready_at_utc_s=READY_UTC_S))
"""Strike water that is to be hot at this very moment."""


def beside(c: float | None, good_s: float = NOW_S - 0.4) -> ProbeMemory:
    return ProbeMemory(good_c=c, good_s=good_s, heard_s=good_s)


def with_beside(*memories: ProbeMemory) -> Moment:
    return REST.at(seen={"seats": REST.seen.seats._replace(beside=memories)})


def in_schedule(addition: Addition, phase: Phase) -> Moment:
    return REST.at(sequenced={"schedule": (Planned(addition=addition, phase=phase),)})


def row(**said: Any) -> Moment:
    return REST.at(sequenced={"row": Stage(name="hold", wish=nothing, moves=(), **said)})


FOUND: dict[str, tuple[str, Moment, Any]] = {
    "a batch that is held": ("batch", REST.at(state={"batch": BatchState.HELD}), BatchState.HELD),
    "a rest": ("kind", REST, StepKind.REST),
    "no step after the last": ("kind", REST.at(sequenced={"stage": DAY_OVER, "row": None}), None),
    "the time": ("now_s", REST, NOW_S),
    "what the probe says": ("control_c", REST, 66.0),
    "when it was heard": ("stale_s", REST, pytest.approx(0.4)),
    "a probe that was never heard": ("stale_s", REST.at(seen={"control": ProbeMemory()}), NEVER_HEARD_S),
    "bad readings": ("bad_streak", REST.at(seen={"control": CONTROL._replace(bad_streak=3)}), 3),
    "mostly bad readings": (
        "mostly_bad",
        REST.at(seen={"control": CONTROL._replace(recent_bad=0b111111, recent_count=8)}),
        True,
    ),
    "above the set-point": ("over_c", REST.at(sequenced={"wish": Wish(target_c=64.5)}), 1.5),
    "no set-point, nothing above it": ("over_c", REST.at(sequenced={"wish": Wish()}), None),
    "no reading, nothing above": ("over_c", REST.at(seen={"control": CONTROL._replace(good_c=None)}), None),
    "the kettle's limit": ("limit_c", REST, KETTLE.safety.limit_c),
    "how far over it may be": ("over_allowed_c", REST, KETTLE.safety.over_set_point_c),
    "the litres": ("volume_l", REST, 20.0),
    "nothing claimed": ("volume_l", REST.at(state={"ledger": Ledger()}), None),
    "the element's cover": ("cover_l", REST, KETTLE.element_cover_l),
    "grain in": ("mash", REST, True),
    "grain lifted": ("mash", REST.at(state={"ledger": Ledger(volume_l=20.0, grain=Grain.LIFTED)}), False),
    "hands in": ("hands_in", row(hands_in=True), True),
    "hands out": ("hands_in", REST, False),
    "no row, no hands": ("hands_in", REST.at(sequenced={"row": None}), False),
    "a pump that goes with the heat": ("heats_with_pump", REST, True),
    "one that does not": ("heats_with_pump", row(), False),
    "no row, no pump with it": ("heats_with_pump", REST.at(sequenced={"row": None}), False),
    "sugar that is due": ("sinking", in_schedule(SUGAR, Phase.DUE), True),
    "sugar that dissolves": ("sinking", in_schedule(SUGAR, Phase.DISSOLVING), True),
    "sugar that is dissolved": ("sinking", in_schedule(SUGAR, Phase.MADE), False),
    "hops that are due": ("sinking", in_schedule(HOPS, Phase.DUE), False),
    "no additions": ("sinking", REST, False),
    "heat wanted": ("wants_heat", REST, True),
    "no heat wanted": ("wants_heat", REST.at(sequenced={"wish": Wish()}), False),
    "the pump wanted": ("wants_pump", REST, True),
    "no pump wanted": ("wants_pump", REST.at(sequenced={"wish": Wish(target_c=66.0)}), False),
    "a board that is there": ("unlinked_s", REST, 0.0),
    "a board that is away": ("unlinked_s", REST.at(seen={"unlinked_since_s": NOW_S - 7.0}), 7.0),
    "a record that is kept": ("journal_failing", REST, False),
    "a record that fails": ("journal_failing", REST.at(inputs={"journal_failing": True}), True),
    "silence that counts": ("stale_after_s", REST, KETTLE.safety.stale_after_s),
    "silence while armed": (
        "stale_after_s",
        REST.at(state={"arming": Arming(phase=Arms.ARMED)}),
        KETTLE.safety.stale_after_s,
    ),
    "silence that was asked for": (
        "stale_after_s",
        REST.at(state={"arming": Arming(phase=Arms.DROP)}),
        DROP_S + REJOIN_S,
    ),
    "no probe beside it": ("apart_c", REST, 0.0),
    "a probe beside it, above": ("apart_c", with_beside(beside(69.0)), 3.0),
    "a probe beside it, below": ("apart_c", with_beside(beside(64.0)), 2.0),
    "the furthest of two, first": ("apart_c", with_beside(beside(69.0), beside(67.0)), 3.0),
    "the furthest of two, last": ("apart_c", with_beside(beside(67.0), beside(69.0)), 3.0),
    "one that was never heard": ("apart_c", with_beside(beside(None)), 0.0),
    "one just heard in time": ("apart_c", with_beside(beside(69.0, NOW_S - 3.0)), 3.0),
    "one that is late": ("apart_c", with_beside(beside(69.0, NOW_S - 3.01)), 0.0),
    "a late one beside one in time": (
        "apart_c",
        with_beside(beside(67.0), beside(69.0, NOW_S - 3.01)),
        1.0,
    ),
}


@pytest.mark.parametrize("moment", FOUND)
def test_what_is_so_is_found(moment: str) -> None:
    finding, of, value = FOUND[moment]
    assert of.found(finding) == value


def test_no_reading_is_never_apart_from_another() -> None:
    unread = REST.seen.control._replace(good_c=None)
    assert with_beside(beside(69.0)).at(seen={"control": unread}).found("apart_c") == 0.0


def test_the_set_point_is_reached_while_the_batch_runs() -> None:
    assert (REST.found("armed"), REST.found("armed_target_c")) == (True, 66.0)
    held = REST.at(state={"batch": BatchState.HELD})
    assert (held.found("armed"), held.found("armed_target_c")) == (False, None)


def test_while_a_cup_is_drawn_what_was_reached_stays_so() -> None:
    drawing = REST.at(state={"draw_off_s": (NOW_S - 5.0, NOW_S + 5.0)}).before(armed=True, armed_target_c=71.0)
    assert (drawing.found("armed"), drawing.found("armed_target_c")) == (True, 71.0)


@pytest.mark.parametrize(
    ("said", "expected_s", "overdue_s"),
    [
        ({"timed": True}, None, 100.0 - 2.0 * 60.0),
        ({"expects_c": lambda scene: 66.0}, 30.0, 100.0 - 2.0 * 30.0),
        ({"expects_c": lambda scene: 66.0}, None, 100.0),
        ({}, 30.0, -NEVER_HEARD_S),
    ],
)
def test_a_stage_is_overdue_beyond_twice_what_it_should_take(
    said: dict[str, Any], expected_s: float | None, overdue_s: float
) -> None:
    """The rest takes a minute, and has lasted a hundred seconds."""
    stage = REST.sequenced.stage._replace(expected_s=expected_s)
    assert row(**said).at(sequenced={"stage": stage}).found("overdue_s") == overdue_s


def test_what_the_brewer_added_is_part_of_its_time() -> None:
    stage = REST.sequenced.stage._replace(extra_s=30.0)
    assert row(timed=True).at(sequenced={"stage": stage}).found("overdue_s") == 100.0 - 2.0 * 90.0


def test_a_stage_that_wants_no_heat_is_never_overdue_and_has_no_limit() -> None:
    cold = row(timed=True, hold_limit_s=60.0).at(sequenced={"wish": Wish(pump_on=True)})
    assert (cold.found("overdue_s"), cold.found("hold_limit_s")) == (-NEVER_HEARD_S, None)


def test_a_day_that_is_over_is_never_overdue() -> None:
    over = REST.at(sequenced={"stage": DAY_OVER, "row": ROW})
    assert over.found("overdue_s") == -NEVER_HEARD_S


def test_a_stage_is_held_since_it_began_for_as_long_as_its_row_says() -> None:
    held = row(hold_limit_s=60.0)
    assert (held.found("hold_limit_s"), held.found("held_s")) == (60.0, NOW_S - BEGUN_S)
    assert REST.found("hold_limit_s") is None


def answered(*kinds: CallKind) -> Moment:
    return READY.at(sequenced={"stage": READY.sequenced.stage._replace(answered=tuple((kind, 0) for kind in kinds))})


def test_a_kettle_that_heats_ahead_is_unattended_until_somebody_says_to_be_there() -> None:
    assert READY.found("unattended")
    assert not answered(CallKind.PRESENT).found("unattended")


@pytest.mark.parametrize(
    "plan",
    [
        plan_of(MASH_REST, ready_at_utc_s=READY_UTC_S),
        plan_of(HeatStep(name="strike", to_c=70.0), ready_at_utc_s=READY_UTC_S),
        plan_of(HeatStep(name="strike", to_c=70.0, ready=True)),
    ],
    ids=["no heating", "none that is to be ready", "no time"],
)
def test_every_other_step_is_somebody_s(plan: Any) -> None:
    assert not resting(plan).found("unattended")


WAITING = READY.sequenced.stage._replace(name=WAIT)
COLD_CALL = Call(id="0.cold.0", kind=CallKind.COLD, subject="", raised_s=990.0, repeated_s=990.0, at_kettle=False)
LOST = Arming(refused="arm_told", lost=True)


@pytest.mark.parametrize(
    ("moment", "told"),
    [
        (READY.at(sequenced={"stage": WAITING}), True),
        (READY.at(sequenced={"stage": WAITING}, inputs={"at_utc_s": READY_UTC_S - 0.1}), False),
        (READY.at(sequenced={"stage": WAITING, "calls": (COLD_CALL,)}, inputs={"at_utc_s": READY_UTC_S - 0.1}), True),
        (READY, False),
        (READY.at(state={"arming": LOST}), True),
        (READY.at(sequenced={"stage": WAITING}, state={"arming": Arming(phase=Arms.ARMED)}), False),
        (READY.at(sequenced={"stage": WAITING._replace(answered=((COLD.kind, COLD.index),))}), False),
    ],
    ids=["the time has come", "not yet", "it should have begun", "it heats", "not armed any more", "armed", "known"],
)
def test_that_it_stays_cold_is_told_once_it_matters(moment: Moment, told: bool) -> None:
    assert moment.found("stays_cold") is told


def test_what_is_attended_is_not_told_to_stay_cold() -> None:
    waits = WAITING._replace(answered=((CallKind.PRESENT, 0),))
    assert not READY.at(sequenced={"stage": waits}).found("stays_cold")


def test_a_kettle_file_s_own_figures_are_gone_by() -> None:
    safety = replace(KETTLE.safety, limit_c=95.0, over_set_point_c=3.0, stale_after_s=4.0)
    other = resting(plan_of(MASH_REST, kettle=replace(KETTLE, safety=safety, element_cover_l=7.0)))
    found = [other.found(name) for name in ("limit_c", "over_allowed_c", "stale_after_s", "cover_l")]
    assert found == [95.0, 3.0, 4.0, 7.0]
