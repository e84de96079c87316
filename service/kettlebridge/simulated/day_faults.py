"""A fault in a virtual day: when it begins, what ends it, and how hot it got meanwhile."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from kettlebridge.core.sequencer import current_step
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AskStep
from kettlebridge.model.reading import BoardInput
from kettlebridge.simulated.virtual_day import VirtualDay, truly
from kettlesim.faults.rig import Change
from kettlesim.faults.rig import DayRig as Rig
from kettlesim.faults.table import Fault
from kettlesim.world import World

WATCHED_S = 3 * 3600.0
"""A fault that nothing ended by then was not found."""
AFTER_S = 600.0
"""So long the kettle is watched on once the fault has been found."""
INPUTS: dict[str, BoardInput] = {flag.name.lower(): flag for flag in BoardInput if flag.name}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """What became of a fault. `detected_after_s` None: nothing found it. Temperatures are the liquid's own.

    `excess_c` is what the liquid gained after the fault began, above what was aimed at then.
    """

    promise: int
    rule: str | None
    detected_after_s: float | None
    peak_c: float
    excess_c: float
    end_state: str


def fits(needs: tuple[str, ...], kettle: Kettle) -> bool:
    """Whether the kettle has all the fittings that a fault is about."""
    has = {probe.role.value for probe in kettle.probes}
    has |= {name for name, flag in INPUTS.items() if flag in kettle.inputs}
    has |= {"pump"} if kettle.has_pump else set()
    has |= {"main_contactor"} if kettle.has_main_contactor else set()
    return all(need in has for need in needs)


class FoldRig:
    """Lays a fault's hands on a virtual day."""

    def __init__(self, day: VirtualDay) -> None:
        self._day = day

    @property
    def world(self) -> World:
        """The kettle."""
        return self._day.world

    def weld(self, *switches: str) -> None:
        """They stay on, and the board does not know."""
        board = self._day.board
        board.heater_welded = board.heater_welded or "heater" in switches
        board.contactor_welded = board.contactor_welded or "contactor" in switches
        board.pump_welded = board.pump_welded or "pump" in switches

    def unweld(self, *switches: str) -> None:
        """They follow again."""
        board = self._day.board
        board.heater_welded = board.heater_welded and "heater" not in switches
        board.contactor_welded = board.contactor_welded and "contactor" not in switches
        board.pump_welded = board.pump_welded and "pump" not in switches

    def stick_heater(self) -> None:
        """The pin is on and reads on."""
        self._day.board.heater_stuck = True

    def free_heater(self) -> None:
        """The pin follows again."""
        self._day.board.heater_stuck = False

    def press(self, name: str) -> None:
        """The input is on."""
        self._day.board.pressed |= INPUTS[name]

    def release(self, name: str) -> None:
        """The input is as it is."""
        self._day.board.pressed &= ~INPUTS[name]

    def probe(self, role: str, change: Change) -> None:
        """Changes what the first probe of that role tells."""
        day, began_s = self._day, self._day.now_s
        named = next(probe.name for probe in day.plan.kettle.probes if probe.role.value == role)

        def tells(probe: ProbeName, read_c: float) -> float | None:
            return change(read_c, day.now_s - began_s) if probe == named else read_c

        day.tells = tells

    def sound_probe(self, role: str) -> None:
        """Each probe tells what it reads: a day has one fault."""
        self._day.tells = truly

    def unlink(self) -> None:
        """No report, and so no reading either."""
        self._day.board.linked = False
        self._day.tells = lambda probe, read_c: None

    def link(self) -> None:
        """It reports again, and so do its probes."""
        self._day.board.linked = True
        self._day.tells = truly

    def restart_board(self) -> None:
        """All off, and its time begins at nothing."""
        board = self._day.board
        board.up_ms, board.heater_permille, board.pump_on, board.main_contactor_closed = 0, 0, False, False

    def leave(self) -> None:
        """Nobody answers."""
        self._day.brewer_away = True

    def suspend(self, away_s: float) -> None:
        """Time passes without a tick; the board's lease has ended."""
        self.restart_board()
        self._day.board.up_ms = round(1000 * (self._day.now_s + away_s))
        self._day.now_s += away_s


def begins(day: VirtualDay, fault: Fault[Rig]) -> bool:
    """Whether this is the moment at which `fault` begins by itself."""
    stage, step = day.state.stage, current_step(day.plan, day.state.stage)
    if day.state.batch is not BatchState.RUNNING or step is None:
        return False
    kind = step.what.value if isinstance(step, AskStep) else step.kind.value
    here = (kind, stage.name) == fault.begins and day.now_s - stage.begun_s >= fault.after_s
    return here and (fault.begins != ("rest", "hold") or day.board.pump_on or not day.plan.kettle.has_pump)


def lived_through(day: VirtualDay, fault: Fault[Rig]) -> Trip:
    """The day with `fault` from now on, until it was found and for some minutes more, or for three hours."""
    rig, began_s = FoldRig(day), day.now_s
    aim_c = max(day.world.truth().bulk_c, day.state.evidence.armed_target_c or 0.0)
    peak_c = day.world.truth().bulk_c
    found_s: float | None = None
    rule: str | None = None
    day.brewer_away = True  # nobody mends it either
    while day.now_s - began_s < WATCHED_S and (found_s is None or day.now_s - found_s < AFTER_S):
        fault.act(rig, day.now_s - began_s)
        second = day.second()
        peak_c = max(peak_c, day.world.truth().bulk_c)
        if found_s is None:
            rule = rule_found(second.events, fault.rules)
            found_s = None if rule is None else day.now_s
    return Trip(
        promise=fault.promise,
        rule=rule,
        detected_after_s=None if found_s is None else found_s - began_s,
        peak_c=round(peak_c, 2),
        excess_c=round(max(peak_c - aim_c, 0.0), 2),
        end_state=day.state.batch.value,
    )


def rule_found(events: tuple[Event, ...], rules: Collection[str]) -> str | None:
    """The first of those rules that spoke in this tick: a trip, an alarm, or the cause of a pause."""
    for event in events:
        said = {
            EventCode.TRIP: event.get("rule"),
            EventCode.ALARM_RAISED: event.get("alarm"),
            EventCode.BATCH_STATE: event.get("cause"),
        }.get(event.code)
        if said in rules:
            return str(said)
    return None
