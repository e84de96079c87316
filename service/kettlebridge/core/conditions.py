"""Which alarms' conditions are there now, besides those of the interlocks that trip."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from kettlebridge.core.alarms import AlarmCause, Alarms, standing
from kettlebridge.core.calls import CALL_ROWS, Call
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence
from kettlebridge.core.interlocks import Interlock, foam, level_dry, no_fill, stale
from kettlebridge.core.trail import Trail
from kettlebridge.model.batch_state import BatchState

LINK_ALARM_S = 5.0
TWICE_ALARM_S = 300.0
DRY_ALARM_S = 30.0
FIRST_VALUE_S = 10.0
"""Four readings that agree are heard within it, be they two seconds apart."""
REST_HOT_C = 1.0
REST_COOLER_C = 0.2
"""The alarm ends once the mash is that much below where it began."""
"""Begins when all of the last minute was further above, ends when none of it was: a contactor's swing rings nothing."""

RUNNING = BatchState.RUNNING
WAITS_FOR_SOMEBODY = (BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD)

Active = frozenset[tuple[str, bool]]
NONE_ACTIVE: Active = frozenset()


class Circumstances(NamedTuple):
    """What besides the evidence alarms go by: the rules that act, open calls, and the alarms that stand already.

    `bed_c`: of the grain bed where it is controlled; elsewhere the `path` of the control probe tells.
    """

    acting: tuple[Interlock, ...]
    open_calls: tuple[Call, ...]
    alarms: Alarms
    bed_c: float | None
    path: Trail
    now_s: float


Condition = Callable[[Evidence, Circumstances], bool]


def _unlinked(evidence: Evidence, here: Circumstances) -> bool:
    return evidence.unlinked_s > LINK_ALARM_S


def _slow(evidence: Evidence, here: Circumstances) -> bool:
    return evidence.stayed.overdue_s > TWICE_ALARM_S


def _not_filled(evidence: Evidence, here: Circumstances) -> bool:
    return evidence.wants_heat and no_fill(evidence)


def _never_wet(evidence: Evidence, here: Circumstances) -> bool:
    return evidence.streams.dry_s > DRY_ALARM_S and not evidence.streams.wet and level_dry(evidence)


def _foam(evidence: Evidence, here: Circumstances) -> bool:
    return foam(evidence)


def _unanswered(evidence: Evidence, here: Circumstances) -> bool:
    return any(here.now_s - call.raised_s > CALL_ROWS[call.kind].alarm_s for call in here.open_calls)


def _rest_hot(evidence: Evidence, here: Circumstances) -> bool:
    if not evidence.mash or not evidence.armed or evidence.armed_target_c is None:
        return False
    if here.bed_c is None and not here.path.whole:
        return False
    last_minute_c = here.path.values_c if here.bed_c is None else (here.bed_c,)
    hot_c = evidence.armed_target_c + REST_HOT_C
    rings = bool(here.alarms) and standing(here.alarms, AlarmCause.REST_HOT.value)
    return max(last_minute_c) > hot_c - REST_COOLER_C if rings else min(last_minute_c) > hot_c


WHILE_RUNNING: tuple[tuple[AlarmCause, Condition], ...] = (
    (AlarmCause.LINK, _unlinked),
    (AlarmCause.TWICE_THE_PLAN, _slow),
    (AlarmCause.NO_FILL, _not_filled),
    (AlarmCause.LEVEL_DRY, _never_wet),
    (AlarmCause.FOAM, _foam),
    (AlarmCause.REST_HOT, _rest_hot),
    (AlarmCause.UNANSWERED, _unanswered),
)
"""What is an alarm in a batch that runs."""


def active(evidence: Evidence, here: Circumstances) -> Active:
    """(cause, safety) of every condition that is there. Idle kettles raise only what is dangerous in any state."""
    causes = [(row.code, True) for row in here.acting if row.trips and _counts(row, evidence)]
    if evidence.journal_failing:
        causes.append((AlarmCause.NOT_RECORDED.value, False))
    if evidence.stays_cold and evidence.batch in WAITS_FOR_SOMEBODY and not any(row.safety for row in here.alarms):
        causes.append((AlarmCause.STAYS_COLD.value, False))
    if evidence.batch is RUNNING:
        causes += [(cause.value, False) for cause, holds in WHILE_RUNNING if holds(evidence, here)]
    return frozenset(causes) if causes else NONE_ACTIVE


def _counts(row: Interlock, evidence: Evidence) -> bool:
    if row.when is stale and _still_to_be_heard(evidence):
        return False
    return row.in_any_state or evidence.batch in WAITS_FOR_SOMEBODY


def _still_to_be_heard(evidence: Evidence) -> bool:
    """The service is just back, and paused: first its board must come, then a first value be agreed on."""
    unheard = evidence.stale_s >= NEVER_HEARD_S
    return unheard and evidence.batch is not RUNNING and evidence.by_board.linked_s <= FIRST_VALUE_S
