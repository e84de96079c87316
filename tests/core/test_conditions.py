"""Each alarm that is no interlock's: what alone raises it, and that it is not there a hair before."""

from __future__ import annotations

from typing import Any

import pytest

from kettlebridge.core.calls import Call, CallKind
from kettlebridge.core.conditions import Circumstances, active
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence
from kettlebridge.core.felt import Felt
from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.core.trail import KEPT, Trail
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from tests.core.evidence_with import evidence_with

NOW_S = 5000.0
MASHING = Evidence(
    batch=BatchState.RUNNING, mash=True, armed=True, armed_target_c=66.0, volume_l=20.0, cover_l=4.0, wants_heat=True
)
ROWS = {row.code: row for row in INTERLOCKS}
STILL = Trail(values_c=(66.0,) * KEPT)
HERE = Circumstances(acting=(), open_calls=(), alarms=(), bed_c=None, path=STILL, now_s=NOW_S)
DRY = Felt(level=True)


def call(kind: CallKind, open_s: float) -> Call:
    raised_s = NOW_S - open_s
    return Call(id="c", kind=kind, subject="", raised_s=raised_s, repeated_s=raised_s, at_kettle=False)


def record(cause: str, *, safety: bool = False, state: AlarmState = AlarmState.UNACKNOWLEDGED) -> AlarmRecord:
    return AlarmRecord(cause=cause, state=state, safety=safety, since_s=0.0)


def raised(evidence: Evidence = MASHING, here: Circumstances = HERE) -> set[tuple[str, bool]]:
    return set(active(evidence, here))


def minute(*values_c: float) -> Circumstances:
    """The last minute, in which the probe told these; for as long as they do not tell, 66 °C."""
    return HERE._replace(path=Trail(values_c=(*values_c, *(66.0,) * (KEPT - len(values_c)))))


ALONE: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "link": ({"unlinked_s": 5.01}, {"unlinked_s": 5.0}),
    "twice_the_plan": ({"overdue_s": 300.1}, {"overdue_s": 300.0}),
    "no_fill": ({"volume_l": 3.99}, {"volume_l": 4.0}),
    "level_dry": ({"felt": DRY, "dry_s": 30.1}, {"felt": DRY, "dry_s": 30.0}),
    "foam": ({"felt": Felt(foam=True)}, {}),
    "not_recorded": ({"journal_failing": True}, {}),
    "stays_cold": ({"stays_cold": True}, {}),
}


@pytest.mark.parametrize("cause", ALONE)
def test_an_alarm_has_one_ground_and_is_no_matter_of_safety(cause: str) -> None:
    ground, just_before = ALONE[cause]
    assert raised(evidence_with(MASHING, **ground)) == {(cause, False)}
    assert raised(evidence_with(MASHING, **just_before)) == set()


@pytest.mark.parametrize(
    ("cause", "far"),
    [("link", {"unlinked_s": 999.0}), ("twice_the_plan", {"overdue_s": 9e4}), ("no_fill", {"volume_l": 0.0})],
)
def test_it_stays_however_long_that_goes_on(cause: str, far: dict[str, Any]) -> None:
    assert raised(evidence_with(MASHING, **far)) == {(cause, False)}


def test_where_nothing_is_to_be_heated_nobody_is_asked_for_a_fill() -> None:
    assert raised(evidence_with(MASHING, volume_l=None, wants_heat=False)) == set()


def test_a_level_switch_that_has_seen_the_liquid_is_not_called_one_that_never_did() -> None:
    assert raised(evidence_with(MASHING, felt=DRY, dry_s=999.0, wet=True)) == set()
    assert raised(evidence_with(MASHING, felt=DRY, dry_s=999.0)) == {("level_dry", False)}
    assert raised(evidence_with(MASHING, felt=DRY, dry_s=1.0)) == set()
    assert raised(evidence_with(MASHING, dry_s=999.0)) == set()


class TestACallThatNobodyAnswers:
    """How long is in the row of its kind."""

    def test_is_an_alarm_when_its_time_has_gone_by(self) -> None:
        addition = HERE._replace(open_calls=(call(CallKind.ADDITION, 180.1),))
        assert raised(here=addition) == {("unanswered", False)}
        assert raised(here=HERE._replace(open_calls=(call(CallKind.ADDITION, 180.0),))) == set()
        assert raised(here=HERE._replace(open_calls=(call(CallKind.ADDITION, 9000.0),))) == {("unanswered", False)}

    def test_is_looked_for_among_all_that_are_open(self) -> None:
        both = (call(CallKind.ASK, 200.0), call(CallKind.ADDITION, 200.0))
        assert raised(here=HERE._replace(open_calls=both)) == {("unanswered", False)}
        assert raised(here=HERE._replace(open_calls=both[:1])) == set()


