"""One process, two kettles: what happens to one is not the other's business."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Demand
from kettlebridge.ports import Bridge, Clock, Inbox
from kettlebridge.runtime.clock import run_paced
from tests.scenarios.paced_day import RINSE, START_UTC_S, Day, example

CRASH_EVERY_S = 100.0

pytestmark = pytest.mark.slow


class Crashing:
    """A driver with a bug: some time after each start it raises what nobody expects."""

    def __init__(self, bridge: Bridge, clock: Clock) -> None:
        self._bridge = bridge
        self._clock = clock
        self._begun_s = 0.0
        self.crashes = 0

    async def run(self, inbox: Inbox) -> None:
        """As the bridge does."""
        self._begun_s = self._clock.now_s()
        await self._bridge.run(inbox)

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """As the bridge does, until it raises."""
        if self._clock.now_s() - self._begun_s > CRASH_EVERY_S:
            self.crashes += 1
            raise RuntimeError("a bug in a driver")
        self._bridge.offer(demands)

    def all_off(self) -> None:
        """As the bridge does."""
        self._bridge.all_off()


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Day, dict[str, Crashing]]:
    """A day of two kettles, one with the driver that crashes."""
    crashing: dict[str, Crashing] = {}
    both = Day(
        {name: replace(example(name, "quillet_bitter"), profile=RINSE) for name in ("thimble", "saddle")},
        tmp_path_factory.mktemp("state"),
    )

    def bridge(file: KettleFile, clock: Clock) -> Bridge:
        whole = bridge_to_simulated(file, clock)
        if file.kettle.name != "saddle":
            return whole
        crashing["saddle"] = Crashing(whole, clock)
        return crashing["saddle"]

    both.bridges = bridge
    run_paced(both.live, start_utc_s=START_UTC_S)
    return both, crashing


def test_the_other_kettle_ticks_on_while_one_driver_crashes(day: tuple[Day, dict[str, Crashing]]) -> None:
    both, crashing = day
    assert crashing["saddle"].crashes >= 4
    offered_s = [at_s for at_s, _ in both.seen["thimble"].offered]
    assert max(later - earlier for earlier, later in pairwise(offered_s)) <= 1.1
    assert both.seen["thimble"].held == 0
    assert both.seen["thimble"].state is BatchState.COMPLETE


def test_the_kettle_of_the_crash_is_held_each_time_and_can_be_brewed_to_its_end(
    day: tuple[Day, dict[str, Crashing]],
) -> None:
    both, crashing = day
    assert both.seen["saddle"].held >= crashing["saddle"].crashes / 2
    assert both.seen["saddle"].state is BatchState.COMPLETE
