"""Promise 6 over a whole day: a cable that drops, delays, flips, doubles and reorders frames both ways."""

from __future__ import annotations

from bisect import bisect_left

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.runtime.clock import run_paced
from kettlesim.line_proxy import Damage
from tests.scenarios.paced_day import START_UTC_S, Day, Seen, Vessel
from tests.scenarios.whole_day import wire_day

LEASE_S = 3.0
BAD_CABLE = Damage(drop=0.01, truncate=0.01, flip=0.06, duplicate=0.02, swap=0.02, least_delay_s=0.0, most_delay_s=0.15)
"""Mostly flips: a board that looked at no checksum took seven orders of such a day for others."""

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Seen:
    """A whole day behind the bad cable."""
    file, profile = wire_day()
    day = Day({"thimble": Vessel(file=file, profile=profile, damage=BAD_CABLE)}, tmp_path_factory.mktemp("state"))
    run_paced(day.live, start_utc_s=START_UTC_S)
    return day.seen["thimble"]


def unwanted(seen: Seen) -> list[tuple[float, tuple[int, bool, bool]]]:
    """What the board's outputs took that was not offered within the lease before."""
    times_s = [at_s for at_s, _ in seen.offered]
    wrong = []
    for at_s, triple in seen.applied:
        if not any(triple):
            continue
        recent = seen.offered[bisect_left(times_s, at_s - LEASE_S) : bisect_left(times_s, at_s + 1e-9)]
        if all(triple != wanted for _, wanted in recent):
            wrong.append((at_s, triple))
    return wrong


def test_the_day_completes_behind_a_bad_cable(seen: Seen) -> None:
    assert seen.state is BatchState.COMPLETE


def test_many_frames_were_spoilt_in_both_directions(seen: Seen) -> None:
    assert seen.proxy is not None
    for lane in (seen.proxy.to_board, seen.proxy.to_host):
        assert lane.damaged > 0.08 * lane.frames > 350
        assert set(lane.spoilt) == {"drop", "truncate", "flip", "duplicate", "swap"}


def test_no_output_was_switched_that_the_controller_did_not_want(seen: Seen) -> None:
    """A flip is of one bit here, which CRC-16 always finds: none may pass (of frames with any damage, 1 in 65,536)."""
    assert sum(1 for _, triple in seen.applied if triple[0] > 0) > 1000
    assert unwanted(seen) == []


def test_the_check_itself_finds_an_output_nobody_wanted() -> None:
    forged = Seen(offered=[(10.0, (300, True, True))], applied=[(11.0, (300, True, True)), (14.0, (300, True, True))])
    assert unwanted(forged) == [(14.0, (300, True, True))]