class TestAMashThatIsTooHot:
    """A degree above what it was armed for, for all of a minute; until all of a minute was less than 0.8 above."""

    def test_rings_when_the_whole_minute_was_above(self) -> None:
        assert raised(here=minute(*[67.01] * KEPT)) == {("rest_hot", False)}
        assert raised(here=minute(*[67.0] * KEPT)) == set()
        assert raised(here=minute(*[67.5] * (KEPT - 1))) == set()
        assert raised(here=minute(*[64.0] * KEPT)) == set()

    def test_goes_on_ringing_until_the_whole_minute_was_below(self) -> None:
        rings = (record("rest_hot"),)
        assert raised(here=minute(66.81)._replace(alarms=rings)) == {("rest_hot", False)}
        assert raised(here=minute(*[66.8] * KEPT)._replace(alarms=rings)) == set()
        assert raised(here=minute(*[66.0] * KEPT)._replace(alarms=rings)) == set()

    def test_another_alarm_or_one_that_is_over_keeps_it_not(self) -> None:
        over = (record("rest_hot", state=AlarmState.RETURNED_UNACKNOWLEDGED),)
        assert raised(here=minute(66.9)._replace(alarms=(record("foam"),))) == set()
        assert raised(here=minute(66.9)._replace(alarms=over)) == set()

    def test_is_told_by_the_bed_where_that_is_controlled(self) -> None:
        assert raised(here=HERE._replace(bed_c=67.01)) == {("rest_hot", False)}
        assert raised(here=minute(*[70.0] * KEPT)._replace(bed_c=67.0)) == set()
        assert raised(here=HERE._replace(bed_c=67.01, path=Trail())) == {("rest_hot", False)}

    @pytest.mark.parametrize(
        "changes",
        [{"mash": False}, {"armed": False}, {"armed_target_c": None}],
        ids=["no mash", "on its way", "no target"],
    )
    def test_is_none_where(self, changes: dict[str, Any]) -> None:
        assert raised(evidence_with(MASHING, **changes), minute(*[70.0] * KEPT)) == set()

    def test_is_not_told_by_less_than_a_minute(self) -> None:
        assert raised(here=HERE._replace(path=Trail(values_c=(70.0,) * (KEPT - 1)))) == set()


@pytest.mark.parametrize("batch", sorted(BatchState, key=str))
def test_only_a_batch_that_runs_has_the_alarms_of_one(batch: BatchState) -> None:
    evidence = evidence_with(MASHING, batch=batch, unlinked_s=60.0)
    assert raised(evidence) == ({("link", False)} if batch is BatchState.RUNNING else set())


@pytest.mark.parametrize("batch", sorted(BatchState, key=str))
def test_a_trip_is_an_alarm_while_somebody_is_waited_for_and_what_is_dangerous_always(batch: BatchState) -> None:
    waits = batch in {BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD}
    here = HERE._replace(acting=(ROWS["stale"], ROWS["over_limit"], ROWS["hands_in"]))
    stale = {("stale", True)} if waits else set()
    assert raised(evidence_with(MASHING, batch=batch, stale_s=9.0), here) == {("over_limit", True)} | stale


@pytest.mark.parametrize("batch", sorted(BatchState, key=str))
def test_a_record_that_fails_is_an_alarm_always_and_staying_cold_while_somebody_is_waited_for(
    batch: BatchState,
) -> None:
    waits = batch in {BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD}
    evidence = evidence_with(MASHING, batch=batch, journal_failing=True, stays_cold=True)
    cold = {("stays_cold", False)} if waits else set()
    assert raised(evidence) == {("not_recorded", False)} | cold


def test_staying_cold_is_not_said_beside_an_alarm_of_safety_that_says_why() -> None:
    cold = evidence_with(MASHING, stays_cold=True)
    assert raised(cold, HERE._replace(alarms=(record("weld", safety=True),))) == set()
    assert raised(cold, HERE._replace(alarms=(record("foam"),))) == {("stays_cold", False)}


FIRST_VALUE: list[tuple[BatchState, float, float, bool]] = [
    (BatchState.HELD, NEVER_HEARD_S, 0.0, False),
    (BatchState.HELD, NEVER_HEARD_S, 9.99, False),
    (BatchState.HELD, NEVER_HEARD_S, 10.0, False),
    (BatchState.HELD, NEVER_HEARD_S, 10.01, True),
    (BatchState.HELD, NEVER_HEARD_S, 3600.0, True),
    (BatchState.HELD, 2.0 * NEVER_HEARD_S, 0.0, False),
    (BatchState.HOLDING, NEVER_HEARD_S, 0.0, False),
    (BatchState.HELD, 9.0, 0.0, True),
    (BatchState.RUNNING, NEVER_HEARD_S, 0.0, True),
]


@pytest.mark.parametrize(("batch", "stale_s", "linked_s", "told"), FIRST_VALUE)
def test_a_probe_that_was_never_heard_is_late_ten_seconds_after_its_board_is_there(
    batch: BatchState, stale_s: float, linked_s: float, *, told: bool
) -> None:
    evidence = evidence_with(MASHING, batch=batch, stale_s=stale_s, linked_s=linked_s)
    here = HERE._replace(acting=(ROWS["stale"],))
    assert (("stale", True) in raised(evidence, here)) is told


def test_nothing_but_silence_waits_for_a_first_value() -> None:
    evidence = evidence_with(MASHING, batch=BatchState.HELD, stale_s=NEVER_HEARD_S, linked_s=0.0)
    assert raised(evidence, HERE._replace(acting=(ROWS["bad_streak"],))) == {("bad_streak", True)}
