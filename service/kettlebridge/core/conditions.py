"""Which alarms' conditions are there now, besides those of the interlocks that trip."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.alarms import AlarmCause, Alarms, standing
from kettlebridge.core.calls import CALL_ROWS, Call
from kettlebridge.core.evidence import Evidence
from kettlebridge.core.interlocks import Interlock, foam, level_dry, no_fill
from kettlebridge.model.batch_state import BatchState

LINK_ALARM_S = 5.0
TWICE_ALARM_S = 300.0
DRY_ALARM_S = 30.0
REST_HOT_C = 1.0
REST_COOLER_C = 0.2
"""The alarm ends once the mash is that much below where it began."""
"""Begins when all of the last minute was further above, ends when none of it was: a contactor's swing rings nothing."""

Active = frozenset[tuple[str, bool]]
NONE_ACTIVE: Active = frozenset()


class Circumstances(NamedTuple):
    """What besides the evidence alarms go by: the rules that act, open calls, and the alarms that stand already.

    `mash_c`: the coldest and the warmest that the mash was in the last minute, None before there was one.
    """

    acting: tuple[Interlock, ...]
    open_calls: tuple[Call, ...]
    alarms: Alarms
    mash_c: tuple[float, float] | None
    now_s: float


def active(evidence: Evidence, here: Circumstances) -> Active:
    """(cause, safety) of every condition that is there. Idle kettles raise only what is dangerous in any state."""
    acting, open_calls, _, _, now_s = here
    causes: list[tuple[str, bool]] = [(row.code, True) for row in acting if row.trips and _counts(row, evidence)]
    if evidence.journal_failing:
        causes.append((AlarmCause.NOT_RECORDED.value, False))
    if evidence.batch is BatchState.RUNNING:
        if evidence.unlinked_s > LINK_ALARM_S:
            causes.append((AlarmCause.LINK.value, False))
        if evidence.overdue_s > TWICE_ALARM_S:
            causes.append((AlarmCause.TWICE_THE_PLAN.value, False))
        if evidence.wants_heat and no_fill(evidence):
            causes.append((AlarmCause.NO_FILL.value, False))
        if evidence.dry_s > DRY_ALARM_S and not evidence.wet and level_dry(evidence):
            causes.append((AlarmCause.LEVEL_DRY.value, False))
        if foam(evidence):
            causes.append((AlarmCause.FOAM.value, False))
        if evidence.mash and evidence.armed and _rest_hot(evidence, here):
            causes.append((AlarmCause.REST_HOT.value, False))
        if open_calls and any(now_s - call.raised_s > CALL_ROWS[call.kind].alarm_s for call in open_calls):
            causes.append((AlarmCause.UNANSWERED.value, False))
    return frozenset(causes) if causes else NONE_ACTIVE


def _rest_hot(evidence: Evidence, here: Circumstances) -> bool:
    if evidence.armed_target_c is None or here.mash_c is None:
        return False
    coldest_c, warmest_c = here.mash_c
    hot_c = evidence.armed_target_c + REST_HOT_C
    rings = bool(here.alarms) and standing(here.alarms, AlarmCause.REST_HOT.value)
    return warmest_c > hot_c - REST_COOLER_C if rings else coldest_c > hot_c


def _counts(row: Interlock, evidence: Evidence) -> bool:
    return row.in_any_state or evidence.batch in {BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD}
