"""Promise 8: no fresh sample of the control probe."""

from __future__ import annotations

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.reading import Reading, ReadingFault
from tests.core.bench_kettle import MASH, MASH_REST, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_8_S = WITHIN_S[8] or 0.0


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(5)
    assert bench.heater == 1000
    return bench


def test_silent_probe_turns_heater_and_contactor_off_and_holds_the_batch() -> None:
    bench = heating()
    bench.reads = lambda: None
    assert bench.until(lambda: bench.off, within_s=WITHIN_8_S) <= WITHIN_8_S
    bench.run(2)
    assert bench.batch is BatchState.HELD
    assert bench.state.hold_cause == "stale"
    assert bench.alarms == ["stale"]
    assert [event.get("promise") for event in bench.of(EventCode.TRIP)] == [8]


def test_the_heater_stays_on_while_samples_are_younger_than_the_limit() -> None:
    bench = heating()
    live = bench.reads
    for silent_s in (1, 2, 1, 2):
        bench.reads = lambda: None
        bench.run(silent_s)
        assert bench.heater == 1000
        bench.reads = live
        bench.tick()
    assert bench.batch is BatchState.RUNNING


def test_a_probe_that_answers_only_with_faults_is_as_good_as_silent() -> None:
    bench = heating()
    bench.reads = lambda: ReadingFault.NO_ANSWER
    bench.until(lambda: bench.off, within_s=WITHIN_8_S)


def test_the_same_conversion_again_and_again_goes_stale() -> None:
    """A board that keeps repeating its last frame: every reading is older than the one before."""
    bench = heating()
    stuck_c = bench.liquid_c
    begun_s = bench.now_s
    while not bench.off:
        assert bench.now_s - begun_s < WITHIN_8_S
        age_s = bench.now_s + 1.0 - begun_s + 0.4
        inputs = bench.inputs[-1]
        bench.now_s += 1.0
        reading = Reading(probe=MASH, value_c=stuck_c, age_s=age_s)
        bench.fold(
            type(inputs)(
                now_s=bench.now_s,
                at_utc_s=inputs.at_utc_s,
                readings=(reading,),
                health=bench.health(),
                heater_limit_fraction=1.0,
            )
        )
    assert bench.batch is BatchState.HOLDING


def test_a_lost_link_with_a_silent_probe_holds_the_batch_too() -> None:
    bench = heating()
    bench.linked = False
    bench.reads = lambda: None
    bench.until(lambda: bench.batch is BatchState.HOLDING, within_s=WITHIN_8_S)
    assert bench.off


def test_carrying_on_waits_for_a_probe_that_speaks() -> None:
    bench = heating()
    live, bench.reads = bench.reads, lambda: None
    bench.run(12)
    assert bench.tell(CommandKind.CARRY_ON) == "still_stale"
    bench.reads = live
    bench.run(5)
    assert bench.tell(CommandKind.CARRY_ON, at_kettle=False) == "at_kettle_only"
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(8)
    assert bench.heater == 1000
    assert bench.alarms == []


def test_a_healthy_mash_never_trips_it() -> None:
    bench = BenchKettle(plan_of(MASH_REST), liquid_c=65.8, stage="hold", grain=Grain.IN)
    bench.run(50)
    assert bench.of(EventCode.TRIP) == []
