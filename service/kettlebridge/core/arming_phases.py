"""Arming: what must be shown before a kettle may heat with nobody there. PHASES is the whole law.

It is a state of the kettle while the step with the ready time waits. First the evening's list is confirmed at the
kettle. Then each of the two switches before the element must show alone that it makes no heat, so that the other is
not welded. Then heat is demanded once, under a short lease, and never renewed: the board must drop it by itself and be
had again. Last a call must be answered at the kettle. Whatever is not shown in time ends it, everything off; what
happens later and leaves a doubt (CANCELS) ends it as well, and then the kettle stays cold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from kettlebridge.core import calls
from kettlebridge.core.arming_state import SILENT_PHASES, Arming, Phase, list_call, test_call
from kettlebridge.core.heat import Contents, rise_c_per_s
from kettlebridge.core.heat_watch import SETTLES_S
from kettlebridge.core.outputs import ALL_OFF, Outputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.reading import BoardHealth, BoardInput
from kettlebridge.model.units import FULL_PERMILLE

LIST_S = 600.0
CALL_S = 180.0
BUZZER_TEST_CALL = 3
"""The pattern of an alarm: what is to wake somebody is what must be heard."""
SWITCHES_S = 5.0
"""Within this a board must read as it was told."""
CLOSED_S = 1.0
"""A board takes heat only some time after the main contactor."""
WELD_RISE_C = 0.5
WELD_FULL_RISE_C = 1.0
"""So long each switch stands alone as full power takes for this, and the probe's delay, and its pocket."""
POCKET_S = 15.0
LEASE_MS = 1500
OFF_AFTER_LEASE_S = 0.5
DROP_S = 5.0
REJOIN_S = 15.0
"""Opening a port may start a board anew, and a conversion takes its time."""
JUMP_S = 5.0
"""Wall time and batch time may part by less: a synchronised clock is slewed, not set."""


class Shown(NamedTuple):
    """What a tick knows. `waits`: the step with the ready time waits cold; `concerns`: it is not past or attended yet.

    `fresh`: the control probe is believed now. `restarted`: the board's own time was seen to begin anew. `alarmed`: a
    safety alarm is there. `answered` are the calls of the step that were.
    """

    kettle: Kettle
    health: BoardHealth
    running: bool
    waits: bool
    concerns: bool
    control_c: float | None
    fresh: bool
    volume_l: float | None
    answered: calls.Answered
    alarmed: bool
    restarted: bool
    now_s: float
    at_utc_s: float

    @property
    def reported_s(self) -> float:
        """When the board's newest report was made."""
        return self.now_s - self.health.age_s

    def reads(self, *, heater: bool, contactor: bool) -> bool:
        """Whether the board says that its pins are so; the last word of a session that it ended counts."""
        board = self.health.board
        return (
            board is not None
            and (board.heater_permille > 0) == heater
            and board.main_contactor_closed == contactor
            and not board.pump_on
        )


def weld_s(shown: Shown) -> float:
    """For how long a switch must stand alone."""
    rate = rise_c_per_s(shown.kettle, Contents(volume_l=shown.volume_l or shown.kettle.capacity_l))
    return WELD_FULL_RISE_C / rate + shown.kettle.probe_delay_s + POCKET_S


def _list_answered(a: Arming, shown: Shown) -> bool:
    return calls.was_answered(shown.answered, list_call(a))


def _call_answered(a: Arming, shown: Shown) -> bool:
    return calls.was_answered(shown.answered, test_call(a))


def _settled(a: Arming, shown: Shown) -> bool:
    return shown.now_s - a.begun_s >= SETTLES_S


def _contactor_stood(a: Arming, shown: Shown) -> bool:
    return shown.now_s - a.begun_s >= weld_s(shown) and shown.reads(heater=False, contactor=True)


def _heater_stood(a: Arming, shown: Shown) -> bool:
    return shown.now_s - a.begun_s >= weld_s(shown) and shown.reads(heater=True, contactor=False)


def _reads_off(a: Arming, shown: Shown) -> bool:
    return shown.reads(heater=False, contactor=False)


def _closed(a: Arming, shown: Shown) -> bool:
    return shown.now_s - a.begun_s >= CLOSED_S and shown.reads(heater=False, contactor=True)


def _off_by_s(a: Arming) -> float:
    return a.lease_from_s + LEASE_MS / 1000.0 + OFF_AFTER_LEASE_S


def _dropped(a: Arming, shown: Shown) -> bool:
    return a.seen_on and _reads_off(a, shown) and shown.reported_s <= _off_by_s(a)


def _rejoined(a: Arming, shown: Shown) -> bool:
    return shown.health.linked and _reads_off(a, shown) and shown.fresh


def _heated(a: Arming, shown: Shown) -> bool:
    """One switch alone made heat, or a current: the other one conducts."""
    board = shown.health.board
    loaded = board is not None and bool(board.inputs & BoardInput.LOAD)
    return loaded or (shown.control_c is not None and shown.control_c - a.lowest_c >= WELD_RISE_C)


def _not_as_told(wanted: Callable[[Arming, Shown], bool]) -> Callable[[Arming, Shown], bool]:
    return lambda a, shown: shown.now_s - a.begun_s > SWITCHES_S and not wanted(a, shown)


def _contactor_reads(a: Arming, shown: Shown) -> bool:
    return shown.reads(heater=False, contactor=True)


def _heater_reads(a: Arming, shown: Shown) -> bool:
    return shown.reads(heater=True, contactor=False)


