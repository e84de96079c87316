"""Promise 41: level, cut-out, foam and stop. The board's own part: tests/simulator_wire."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import BoilStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_41_S = WITHIN_S[41] or 0.0
ALL = BoardInput.LEVEL | BoardInput.CUTOUT | BoardInput.FOAM | BoardInput.STOP
FITTED = replace(KETTLE, inputs=ALL)


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE, kettle=FITTED), stage="heat")
    bench.run(10)
    assert bench.heater == 1000
    return bench


@pytest.mark.parametrize(("wire", "code"), [(BoardInput.LEVEL, "level_low"), (BoardInput.CUTOUT, "cut_out")])
def test_level_and_cut_out_hold_the_batch_and_say_which(wire: BoardInput, code: str) -> None:
    bench = heating()
    bench.inputs_on = wire
    assert bench.until(lambda: not bench.heater and not bench.contactor, within_s=WITHIN_41_S) <= WITHIN_41_S
    bench.until(lambda: bench.state.hold_cause == code, within_s=5.0)
    assert bench.off
    assert bench.alarms == [code]


def test_a_level_that_sloshes_for_two_seconds_makes_the_heater_wait_and_no_more() -> None:
    bench = heating()
    bench.inputs_on = BoardInput.LEVEL
    bench.run(2)
    assert bench.heater == 0
    bench.inputs_on = BoardInput.NONE
    bench.run(5)
    assert bench.heater == 1000
    assert bench.of(EventCode.TRIP) == []


def test_a_switch_that_is_told_of_the_fill_late_is_waited_for() -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=FITTED), stage="heat")
    bench.inputs_on = BoardInput.LEVEL
    bench.run(10)
    assert (bench.heater, bench.batch, bench.alarms) == (0, BatchState.RUNNING, [])
    bench.inputs_on = BoardInput.NONE
    bench.run(5)
    assert bench.heater == 1000


def test_one_that_never_sees_it_is_an_alarm_and_no_heat() -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=FITTED), stage="heat")
    bench.inputs_on = BoardInput.LEVEL
    bench.run(40)
    assert (bench.heater, bench.batch, bench.alarms) == (0, BatchState.RUNNING, ["level_dry"])


def test_what_a_switch_has_seen_ends_with_the_claim() -> None:
    bench = heating()
    assert bench.state.evidence.streams.wet
    bench.state = bench.state._replace(ledger=bench.state.ledger._replace(volume_l=None))
    bench.run(1)
    assert not bench.state.evidence.streams.wet


def test_a_cut_out_is_not_carried_on_over() -> None:
    bench = heating()
    bench.inputs_on = BoardInput.CUTOUT
    bench.run(8)
    assert bench.tell(CommandKind.CARRY_ON) == "still_cut_out"
    bench.inputs_on = BoardInput.NONE
    bench.run(1)
    assert bench.tell(CommandKind.CARRY_ON) is None


def test_stop_is_stop_all_heat_and_while_it_is_down_nothing_is_on() -> None:
    bench = heating()
    bench.inputs_on = BoardInput.STOP
    bench.until(lambda: bench.off, within_s=WITHIN_41_S)
    assert bench.batch in {BatchState.ABORTING, BatchState.ABORTED}


def test_foam_takes_the_heat_for_as_long_as_it_stands() -> None:
    boil = BoilStep(name="boil", for_min=60.0)
    bench = BenchKettle(plan_of(boil, kettle=FITTED), liquid_c=99.0, stage="approach")
    bench.run(10)
    assert bench.heater > 0
    bench.inputs_on = BoardInput.FOAM
    bench.until(lambda: not bench.heater and not bench.contactor, within_s=WITHIN_41_S)
    assert bench.alarms == ["foam"]
    bench.inputs_on = BoardInput.NONE
    bench.run(3)
    assert bench.heater > 0
    assert bench.of(EventCode.TRIP) == []


def test_an_input_that_the_kettle_file_does_not_name_is_nobodys_word() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.inputs_on = BoardInput.LEVEL | BoardInput.CUTOUT
    bench.run(10)
    assert bench.heater == 1000


def test_a_low_level_in_an_ask_is_an_empty_kettle_and_no_fault() -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=FITTED), volume_l=None)
    bench.inputs_on = BoardInput.LEVEL
    bench.run(30)
    assert bench.alarms == []
