"""Promise 55: two probes in the same place disagree before the day begins."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe, ProbeRole
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of

TWIN = ProbeName("twin")
TWO = replace(KETTLE, probes=(*KETTLE.probes, Probe(name=TWIN, source="twin", role=ProbeRole.SAME_PLACE)))


@pytest.mark.parametrize(("apart_c", "refused"), [(2.1, True), (-2.1, True), (1.9, False)])
def test_two_degrees_apart_refuse_the_start(apart_c: float, refused: bool) -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=TWO))
    bench.also_read[TWIN] = lambda: bench.liquid_c + apart_c
    bench.run(10)
    assert bench.tell(CommandKind.START) == ("probes_disagree" if refused else None)


def test_probes_elsewhere_may_read_what_they_like() -> None:
    room = replace(KETTLE, probes=(*KETTLE.probes, Probe(name=TWIN, source="room", role=ProbeRole.AMBIENT)))
    bench = BenchKettle(plan_of(STRIKE, kettle=room))
    bench.also_read[TWIN] = lambda: 8.0
    bench.run(10)
    assert bench.tell(CommandKind.START) is None
