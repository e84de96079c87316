"""When a forecast is made: beside the ticks, on change, else every ten seconds."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.forecast import Forecast
from kettlebridge.runtime.foretelling import EVERY_S, Foreteller
from tests.runtime.fakes import FakeCore, FakeState, plan, snapshot


def at(now_s: float) -> FakeState:
    return FakeState(n=int(now_s), now_s=now_s, at_utc_s=now_s, batch=BatchState.RUNNING)


class Counted:
    """A core that foretells, and how often it was asked."""

    def __init__(self) -> None:
        self.asked: list[float] = []
        core = FakeCore()
        core.foretells = self.foretold
        self.foreteller = Foreteller(core.core, plan())

    def foretold(self, state: FakeState) -> Forecast:
        self.asked.append(state.now_s)
        return Forecast(made_s=state.now_s, steps=(), needs=(), next_spell=None)


def test_it_is_made_every_ten_seconds_and_kept_between() -> None:
    counted = Counted()
    for second in range(25):
        seen = counted.foreteller.told(snapshot(second, now_s=float(second)), at(float(second)))
        assert seen.forecast is not None
        assert seen.forecast.made_s == EVERY_S * (second // EVERY_S)
    assert counted.asked == [0.0, 10.0, 20.0]


def test_a_change_makes_it_anew_at_once() -> None:
    counted = Counted()
    counted.foreteller.told(snapshot(1, now_s=1.0), at(1.0))
    counted.foreteller.told(replace(snapshot(2, now_s=2.0), state=BatchState.HELD), at(2.0))
    assert counted.asked == [1.0, 2.0]


def test_one_that_fails_is_left_out() -> None:
    core = FakeCore()

    def broken(state: FakeState) -> Forecast:
        raise ZeroDivisionError("a bug in the forecast")

    core.foretells = broken
    assert Foreteller(core.core, plan()).told(snapshot(1), at(1.0)) == snapshot(1)
