"""Promise 23: nobody said that liquid covers the element, or the claim ended."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import CLAIM_ENDS_S, Grain, Ledger
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.inputs import Resumed
from kettlebridge.model.kettle import ChillWay, Kettle
from kettlebridge.model.plan import AnyStep, AskKind, AskStep, ChillStep, HeatStep
from tests.core.bench_kettle import BARE, KETTLE, STRIKE, BenchKettle, plan_of

FILL = AskStep(name="fill", what=AskKind.FILL)
EMPTY = AskStep(name="empty", what=AskKind.EMPTY)


@pytest.mark.parametrize("kettle", [KETTLE, BARE], ids=["with main contactor", "without"])
@pytest.mark.parametrize("volume_l", [None, 0.0, 3.9])
def test_without_a_claim_that_covers_the_element_nothing_heats(volume_l: float | None, kettle: Kettle) -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=kettle), stage="heat", volume_l=volume_l)
    for _ in range(30):
        bench.tick()
        assert bench.off
    assert bench.batch is BatchState.RUNNING
    assert bench.alarms == ["no_fill"]


def test_with_one_it_heats_at_once_and_raises_no_alarm() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat", volume_l=4.0)
    bench.run(2)
    assert bench.heater == 1000
    assert bench.alarms == []


def test_a_confirmed_fill_is_the_claim() -> None:
    bench = BenchKettle(plan_of(FILL, STRIKE), stage="ask", volume_l=None)
    bench.tick()
    assert bench.confirm(CallKind.ASK, litres=12.0) is None
    bench.run(2)
    assert bench.state.ledger.volume_l == 12.0
    assert bench.heater == 1000


@pytest.mark.parametrize("step", [EMPTY, ChillStep(name="chill", to_c=20.0, water_c=12.0, way=None)])
def test_a_drain_and_a_transfer_end_it(step: AnyStep) -> None:
    kettle = replace(KETTLE, chill=ChillWay.IN_LINE)
    bench = BenchKettle(plan_of(step, STRIKE, kettle=kettle), stage="transfer" if step is not EMPTY else "ask")
    bench.tick()
    assert bench.confirm(CallKind.ASK if step is EMPTY else CallKind.TRANSFERRED) is None
    bench.run(10)
    assert bench.state.stage.step_index == 1
    assert bench.state.ledger.volume_l is None
    assert bench.off


def test_it_ends_after_24_hours() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    assert bench.heater == 1000
    bench.state = bench.state._replace(ledger=bench.state.ledger._replace(claimed_s=bench.now_s - CLAIM_ENDS_S - 1.0))
    bench.run(2)
    assert bench.off


def test_it_does_not_outlive_the_batch() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.tell(CommandKind.STOP)
    bench.run(10)
    assert bench.batch is BatchState.STOPPED
    assert bench.off


def test_what_boils_away_uncovers_the_element_and_ends_the_heat() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=70.0)), stage="heat", volume_l=4.001)
    bench.run(2)
    assert bench.heater == 1000
    bench.state = bench.state._replace(ledger=Ledger(volume_l=3.99))
    bench.tick()
    assert bench.off


@pytest.mark.parametrize(("what", "grain"), [(AskKind.SPARGE, Grain.LIFTED), (AskKind.INFUSE, Grain.IN)])
def test_litres_that_do_not_fit_on_what_is_there_are_no_claim(what: AskKind, grain: Grain) -> None:
    stage = "hands_in" if what is AskKind.INFUSE else "ask"
    bench = BenchKettle(plan_of(AskStep(name="more", what=what, litres=2.0)), stage=stage, volume_l=25.0, grain=grain)
    bench.tick()
    assert bench.confirm(CallKind.ASK, litres=5.1) == "more_than_the_kettle_holds"
    assert bench.confirm(CallKind.ASK, litres=5.0) is None
    assert bench.state.ledger.volume_l == 30.0


def test_more_litres_than_the_kettle_holds_are_no_claim() -> None:
    bench = BenchKettle(plan_of(FILL, STRIKE), stage="ask", volume_l=None)
    bench.tick()
    assert bench.confirm(CallKind.ASK, litres=31.0) == "more_than_the_kettle_holds"
    assert bench.confirm(CallKind.ASK, litres=float("nan")) == "litres_out_of_range"
    bench.run(5)
    assert bench.of(EventCode.FILL) == []
    assert bench.off


def test_the_hours_of_an_outage_count_for_the_claim() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=30.0, stage="heat")
    bench.run(20)
    bench.tick(resumed=Resumed(away_s=CLAIM_ENDS_S))
    assert bench.state.ledger.volume_l is None
    bench.run(5)
    bench.tell(CommandKind.CARRY_ON)
    bench.run(20)
    assert bench.off
    assert bench.alarms == ["no_fill"]
