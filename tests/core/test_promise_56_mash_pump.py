"""Promise 56: a rule takes the pump from a mash that is recirculated."""

from __future__ import annotations

import pytest

from kettlebridge.core.evidence import Evidence
from kettlebridge.core.felt import Felt
from kettlebridge.core.interlocks import IDLE_TIMERS, INTERLOCKS, Interlock, apply
from kettlebridge.core.ledger import Grain
from kettlebridge.core.outputs import Lowers, Outputs
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import RestStep
from tests.core.bench_kettle import BenchKettle, plan_of
from tests.core.evidence_with import evidence_with

REST = RestStep(name="rest", at_c=85.0, for_min=30.0, pump_after_min=0.0)
HEALTHY = Evidence(
    batch=BatchState.RUNNING,
    control_c=66.0,
    stale_s=0.4,
    limit_c=102.0,
    mash=True,
    volume_l=20.0,
    cover_l=4.0,
    heats_with_pump=True,
    wants_heat=True,
    wants_pump=True,
)
WANTS = Outputs(heater_permille=500, pump_on=True, main_contactor_on=True)
TAKES_PUMP: dict[str, Evidence] = {
    "not_running": evidence_with(HEALTHY, batch=BatchState.HELD),
    "hot_pump": evidence_with(HEALTHY, control_c=81.0),
    "hands_in": evidence_with(HEALTHY, hands_in=True),
    "beyond_told": evidence_with(HEALTHY, beyond_told=True),
    "below_told": evidence_with(HEALTHY, below_told=True),
    "no_flow": evidence_with(HEALTHY, flow_wanted=True),
    "level_low": evidence_with(HEALTHY, felt=Felt(level=True), wet=True),
    "stop_pressed": evidence_with(HEALTHY, felt=Felt(stop=True)),
    "bed_stuck": evidence_with(HEALTHY, bed_lag_c=6.0),
    "board_restarts": evidence_with(HEALTHY, boots_s=(1.0, 2.0, 3.0), now_s=4.0),
    "nobody_there": evidence_with(HEALTHY, unattended=True),
}


@pytest.mark.parametrize("rule", TAKES_PUMP)
def test_whatever_takes_the_pump_takes_the_heater_in_the_same_tick(rule: str) -> None:
    _, timers, _ = apply(TAKES_PUMP[rule], WANTS, IDLE_TIMERS, 0.0)
    outputs, _, acting = apply(TAKES_PUMP[rule], WANTS, timers, 60.0)
    assert rule in [row.code for row in acting]
    assert acting[-1].code == "mash_pump"
    assert (outputs.heater_permille, outputs.pump_on) == (0, False)


def test_every_rule_that_takes_the_pump_is_tried_here() -> None:
    assert {row.code for row in INTERLOCKS if row.lowers & Lowers.PUMP} == set(TAKES_PUMP)


def test_it_is_the_last_row_so_that_every_other_has_been_heard() -> None:
    last: Interlock = INTERLOCKS[-1]
    assert last.code == "mash_pump"


def test_a_healthy_mash_keeps_both() -> None:
    assert apply(HEALTHY, WANTS, IDLE_TIMERS, 0.0) == (WANTS, IDLE_TIMERS, ())


def test_in_a_mash_that_grows_too_hot_to_pump_both_end_together() -> None:
    bench = BenchKettle(plan_of(REST), liquid_c=79.0, stage="hold", grain=Grain.IN)
    bench.alive = False
    bench.run(3)
    assert (bench.pump, bench.heater > 0) == (True, True)
    bench.liquid_c = 80.5
    bench.tick()
    assert (bench.pump, bench.heater) == (False, 0)


def test_without_grain_the_pump_may_go_and_the_heat_stay() -> None:
    outputs, _, _ = apply(evidence_with(HEALTHY, control_c=81.0, mash=False), WANTS, IDLE_TIMERS, 0.0)
    assert outputs == WANTS._replace(pump_on=False)
