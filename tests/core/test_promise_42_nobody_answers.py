"""Promise 42: the brewer does not come."""

from __future__ import annotations

import pytest

from kettlebridge.core.calls import CALL_ROWS, CallKind
from kettlebridge.core.steps.ask import KEEP_LIMIT_S
from kettlebridge.core.tick import BUZZER_ALARM
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep
from tests.core.bench_kettle import BenchKettle, plan_of


@pytest.mark.parametrize("what", [AskKind.SPARGE, AskKind.LIFT, AskKind.FILL])
def test_a_call_is_repeated_and_then_an_alarm_that_sounds(what: AskKind) -> None:
    bench = BenchKettle(plan_of(AskStep(name="ask", what=what)), stage="begin", liquid_c=60.0)
    row = CALL_ROWS[CallKind.ASK]
    bench.run(row.alarm_s + 20, dt_s=4.0)
    repeated = bench.of(EventCode.CALL_REPEATED)
    assert len(repeated) == int(row.alarm_s // row.repeat_s)
    assert bench.alarms == ["unanswered"]
    assert bench.state.outputs.buzzer == BUZZER_ALARM


def test_heat_goes_on_no_longer_than_the_ask_allows() -> None:
    ask = AskStep(name="sparge", what=AskKind.SPARGE, keep_c=75.0)
    bench = BenchKettle(plan_of(ask), stage="ask", liquid_c=74.0)
    bench.run(60)
    assert bench.contactor
    bench.pass_by(KEEP_LIMIT_S - bench.now_s - 1)
    bench.until(lambda: bench.off, within_s=10)
    assert bench.state.hold_cause == "held_for_nobody"


@pytest.mark.parametrize("kind", CallKind)
def test_every_call_repeats_before_it_alarms(kind: CallKind) -> None:
    assert CALL_ROWS[kind].repeat_s < CALL_ROWS[kind].alarm_s
