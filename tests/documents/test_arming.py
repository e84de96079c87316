"""Whether it will heat by itself, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.documents.ahead import begins_about, coming, free_until
from kettlebridge.documents.arming import ARMING_REFUSALS, by_itself, progress
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.forecast import When
from kettlebridge.model.snapshot import ArmingView, Snapshot
from tests.documents.builders import foreseen, plan, snapshot

UTC = zone_time("UTC")
READY_UTC_S = 1_800_000_000.0 + 7200.0  # 2027-01-15 10:00 UTC


def waiting(phase: str, reason: str | None = None, heats_in_s: float | None = None) -> Snapshot:
    arming = ArmingView(phase=phase, reason=reason, ready_at_utc_s=READY_UTC_S)
    begins = None if heats_in_s is None else When(at_s=100.0 + heats_in_s, spread_s=60.0)
    return replace(snapshot(), arming=arming, forecast=replace(foreseen(), heats_from=begins))


def test_no_times_are_promised_of_a_day_that_stays_cold() -> None:
    for phase, told in {"armed": True, "not_armed": False}.items():
        seen = waiting(phase, heats_in_s=3600.0)
        assert bool(begins_about(seen, UTC)) is told
        assert bool(coming(seen, plan())) is told
        assert ("You are free" in free_until(seen, plan(), UTC)) is told


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        (waiting("armed", heats_in_s=3600.0), "Armed: it heats by itself at about 09:01."),
        (waiting("not_armed", heats_in_s=3600.0), "Not armed: it will not heat at about 09:01."),
        (waiting("armed"), "Armed: it heats by itself for 10:00."),
        (
            waiting("not_armed", "arm_board_restarted"),
            "Not armed: it will not heat for 10:00. The board started anew. "
            + ARMING_REFUSALS["arm_board_restarted"].do,
        ),
        (waiting("call"), "Being armed: the test call waits to be answered at the kettle."),
        (snapshot(), ""),
    ],
)
def test_the_sentence_says_whether_it_heats_by_itself_and_when(seen: Snapshot, says: str) -> None:
    assert by_itself(seen, UTC) == says


def test_progress_says_why_it_ended_and_what_to_do() -> None:
    assert progress("armed", None) == "Armed."
    assert progress("not_armed", "arm_told") == "Not armed. Somebody took it back. Arm again if that was not meant."
