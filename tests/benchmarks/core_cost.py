"""What a tick costs, and how many days a second holds."""

from __future__ import annotations

import statistics
import time
from functools import cache

from kettlebridge.core.forecast import forecast
from kettlebridge.core.state import initial
from kettlebridge.core.tick import tick
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.simulated.virtual_day import VirtualDay
from tests.benchmarks.figure import Figure

REFERENCE_TICKS = 23_400
FORECAST_EVERY_TICKS = 60
RUNS = 3


def plan() -> Plan:
    """The example day that comes nearest to the reference: 6.6 h, every kind of rest."""
    config = config_folder()
    kettle = load_kettle(config / "kettles" / "saddle.toml").kettle
    return Plan(kettle=kettle, profile=load_profile(config / "profiles" / "corvane_wheat.toml"))


@cache
def recorded() -> tuple[Inputs, ...]:
    """The inputs of that day, once."""
    return tuple(second.inputs for second in VirtualDay(plan(), seed=1).seconds())


def tick_costs_s() -> list[float]:
    """The cost of each tick of the day, folded again."""
    day, state, costs_s = plan(), initial(plan()), []
    for inputs in recorded():
        begun_s = time.perf_counter()
        ticked = tick(day, state, inputs)
        costs_s.append(time.perf_counter() - begun_s)
        state = ticked.state
    return costs_s


def tick_cost() -> Figure:
    """Median and 99th percentile of a tick over the whole day."""
    runs = [tick_costs_s() for _ in range(RUNS)]
    medians_us = [1e6 * statistics.median(run) for run in runs]
    p99_us = [1e6 * statistics.quantiles(run, n=100)[98] for run in runs]
    return Figure(
        text=f"median {statistics.median(medians_us):.0f} us, p99 {statistics.median(p99_us):.0f} us",
        how=f"{len(recorded())} recorded inputs folded again, {RUNS} times",
    )


def forecast_cost() -> Figure:
    """The worst and the median forecast of that day, one a minute."""
    day, state, costs_ms = plan(), initial(plan()), []
    for inputs in recorded():
        state = tick(day, state, inputs).state
        if state.n % FORECAST_EVERY_TICKS == 0:
            begun_s = time.perf_counter()
            made = forecast(day, state)
            if made is not None:
                costs_ms.append(1e3 * (time.perf_counter() - begun_s))
    return Figure(
        text=f"median {statistics.median(costs_ms):.2f} ms, worst {max(costs_ms):.1f} ms",
        how=f"{len(costs_ms)} forecasts of the rest of that day, one a minute",
    )


def days_per_second() -> Figure:
    """Reference days per second of the plain fold with plant, brewer and tick."""
    rates = []
    for seed in range(RUNS):
        begun_s = time.perf_counter()
        ticks = sum(1 for _ in VirtualDay(plan(), seed=seed).seconds())
        rates.append(ticks / REFERENCE_TICKS / (time.perf_counter() - begun_s))
    return Figure(text=f"{statistics.median(rates):.2f}", how=f"`bench` without its tables, {RUNS} seeds")
