"""Promise 14: no start without the kettle's own control probe; a foreign board is refused by the driver's tests."""

from __future__ import annotations

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import ProbeName
from tests.core.bench_kettle import STRIKE, BenchKettle, plan_of


def test_without_the_control_probe_the_start_is_refused() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.reads = lambda: None
    bench.run(20)
    assert bench.tell(CommandKind.START) == "no_temperature"
    assert bench.batch is BatchState.IDLE


def test_another_probe_in_its_socket_does_not_stand_for_it() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.reads = lambda: None
    bench.also_read[ProbeName("stranger")] = lambda: 20.0
    bench.run(20)
    assert bench.tell(CommandKind.START) == "no_temperature"


def test_with_it_the_day_begins() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.run(20)
    assert bench.tell(CommandKind.START) is None
