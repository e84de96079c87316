"""The law of a batch: every command in every state is in the table or refused with a reason."""

from __future__ import annotations

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from kettlebridge.core.batch_states import SETTLES, TRANSITIONS, leads_to
from kettlebridge.core.calls import CallKind
from kettlebridge.core.commands import HANDLERS
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep
from tests.core.bench_kettle import MASH_REST, STRIKE, BenchKettle, plan_of

PASSING = set(SETTLES)
LIVES = set(BatchState) - ENDED


def test_every_state_has_its_row_and_every_command_its_handler() -> None:
    assert set(TRANSITIONS) == set(BatchState)
    assert set(HANDLERS) == set(CommandKind)


@pytest.mark.parametrize("batch", BatchState)
def test_every_command_is_in_the_table_or_refused_with_a_reason(batch: BatchState) -> None:
    for kind in CommandKind:
        in_table_or_refused(batch, kind)


def in_table_or_refused(batch: BatchState, kind: CommandKind) -> None:
    bench = BenchKettle(plan_of(MASH_REST, STRIKE), liquid_c=60.0, stage="ramp", grain=Grain.IN)
    bench.run(2)
    bench.state = bench.state._replace(batch=batch, batch_since_s=bench.now_s)
    verdict = bench.tell(kind, minutes=1.0, target_c=50.0, litres=1.0, on=True)
    if kind in TRANSITIONS[batch]:
        assert verdict is None or not verdict.startswith("not_in_")
    else:
        assert verdict == f"not_in_{batch.value.lower()}"
    assert bench.batch is (leads_to(batch, kind, begun=True) if verdict is None else batch)


@pytest.mark.parametrize("kind", [CommandKind.HOLD, CommandKind.STOP, CommandKind.STOP_HEAT])
def test_nothing_that_lowers_leads_to_a_state_that_heats(kind: CommandKind) -> None:
    assert all(row.get(kind) is not BatchState.RUNNING for row in TRANSITIONS.values())


def test_running_is_reached_only_from_idle_and_through_restarting() -> None:
    into = {batch for batch, row in TRANSITIONS.items() for to in row.values() if to is BatchState.RUNNING}
    assert into == {BatchState.IDLE, BatchState.RUNNING}
    assert {batch for batch, to in SETTLES.items() if to is BatchState.RUNNING} == {BatchState.RESTARTING}
    assert leads_to(BatchState.IDLE, CommandKind.START, begun=True) is BatchState.RESTARTING


@pytest.mark.parametrize("batch", sorted(PASSING, key=str))
def test_a_passing_state_ends_by_itself(batch: BatchState) -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=60.0, stage="heat")
    bench.state = bench.state._replace(batch=batch)
    bench.run(6)
    assert bench.batch is SETTLES[batch]


def test_holding_becomes_held_as_soon_as_the_board_reads_off() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.tell(CommandKind.HOLD)
    bench.tick()
    assert bench.batch is BatchState.HELD


def test_holding_becomes_held_after_five_seconds_when_the_board_does_not_answer() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.linked = False
    bench.tell(CommandKind.HOLD)
    assert bench.until(lambda: bench.be(BatchState.HELD), within_s=6) >= 4.0


class AnyCommands(RuleBasedStateMachine):
    """Whatever a person says in whatever order, a batch follows its table, and the bench's laws hold."""

    @initialize()
    def begin(self) -> None:
        hands = AskStep(name="stir", what=AskKind.STIR)
        self.bench = BenchKettle(plan_of(MASH_REST, hands, STRIKE), liquid_c=65.9, stage="hold", grain=Grain.IN)

    @rule(kind=st.sampled_from(CommandKind), at_kettle=st.booleans(), number=st.sampled_from([None, -1.0, 0.5, 60.0]))
    def say(self, kind: CommandKind, at_kettle: bool, number: float | None) -> None:
        before = self.bench.batch
        verdict = self.bench.tell(
            kind, at_kettle=at_kettle, minutes=number, target_c=number, litres=number, on=number is not None
        )
        if verdict is None and before in LIVES - PASSING:
            begun = True
            led = leads_to(before, kind, begun)
            assert self.bench.batch in {led, SETTLES.get(led, led), BatchState.HOLDING, BatchState.COMPLETE}

    @rule(kind=st.sampled_from(CallKind))
    def confirm(self, kind: CallKind) -> None:
        self.bench.confirm(kind)

    @rule(seconds=st.integers(1, 4))
    def wait(self, seconds: int) -> None:
        self.bench.run(seconds)

    @rule(seconds=st.integers(1, 4))
    def silence(self, seconds: int) -> None:
        live, self.bench.reads = self.bench.reads, lambda: None
        self.bench.run(seconds)
        self.bench.reads = live

    @invariant()
    def heat_only_in_running(self) -> None:
        assert self.bench.be(BatchState.RUNNING) or self.bench.off


AnyCommands.TestCase.settings = settings(max_examples=8, stateful_step_count=25, deadline=None, derandomize=True)
test_any_commands_in_any_order_follow_the_table = AnyCommands.TestCase


def test_every_change_of_state_is_recorded() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=60.0, stage="heat")
    bench.run(2)
    bench.tell(CommandKind.HOLD)
    bench.run(3)
    bench.tell(CommandKind.CARRY_ON)
    bench.run(6)
    assert [event.get("to") for event in bench.of(EventCode.BATCH_STATE)] == [
        "Holding",
        "Held",
        "Restarting",
        "Running",
    ]