def _overdue(a: Arming, shown: Shown) -> bool:
    return shown.health.board is not None and shown.reported_s > _off_by_s(a)


def _never_on(a: Arming, shown: Shown) -> bool:
    return _overdue(a, shown) and not a.seen_on


def _still_on(a: Arming, shown: Shown) -> bool:
    return _overdue(a, shown) and not _reads_off(a, shown)


def _on_again(a: Arming, shown: Shown) -> bool:
    return shown.health.linked and shown.health.board is not None and not _reads_off(a, shown)


Test = Callable[[Arming, Shown], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseRow:
    """What a phase demands, when it is done and what follows, and what ends the arming instead.

    `fails` are tried first, in order, each with its reason; `late` is the reason when `limit_s` is over. `once`: the
    outputs are demanded in its first tick under a lease of LEASE_MS, and nothing after.
    """

    outputs: Outputs
    done: Test
    then: Phase
    limit_s: float
    late: str
    fails: tuple[tuple[Test, str], ...] = ()
    once: bool = False


UNBOUNDED_S = float("inf")
PHASES: dict[Phase, PhaseRow] = {
    Phase.LIST: PhaseRow(
        outputs=ALL_OFF, done=_list_answered, then=Phase.SETTLE, limit_s=LIST_S, late="arm_list_unanswered"
    ),
    Phase.SETTLE: PhaseRow(outputs=ALL_OFF, done=_settled, then=Phase.CONTACTOR_ALONE, limit_s=UNBOUNDED_S, late=""),
    Phase.CONTACTOR_ALONE: PhaseRow(
        outputs=Outputs(main_contactor_on=True),
        done=_contactor_stood,
        then=Phase.CONTACTOR_OFF,
        limit_s=UNBOUNDED_S,
        late="",
        fails=((_heated, "arm_heater_welded"), (_not_as_told(_contactor_reads), "arm_contactor_silent")),
    ),
    Phase.CONTACTOR_OFF: PhaseRow(
        outputs=ALL_OFF, done=_reads_off, then=Phase.HEATER_ALONE, limit_s=SWITCHES_S, late="arm_contactor_silent"
    ),
    Phase.HEATER_ALONE: PhaseRow(
        outputs=Outputs(heater_permille=FULL_PERMILLE),
        done=_heater_stood,
        then=Phase.HEATER_OFF,
        limit_s=UNBOUNDED_S,
        late="",
        fails=((_heated, "arm_contactor_welded"), (_not_as_told(_heater_reads), "arm_heater_silent")),
    ),
    Phase.HEATER_OFF: PhaseRow(
        outputs=ALL_OFF, done=_reads_off, then=Phase.CONTACTOR_FIRST, limit_s=SWITCHES_S, late="arm_heater_silent"
    ),
    Phase.CONTACTOR_FIRST: PhaseRow(
        outputs=Outputs(main_contactor_on=True),
        done=_closed,
        then=Phase.DROP,
        limit_s=SWITCHES_S,
        late="arm_contactor_silent",
    ),
    Phase.DROP: PhaseRow(
        outputs=Outputs(heater_permille=FULL_PERMILLE, main_contactor_on=True),
        done=_dropped,
        then=Phase.REJOIN,
        limit_s=DROP_S,
        late="arm_drop_unseen",
        fails=((_never_on, "arm_heater_silent"), (_still_on, "arm_held_on"), (_overdue, "arm_drop_unseen")),
        once=True,
    ),
    Phase.REJOIN: PhaseRow(
        outputs=ALL_OFF,
        done=_rejoined,
        then=Phase.CALL,
        limit_s=REJOIN_S,
        late="arm_no_rejoin",
        fails=((_on_again, "arm_held_on"),),
    ),
    Phase.CALL: PhaseRow(
        outputs=Outputs(buzzer=BUZZER_TEST_CALL),
        done=_call_answered,
        then=Phase.ARMED,
        limit_s=CALL_S,
        late="arm_call_unanswered",
    ),
}
"""From the first to the last; NOT_ARMED and ARMED go on until something happens."""


def _left_running(a: Arming, shown: Shown) -> bool:
    return not shown.running


def _began_to_heat(a: Arming, shown: Shown) -> bool:
    return a.under_way and not shown.waits


def _clock_jumped(a: Arming, shown: Shown) -> bool:
    return shown.waits and abs(shown.at_utc_s - shown.now_s - a.clock_s) > JUMP_S


def _liquid_changed(a: Arming, shown: Shown) -> bool:
    return shown.volume_l != a.volume_l


def _board_restarted(a: Arming, shown: Shown) -> bool:
    return shown.restarted and a.phase not in SILENT_PHASES


def _board_away(a: Arming, shown: Shown) -> bool:
    """Once it is armed a break is left to the rule about a probe that is not heard: a blink of the line is none."""
    return a.under_way and not shown.health.linked and a.phase not in SILENT_PHASES


CANCELS: tuple[tuple[Test, str], ...] = (
    (_left_running, "arm_left_running"),
    (_began_to_heat, "arm_step_left"),
    (lambda a, shown: shown.alarmed, "arm_alarm"),
    (_clock_jumped, "arm_clock_jumped"),
    (_liquid_changed, "arm_liquid_changed"),
    (_board_restarted, "arm_board_restarted"),
    (_board_away, "arm_no_board"),
)
"""What ends an arming, and one that was done, with its reason."""
