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
    "over_limit": ({"control_c": 102.01, "kind": StepKind.BOIL, "hot_pump": True}, {"control_c": 80.0}),
    "hot_heating": ({"control_c": 90.01, "hot_pump": True}, {"control_c": 90.0, "hot_pump": True}),
    "held_for_nobody": ({"hold_limit_s": 7200.0, "held_s": 7200.1}, {"hold_limit_s": 7200.0, "held_s": 7200.0}),
    "never_there": ({"overdue_s": 7200.1}, {"overdue_s": 7200.0}),
    "no_fill": ({"volume_l": 3.99}, {"volume_l": 4.0}),
    "hot_pump": ({"control_c": 80.01}, {"control_c": 80.0}),
    "pump_with_heat": ({"heats_with_pump": False}, {"heats_with_pump": False, "wants_pump": False}),
    "beyond_told": ({"beyond_told": True}, {}),
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
    assert acting(HEALTHY._replace(**ground)) == [*WITH.get(code, ()), code]
    assert acting(HEALTHY._replace(**just_before)) == WITH.get(code, [])


def test_every_rule_is_tried_here_or_follows_from_one() -> None:
    assert set(ALONE) | {"mash_pump"} == {row.code for row in INTERLOCKS}


HELD_S = {
    "over_set_point": 10.0,
    "over_limit": 5.0,
    "beyond_told": 2.0,
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
    evidence, held_s = HEALTHY._replace(**ALONE[code][0]), HELD_S.get(code, 0.0)
    _, timers, at_once = apply(evidence, WANTS, IDLE_TIMERS, 0.0)
    assert (code in [row.code for row in at_once]) is (held_s == 0.0)
    for seconds, acts in ((held_s - 0.01, False), (held_s, True)) if held_s else ():
        assert (code in [row.code for row in apply(evidence, WANTS, timers, seconds)[2]]) is acts


@pytest.mark.parametrize("row", INTERLOCKS, ids=lambda row: row.code)
def test_a_rule_takes_down_what_its_row_names(row: Any) -> None:
    if row.code == "mash_pump":
        evidence = HEALTHY._replace(mash=True, control_c=81.0)
    else:
        evidence = HEALTHY._replace(**ALONE[row.code][0])
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
