"""Promise 36: one cause is one alarm, however many signs it has."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import RestStep
from kettlebridge.model.reading import BoardInput, ReadingFault
from tests.core.bench_kettle import KETTLE, BenchKettle, plan_of

MOST = 10
TEN_MIN_S = 600
REST = RestStep(name="rest", at_c=66.0, for_min=60.0, pump_after_min=0.0)
FITTED = replace(KETTLE, inputs=BoardInput.FLOW | BoardInput.FOAM | BoardInput.LEVEL | BoardInput.CUTOUT)


def resting() -> BenchKettle:
    bench = BenchKettle(plan_of(REST, kettle=FITTED), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.inputs_on = BoardInput.FLOW
    bench.run(20)
    return bench


def test_everything_at_once_is_at_most_ten_alarms() -> None:
    bench = resting()
    bench.inputs_on = BoardInput.FOAM | BoardInput.LEVEL | BoardInput.CUTOUT
    bench.reads = lambda: ReadingFault.BAD_CRC
    bench.pins = lambda board: replace(board, heater_permille=1000, main_contactor_closed=True)
    bench.run(TEN_MIN_S)
    raised = [event.get("alarm") for event in bench.of(EventCode.ALARM_RAISED)]
    assert len(raised) == len(set(raised)) <= MOST


def test_a_lost_link_is_told_once_and_not_again_by_the_silence_it_brings() -> None:
    bench = resting()
    live, bench.linked, bench.reads = bench.reads, False, lambda: None
    bench.run(60)
    bench.linked, bench.reads = True, live
    bench.run(TEN_MIN_S)
    raised = [event.get("alarm") for event in bench.of(EventCode.ALARM_RAISED)]
    assert len(raised) == len(set(raised)) <= 2


def test_an_input_that_chatters_is_one_alarm() -> None:
    bench = resting()
    for second in range(TEN_MIN_S):
        bench.inputs_on = BoardInput.FLOW | (BoardInput.FOAM if second % 2 else BoardInput.NONE)
        bench.tick()
    assert [event.get("alarm") for event in bench.of(EventCode.ALARM_RAISED)] == ["foam"]
    assert bench.be(BatchState.RUNNING)


def test_a_probe_that_comes_and_goes_is_one_alarm_while_nobody_comes() -> None:
    bench = resting()
    live = bench.reads
    for second in range(TEN_MIN_S):
        bench.reads = live if second % 20 < 10 else (lambda: ReadingFault.NO_ANSWER)
        bench.tick()
    raised = [event.get("alarm") for event in bench.of(EventCode.ALARM_RAISED)]
    assert len(raised) == len(set(raised)) <= MOST
    bench.tell(CommandKind.ACKNOWLEDGE)
