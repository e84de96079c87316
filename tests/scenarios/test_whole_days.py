"""Every example day from cold water to the last clean-up step, and the same day again from its record."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from kettlebridge.app import CORE
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.runtime.replay import event_hash, replay
from tests.scenarios.days import Pair, every_pair, lived, pairs

ROOT = Path(__file__).parents[2]
A_DAY = Pair(kettle="thimble", profile="quillet_bitter")
MASH_TICKS = 5400
REPLAYED = (
    Pair(kettle="ferryman", profile="long_crossing_porter"),
    Pair(kettle="slipway", profile="corvane_wheat"),
    Pair(kettle="saddle", profile="towpath_best"),
)
"""Days that are run a second time."""
MOST_ALARMS = 10
MOST_EVENTS_A_MINUTE = 30
DAY_LIMIT_S = 120.0

pytestmark = pytest.mark.slow


def test_every_kettle_and_every_profile_is_in_a_pair_that_fits() -> None:
    assert {pair.kettle for pair in pairs()} == {pair.kettle for pair in every_pair()}
    assert {pair.profile for pair in pairs()} == {pair.profile for pair in every_pair()}


@pytest.mark.parametrize("pair", pairs(), ids=str)
def test_a_fault_free_day_completes_without_a_trip_or_a_safety_alarm(pair: Pair) -> None:
    day = lived(pair)
    raised = day.codes(EventCode.ALARM_RAISED)
    assert day.ended is BatchState.COMPLETE
    assert day.codes(EventCode.TRIP) == []
    assert [event for event in raised if event.get("safety")] == []
    assert len(raised) <= MOST_ALARMS
    assert len(day.codes(EventCode.STEP_DONE)) == len(pair.plan().profile.steps)


@pytest.mark.parametrize("pair", pairs(), ids=str)
def test_a_day_floods_nobody_with_events(pair: Pair) -> None:
    minutes = Counter(n // 60 for n, _ in lived(pair).events)
    assert max(minutes.values()) <= MOST_EVENTS_A_MINUTE


def test_the_days_that_are_run_again_have_every_kind_of_step_and_of_switch() -> None:
    assert _kinds(REPLAYED) == _kinds(pairs())


def _kinds(some: Iterable[Pair]) -> set[object]:
    plans = [pair.plan() for pair in some]
    steps = {(step.kind, getattr(step, "what", None)) for plan in plans for step in plan.profile.steps}
    return steps | {plan.kettle.drive for plan in plans}


@pytest.mark.parametrize("pair", REPLAYED, ids=str)
def test_the_recorded_inputs_make_the_same_events_again(pair: Pair) -> None:
    day = lived(pair)
    replayed = replay(CORE, pair.plan(), enumerate(day.inputs), day.events)
    assert replayed.difference is None
    assert replayed.ticks == len(day.inputs)
    assert replayed.event_hash == event_hash(day.events)


def test_no_hash_seed_changes_a_day() -> None:
    """As far as the mash: strike water, hands in, a rest begun."""
    here = lived(A_DAY, MASH_TICKS)
    others = [_lived_under(seed) for seed in ("0", "1", "random")]
    assert here.codes(EventCode.STEP_BEGUN)[-1].get("do") == "rest"
    assert [_hash_of(other) for other in others] == [event_hash(here.events)] * 3


def _lived_under(hash_seed: str) -> subprocess.Popen[str]:
    path = os.pathsep.join(str(folder) for folder in (ROOT, ROOT / "service", ROOT / "simulator"))
    return subprocess.Popen(
        [sys.executable, "-m", "tests.scenarios.days", A_DAY.kettle, A_DAY.profile, str(MASH_TICKS)],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": path},
        stdout=subprocess.PIPE,
        text=True,
    )


def _hash_of(process: subprocess.Popen[str]) -> str:
    with process:
        out, _ = process.communicate(timeout=DAY_LIMIT_S)
    assert process.returncode == 0
    return out
