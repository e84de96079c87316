"""Which alarms' conditions are there now, besides those of the interlocks that trip."""

from __future__ import annotations

from kettlebridge.core.alarms import AlarmCause
from kettlebridge.core.calls import CALL_ROWS, Call
from kettlebridge.core.evidence import Evidence
from kettlebridge.core.interlocks import Interlock
from kettlebridge.model.batch_state import BatchState

LINK_ALARM_S = 5.0
TWICE_ALARM_S = 300.0
REST_HOT_C = 1.0

Active = frozenset[tuple[str, bool]]
NONE_ACTIVE: Active = frozenset()


def active(evidence: Evidence, acting: tuple[Interlock, ...], open_calls: tuple[Call, ...], now_s: float) -> Active:
    """(cause, safety) of every condition that is there. Idle kettles raise only what is dangerous in any state."""
    causes: list[tuple[str, bool]] = [(row.code, True) for row in acting if row.trips and _counts(row, evidence)]
    if evidence.journal_failing:
        causes.append((AlarmCause.NOT_RECORDED.value, False))
    if evidence.batch is BatchState.RUNNING:
        if evidence.unlinked_s > LINK_ALARM_S:
            causes.append((AlarmCause.LINK.value, False))
        if evidence.overdue_s > TWICE_ALARM_S:
            causes.append((AlarmCause.TWICE_THE_PLAN.value, False))
        if evidence.mash and evidence.over_c is not None and evidence.armed and evidence.over_c > REST_HOT_C:
            causes.append((AlarmCause.REST_HOT.value, False))
        if any(now_s - call.raised_s > CALL_ROWS[call.kind].alarm_s for call in open_calls):
            causes.append((AlarmCause.UNANSWERED.value, False))
    return frozenset(causes) if causes else NONE_ACTIVE


def _counts(row: Interlock, evidence: Evidence) -> bool:
    return row.in_any_state or evidence.batch in {BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD}
