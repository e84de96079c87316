"""Promise 49: hands in the kettle."""

from __future__ import annotations

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.plan import ASK_ROWS, AskKind, AskStep, RestStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import BenchKettle, plan_of

HANDS_IN = [kind for kind, row in ASK_ROWS.items() if row.hands_in]
REST = RestStep(name="rest", at_c=66.0, for_min=30.0, pump_after_min=0.0)


def asking(what: AskKind, keep_c: float | None = None) -> BenchKettle:
    """In the tick in which the rest before it ends: heater and pump are on."""
    before = RestStep(name="before", at_c=66.0, for_min=0.1, pump_after_min=0.0)
    ask = AskStep(name="ask", what=what, keep_c=keep_c)
    bench = BenchKettle(plan_of(before, ask, REST), liquid_c=65.6, stage="hold", grain=Grain.IN)
    bench.alive = False
    bench.run(4)
    assert bench.heater > 0
    assert bench.pump
    bench.until(lambda: bench.state.stage.step_index == 1, within_s=10)
    return bench


def test_dough_in_stir_infuse_and_lift_put_hands_in() -> None:
    assert HANDS_IN == [AskKind.DOUGH_IN, AskKind.STIR, AskKind.INFUSE, AskKind.LIFT]


@pytest.mark.parametrize("what", HANDS_IN)
def test_everything_is_off_from_the_first_tick_of_the_ask_until_long_after(what: AskKind) -> None:
    bench = asking(what)
    assert bench.off
    for _ in range(30):
        bench.tick(dt_s=4.0)
        assert bench.off


@pytest.mark.parametrize("what", HANDS_IN)
def test_heat_and_pump_return_on_a_second_word_announced_five_seconds_ahead(what: AskKind) -> None:
    bench = asking(what)
    bench.run(3)
    assert bench.confirm(CallKind.ASK) is None
    for _ in range(20):
        bench.tick()
        assert bench.off
    assert bench.calls == [CallKind.HANDS_CLEAR]
    assert bench.confirm(CallKind.HANDS_CLEAR) is None
    announced_s = bench.until(lambda: not bench.off, within_s=10)
    assert announced_s >= 5.0
    assert bench.state.stage.step_index == 2


def test_the_announcement_is_heard() -> None:
    bench = asking(AskKind.STIR)
    bench.confirm(CallKind.ASK)
    bench.confirm(CallKind.HANDS_CLEAR)
    bench.tick()
    assert bench.state.outputs.buzzer == 2


def test_both_words_are_given_at_the_kettle() -> None:
    bench = asking(AskKind.LIFT)
    assert bench.confirm(CallKind.ASK, at_kettle=False) == "at_kettle_only"
    bench.confirm(CallKind.ASK)
    assert bench.confirm(CallKind.HANDS_CLEAR, at_kettle=False) == "at_kettle_only"
    assert bench.off


def test_one_push_of_the_button_that_bounces_does_not_answer_both() -> None:
    bench = asking(AskKind.STIR)
    bench.run(3)
    for pressed in (BoardInput.CONFIRM, BoardInput.NONE, BoardInput.CONFIRM, BoardInput.NONE):
        bench.inputs_on = pressed
        bench.tick(dt_s=0.3)
    assert bench.stage == "hands_out"
    bench.run(3)
    bench.inputs_on = BoardInput.CONFIRM
    bench.tick()
    assert bench.stage == "announce"


def test_a_profile_that_keeps_warm_with_hands_in_heats_nothing() -> None:
    bench = asking(AskKind.LIFT, keep_c=66.0)
    bench.run(20)
    assert bench.off


def test_words_given_while_paused_do_not_spare_the_announcement() -> None:
    bench = asking(AskKind.STIR)
    bench.confirm(CallKind.ASK)
    bench.tell(CommandKind.HOLD)
    bench.run(3)
    assert bench.confirm(CallKind.HANDS_CLEAR) is None
    bench.run(3)
    assert bench.tell(CommandKind.CARRY_ON) is None
    assert bench.until(lambda: not bench.off, within_s=20) >= 10.0


@pytest.mark.parametrize("kind", [CommandKind.SKIP, CommandKind.DRAW_OFF, CommandKind.EXTEND, CommandKind.RETARGET])
def test_no_other_command_ends_it(kind: CommandKind) -> None:
    bench = asking(AskKind.DOUGH_IN)
    assert bench.tell(kind, on=True, minutes=1.0, target_c=50.0) is not None
    bench.run(10)
    assert bench.off
    assert bench.stage == "hands_in"


def test_an_ask_without_hands_needs_one_word() -> None:
    bench = asking(AskKind.OTHER)
    bench.run(3)
    assert bench.off
    assert bench.confirm(CallKind.ASK, at_kettle=False) is None
    bench.run(2)
    assert bench.batch is BatchState.RUNNING
    assert bench.heater > 0
