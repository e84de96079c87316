"""Promise 52: boiled down nearly to the element."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.brewing.vessel import BOIL_COVER
from kettlebridge.core.validation import misfits
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import BoilStep
from tests.core.bench_kettle import KETTLE, WITHIN_S, BenchKettle, plan_of

WITHIN_52_S = WITHIN_S[52] or 0.0
BOIL = BoilStep(name="boil", for_min=60.0)


def boiling(volume_l: float) -> BenchKettle:
    bench = BenchKettle(plan_of(BOIL), liquid_c=100.0, stage="boil", volume_l=volume_l)
    bench.alive = False
    return bench


def test_the_heat_ends_a_fifth_above_the_element() -> None:
    bench = boiling(BOIL_COVER * KETTLE.element_cover_l + 0.05)
    bench.run(5)
    assert bench.heater > 0
    bench.until(lambda: (bench.state.ledger.volume_l or 9.0) < BOIL_COVER * KETTLE.element_cover_l, within_s=600)
    assert bench.until(lambda: bench.off, within_s=WITHIN_52_S + 1) <= WITHIN_52_S + 1
    assert bench.state.hold_cause == "boil_dry"


def test_it_is_not_carried_on_with_until_water_was_added() -> None:
    bench = boiling(4.5)
    bench.run(10)
    assert bench.tell(CommandKind.CARRY_ON) == "still_boil_dry"
    bench.tell(CommandKind.ADDING_WATER, litres=3.0)
    assert bench.tell(CommandKind.CARRY_ON) is None


def test_nobody_there_for_three_hours_ends_with_the_boils_time() -> None:
    bench = boiling(20.0)
    bench.run(3 * 3600, dt_s=4.0)
    assert bench.off
    assert (bench.state.ledger.volume_l or 0.0) > BOIL_COVER * KETTLE.element_cover_l
    assert bench.be(BatchState.COMPLETE)
    assert bench.of(EventCode.TRIP) == []


def test_a_profile_that_would_boil_down_to_there_is_refused() -> None:
    plan = plan_of(replace(BOIL, boil_off_l_per_h=2.0))
    codes = [misfit.code for misfit in misfits(KETTLE, plan.profile)]
    assert "element_bare" in codes
