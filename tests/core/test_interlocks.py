"""Each rule by itself: what alone makes it act, and that it does not act a hair before."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.evidence import Evidence
from kettlebridge.core.felt import Felt
from kettlebridge.core.heat_watch import HeatWatch
from kettlebridge.core.interlocks import IDLE_TIMERS, INTERLOCKS, apply
from kettlebridge.core.outputs import Outputs
from kettlebridge.core.regulator import AT_REST
from kettlebridge.core.relay_window import Window
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.plan import BoilStep, HeatStep, StepKind
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import BARE, KETTLE, STRIKE, BenchKettle, plan_of
from tests.core.evidence_with import evidence_with

WANTS = Outputs(heater_permille=600, pump_on=True, main_contactor_on=True)
HEALTHY = Evidence(
    batch=BatchState.RUNNING,
    kind=StepKind.REST,
    control_c=66.0,
    stale_s=0.4,
    limit_c=102.0,
    over_c=0.0,
    armed=True,
    volume_l=20.0,
    cover_l=4.0,
    heats_with_pump=True,
    wants_heat=True,
    wants_pump=True,
)
ALONE: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "not_running": ({"batch": BatchState.RESTARTING}, {}),
    "drawing_off": ({"drawing_off": True}, {}),
    "stale": ({"stale_s": 3.01}, {"stale_s": 3.0}),
    "bad_streak": ({"bad_streak": 4}, {"bad_streak": 3}),
    "mostly_bad": ({"mostly_bad": True}, {}),
    "over_set_point": ({"over_c": 5.01}, {"over_c": 5.0}),
    "over_limit": (
        {"control_c": 102.01, "kind": StepKind.BOIL, "hot_pump": True},
        {"control_c": 102.0, "kind": StepKind.BOIL, "hot_pump": True},
    ),
    "hot_heating": ({"control_c": 90.01, "hot_pump": True}, {"control_c": 90.0, "hot_pump": True}),
    "held_for_nobody": ({"hold_limit_s": 7200.0, "held_s": 7200.1}, {"hold_limit_s": 7200.0, "held_s": 7200.0}),
    "never_there": ({"overdue_s": 7200.1}, {"overdue_s": 7200.0}),
    "no_fill": ({"volume_l": 3.99}, {"volume_l": 4.0}),
    "hot_pump": ({"control_c": 80.01}, {"control_c": 80.0}),
    "pump_with_heat": ({"heats_with_pump": False}, {"heats_with_pump": False, "wants_pump": False}),
    "beyond_told": ({"beyond_told": True}, {}),
    "below_told": ({"below_told": True}, {}),
    "lost_board": ({"unlinked_s": 3.01}, {"unlinked_s": 3.0}),
    "frozen": ({"watch": HeatWatch(same_c=-2.0)}, {"watch": HeatWatch(same_c=1.99)}),
    "no_heat": ({"watch": HeatWatch(lack_c=0.61)}, {"watch": HeatWatch(lack_c=0.59)}),
    "low_fill": ({"watch": HeatWatch(fast_c=2.0)}, {"watch": HeatWatch(fast_c=1.99)}),
    "weld": ({"watch": HeatWatch(stray_c=1.0)}, {"watch": HeatWatch(stray_c=0.99)}),
    "over_budget": ({"watch": HeatWatch(left_j=-1.0)}, {"watch": HeatWatch(left_j=0.0)}),
    "bed_stuck": ({"bed_lag_c": 5.01}, {"bed_lag_c": 5.0}),
    "both_welded": (
        {"watch": HeatWatch(stray_c=1.0), "open_s": 121.0},
        {"watch": HeatWatch(stray_c=0.99), "open_s": 121.0},
    ),
    "fell_out": ({"fallen_c": 3.01}, {"fallen_c": 3.0}),
    "apart": ({"apart_c": 5.01}, {"apart_c": 5.0}),
    "no_flow": ({"flow_wanted": True}, {}),
    "mash_over": ({"over_c": 2.51, "mash": True}, {"over_c": 2.5, "mash": True}),
    "level_dry": ({"felt": Felt(level=True)}, {"felt": Felt(level=True), "wants_heat": False}),
    "level_low": ({"felt": Felt(level=True), "wet": True}, {"felt": Felt(level=True)}),
    "cut_out": ({"felt": Felt(cut_out=True)}, {}),
    "foam": ({"felt": Felt(foam=True)}, {}),
    "stop_pressed": ({"felt": Felt(stop=True)}, {}),
    "board_restarts": (
        {"boots_s": (0.0, 300.0, 600.0), "now_s": 600.0},
        {"boots_s": (0.0, 300.0, 600.0), "now_s": 600.1},
    ),
    "stray_flow": ({"flow_stray": True}, {}),
    "boil_dry": ({"kind": StepKind.BOIL, "volume_l": 4.79}, {"kind": StepKind.BOIL, "volume_l": 4.81}),
    "nobody_there": ({"unattended": True}, {"unattended": True, "wants_pump": False}),
    "sinking": ({"sinking": True}, {}),
    "hands_in": ({"hands_in": True}, {}),
}
LAST_S = 60.0


def acting(evidence: Evidence) -> list[str]:
    """The rules that act after they had a minute to."""
    _, timers, _ = apply(evidence, WANTS, IDLE_TIMERS, 0.0)
    return [row.code for row in apply(evidence, WANTS, timers, LAST_S)[2]]


WITH = {"level_low": ["level_dry"]}
"""The rules without which another cannot act: it trips for what the first one lowers at once."""


@pytest.mark.parametrize("code", ALONE)
def test_each_rule_acts_on_its_own_ground_alone(code: str) -> None:
    ground, just_before = ALONE[code]
    assert acting(evidence_with(HEALTHY, **ground)) == [*WITH.get(code, ()), code]
    assert acting(evidence_with(HEALTHY, **just_before)) == WITH.get(code, [])


def test_every_rule_is_tried_here_or_follows_from_one() -> None:
    assert set(ALONE) | {"mash_pump"} == {row.code for row in INTERLOCKS}


FAR: dict[str, dict[str, Any]] = {
    "stale": {"stale_s": 600.0},
    "bad_streak": {"bad_streak": 40},
    "over_set_point": {"over_c": 40.0},
    "over_limit": {"control_c": 114.0, "kind": StepKind.BOIL, "hot_pump": True},
    "hot_heating": {"control_c": 99.0, "hot_pump": True},
    "held_for_nobody": {"hold_limit_s": 7200.0, "held_s": 90_000.0},
    "never_there": {"overdue_s": 90_000.0},
    "no_fill": {"volume_l": 0.0},
    "hot_pump": {"control_c": 89.0},
    "lost_board": {"unlinked_s": 900.0},
    "frozen": {"watch": HeatWatch(same_c=-9.0)},
    "no_heat": {"watch": HeatWatch(lack_c=9.0)},
    "low_fill": {"watch": HeatWatch(fast_c=9.0)},
    "weld": {"watch": HeatWatch(stray_c=9.0)},
    "both_welded": {"watch": HeatWatch(stray_c=9.0), "open_s": 900.0},
    "over_budget": {"watch": HeatWatch(left_j=-9e6)},
    "fell_out": {"fallen_c": 30.0},
    "apart": {"apart_c": 30.0},
    "bed_stuck": {"bed_lag_c": 30.0},
    "mash_over": {"over_c": 4.9, "mash": True},
    "board_restarts": {"boots_s": (0.0, 500.0, 505.0, 510.0, 515.0), "now_s": 700.0},
    "boil_dry": {"kind": StepKind.BOIL, "volume_l": 4.1},
}
"""What has long gone by the figure of a rule that has one."""


@pytest.mark.parametrize("code", FAR)
def test_a_rule_acts_however_far_its_figure_is_gone_by(code: str) -> None:
    assert acting(evidence_with(HEALTHY, **FAR[code])) == [code]


def test_two_minutes_after_all_was_told_off_is_the_last_moment_of_one_welded_switch() -> None:
    assert acting(evidence_with(HEALTHY, watch=HeatWatch(stray_c=1.0), open_s=120.0)) == ["weld"]


def test_a_rise_while_hands_are_at_work_is_heat_from_five_degrees_and_two_minutes_on() -> None:
    assert acting(evidence_with(HEALTHY, risen_c=5.0, open_s=120.1)) == ["both_welded"]
    assert acting(evidence_with(HEALTHY, risen_c=40.0, open_s=120.1)) == ["both_welded"]
    assert acting(evidence_with(HEALTHY, risen_c=4.99, open_s=120.1)) == []
    assert acting(evidence_with(HEALTHY, risen_c=5.0, open_s=120.0)) == []


def test_what_else_the_heat_says_two_minutes_after_all_was_told_off_is_no_stuck_switch() -> None:
    assert acting(evidence_with(HEALTHY, watch=HeatWatch(lack_c=9.0), open_s=900.0)) == ["no_heat"]


def test_a_board_and_a_probe_that_are_both_away_are_one_cause() -> None:
    assert acting(evidence_with(HEALTHY, unlinked_s=3.01, stale_s=3.01)) == ["stale"]


def test_under_a_low_limit_of_the_kettle_no_hose_and_no_step_is_hot() -> None:
    assert acting(evidence_with(HEALTHY, control_c=75.0, limit_c=70.0)) == ["over_limit"]


def test_a_boil_is_dry_a_fifth_above_the_cover_whatever_the_element() -> None:
    boiling = evidence_with(HEALTHY, kind=StepKind.BOIL, cover_l=10.0)
    assert acting(evidence_with(boiling, volume_l=11.9)) == ["boil_dry"]
    assert acting(evidence_with(boiling, volume_l=12.1)) == []


def test_a_budget_that_is_just_spent_is_kept_whatever_else_is_found() -> None:
    assert acting(evidence_with(HEALTHY, watch=HeatWatch(fast_c=2.0, left_j=0.0))) == ["low_fill"]


def test_boots_are_counted_within_ten_minutes_and_older_ones_are_not() -> None:
    assert acting(evidence_with(HEALTHY, boots_s=(0.0, 590.0, 700.0), now_s=701.0)) == []
    assert acting(evidence_with(HEALTHY, boots_s=(690.0, 700.0), now_s=701.0)) == []


def test_a_rule_that_has_let_go_begins_its_time_anew() -> None:
    over = evidence_with(HEALTHY, **ALONE["over_set_point"][0])
    _, timers, _ = apply(over, WANTS, IDLE_TIMERS, 0.0)
    _, timers, _ = apply(HEALTHY, WANTS, timers, 5.0)
    _, timers, _ = apply(over, WANTS, timers, 6.0)
    assert apply(over, WANTS, timers, 15.9)[2] == ()
    assert [row.code for row in apply(over, WANTS, timers, 16.0)[2]] == ["over_set_point"]


HELD_S = {
    "over_set_point": 10.0,
    "over_limit": 5.0,
    "beyond_told": 2.0,
    "below_told": 10.0,
    "apart": 60.0,
    "no_heat": 15.0,
    "no_flow": 8.0,
    "stray_flow": 8.0,
    "level_low": 3.0,
    "bed_stuck": 60.0,
}
"""How long its ground must hold before a rule acts; every other acts at once."""


@pytest.mark.parametrize("code", ALONE)
def test_a_rule_acts_when_its_ground_has_held_so_long_and_not_a_moment_before(code: str) -> None:
    evidence, held_s = evidence_with(HEALTHY, **ALONE[code][0]), HELD_S.get(code, 0.0)
    _, timers, at_once = apply(evidence, WANTS, IDLE_TIMERS, 0.0)
    assert (code in [row.code for row in at_once]) is (held_s == 0.0)
    for seconds, acts in ((held_s - 0.01, False), (held_s, True)) if held_s else ():
        assert (code in [row.code for row in apply(evidence, WANTS, timers, seconds)[2]]) is acts


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: row.code)
def test_a_rule_takes_down_what_its_row_names(row: Any) -> None:
    if row.code == "mash_pump":
        evidence = evidence_with(HEALTHY, mash=True, control_c=81.0)
    else:
        evidence = evidence_with(HEALTHY, **ALONE[row.code][0])
    _, timers, _ = apply(evidence, WANTS, IDLE_TIMERS, 0.0)
    left, _, _ = apply(evidence, WANTS, timers, LAST_S)
    lowers = row.lowers.name or ""
    assert (left.heater_permille == 0) is (lowers in {"HEATER", "HEAT", "ALL"})
    assert (not left.main_contactor_on) is (lowers in {"HEAT", "ALL"})
    assert (not left.pump_on) is (lowers in {"PUMP", "ALL"} or row.code == "mash_pump")


@pytest.mark.parametrize(("grant", "permille"), [(-1.0, 0), (float("nan"), 0), (0.3, 300), (7.0, 1000)])
def test_a_grant_beyond_reason_is_none_or_all(grant: float, permille: int) -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.limit_fraction = grant
    bench.run(3)
    assert bench.heater == permille


class TestWhatALoweredOutputLeavesBehind:
    """What a rule takes down was not given: nothing may go on as if it had been."""

    def test_the_regulator_learns_nothing(self) -> None:
        bench = BenchKettle(plan_of(HeatStep(name="h", to_c=91.0)), liquid_c=90.6, stage="heat")
        bench.alive = False
        bench.run(60)
        assert bench.heater == 0
        assert bench.state.regulation == AT_REST

    def test_a_contactor_counts_its_time_off_from_there(self) -> None:
        kettle = replace(KETTLE, drive=HeaterDrive.CONTACTOR)
        bench = BenchKettle(plan_of(HeatStep(name="h", to_c=95.0), kettle=kettle), liquid_c=89.5, stage="heat")
        bench.alive = False
        bench.run(13)
        assert bench.state.window.on
        bench.liquid_c = 90.5
        bench.tick()
        assert bench.state.window == Window(on=False, owed_s=0.0, since_s=bench.now_s)

    @pytest.mark.parametrize("kettle", [KETTLE, BARE], ids=["with main contactor", "without"])
    def test_its_duty_was_nought(self, kettle: Any) -> None:
        bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0), kettle=kettle), liquid_c=97.0, stage="approach")
        bench.inputs_on = BoardInput.FOAM
        bench.run(5)
        assert bench.state.duty_fraction == 0.0
        bench.inputs_on = BoardInput.NONE
        bench.run(2)
        assert bench.state.duty_fraction > 0.0

    def test_so_was_that_of_a_heater_no_board_was_told_about(self) -> None:
        bench = BenchKettle(plan_of(STRIKE, kettle=BARE), stage="heat")
        bench.run(2)
        assert bench.state.duty_fraction == 1.0
        bench.linked = False
        bench.run(2)
        assert bench.state.duty_fraction == 0.0


RULES_OF = {
    6: {"lost_board"},
    7: {"beyond_told", "below_told"},
    8: {"stale"},
    9: {"bad_streak", "mostly_bad"},
    10: {"frozen"},
    11: {"fell_out"},
    12: {"apart"},
    16: {"no_heat"},
    17: {"low_fill"},
    18: {"weld"},
    19: {"both_welded"},
    20: {"over_set_point", "over_limit", "hot_heating"},
    21: {"over_budget"},
    22: {"held_for_nobody", "never_there"},
    23: {"no_fill"},
    24: {"no_flow", "mash_over"},
    25: {"drawing_off", "hot_pump", "pump_with_heat"},
    26: {"not_running"},
    41: {"level_dry", "level_low", "cut_out", "foam", "stop_pressed"},
    43: {"sinking"},
    48: {"board_restarts"},
    49: {"hands_in"},
    50: {"stray_flow"},
    51: {"bed_stuck"},
    52: {"boil_dry"},
    56: {"mash_pump"},
    57: {"nobody_there"},
}
"""By which rules a promise is kept: its number is what the record of a trip says."""
PASSING = {
    "not_running",
    "drawing_off",
    "hot_heating",
    "no_fill",
    "hot_pump",
    "pump_with_heat",
    "mash_over",
    "level_dry",
    "foam",
    "stop_pressed",
    "sinking",
    "hands_in",
    "nobody_there",
    "mash_pump",
}
"""Rules that end by themselves with what they were for; every other holds the batch until somebody carries on."""
IN_ANY_STATE = {"over_limit", "beyond_told", "weld", "both_welded", "cut_out"}
"""What sounds in a kettle that nobody brews in: heat that nobody asked for, or would have to."""


@pytest.mark.parametrize("promise", RULES_OF)
def test_the_record_of_a_trip_names_the_promise_that_its_rule_keeps(promise: int) -> None:
    assert {row.code for row in INTERLOCKS if row.promise == promise} == RULES_OF[promise]


def test_a_rule_holds_the_batch_unless_its_ground_passes_by_itself() -> None:
    assert {row.code for row in INTERLOCKS if not row.trips} == PASSING


def test_an_idle_kettle_sounds_for_heat_that_nobody_asked_for_and_nothing_else() -> None:
    assert {row.code for row in INTERLOCKS if row.in_any_state} == IN_ANY_STATE
