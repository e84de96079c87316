"""A bench kettle whose board keeps an output for as long as its lease says, ends the session, and is had again."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.core.calls import CallKind
from kettlebridge.core.tick import Ticked
from kettlebridge.model.command import CommandKind
from kettlebridge.model.demand import Output
from kettlebridge.model.event import EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import AskStep, HeatStep, Plan
from kettlebridge.model.reading import UNLINKED, BoardHealth
from tests.core.bench_kettle import AGE_S, STARTED_UTC_S, BenchKettle, plan_of

READY = HeatStep(name="strike", to_c=70.0, ready=True)
TO_READY_S = 8 * 3600.0
AWAY_S = 2.0
"""Between the end of a session and the next one's first report."""
LONGEST_S = 900.0


def ready_plan(*steps: HeatStep | AskStep, to_ready_s: float = TO_READY_S, against: tuple[str, ...] = ()) -> Plan:
    """A plan that is to be ready at a time."""
    plan = plan_of(*(steps or (READY, replace(READY, ready=False))), ready_at_utc_s=STARTED_UTC_S + to_ready_s)
    return replace(plan, against_arming=against)


class LeasedBench(BenchKettle):
    """Waits for its time, filled, in the evening.

    `synchronised` is the clock's word. `keeps_on`: the board does not drop the heater. `deaf`: it does not switch the
    heater on. `mute`: the board's last word gets lost. `stays_away`: it is not had again. `boots`: it starts anew.
    """

    def __init__(self, plan: Plan | None = None, *, liquid_c: float = 18.0, stage: str = "wait") -> None:
        super().__init__(ready_plan() if plan is None else plan, liquid_c=liquid_c, stage=stage)
        self.synchronised = True
        self.keeps_on = self.deaf = self.mute = self.stays_away = False
        self.clock_set_s = 0.0
        self.until_s = 1e9
        self.away_s = AWAY_S
        self.back_s = 0.0
        self.on_ms = 0

    def health(self) -> BoardHealth:
        """As of now; what the lease let go shows from the moment on at which it ended."""
        if not hasattr(self, "until_s"):
            return super().health()
        if not self.linked:
            return UNLINKED
        said_s = self.now_s - AGE_S
        if said_s >= self.until_s and not self.keeps_on and (self.heater or self.contactor):
            self.heater, self.contactor, self.pump = 0, False, False
            self.back_s = self.until_s + self.away_s
        away = self.now_s < self.back_s or (self.stays_away and self.back_s > 0.0)
        if away and self.mute:
            return BoardHealth(linked=False, age_s=0.0)
        board = super().health().board
        assert board is not None
        board = self.pins(replace(board, heater_on_ms=self.on_ms, acted_on=round((self.now_s - self.booted_s) * 1000)))
        return BoardHealth(linked=not away, age_s=self.now_s - self.until_s if away else AGE_S, board=board)

    def fold(self, inputs: Inputs) -> Ticked:
        """The demands' own lease is kept."""
        inputs = replace(inputs, clock_synchronised=self.synchronised, at_utc_s=inputs.at_utc_s + self.clock_set_s)
        before = (self.heater, self.contactor, self.pump)
        ticked = super().fold(inputs)
        if ticked.demands:
            self.until_s = self.now_s - AGE_S + ticked.demands[0].ttl_ms / 1000.0
            self.heater = 0 if self.deaf else self.heater
        else:
            self.heater, self.contactor, self.pump = before
        self.on_ms += self.heater
        return ticked

    @property
    def phase(self) -> str:
        return self.state.arming.phase.value

    @property
    def armed(self) -> bool:
        return self.state.arming.armed

    @property
    def refused(self) -> str | None:
        return self.state.arming.refused

    @property
    def phases(self) -> list[str]:
        """All that an arming went through so far."""
        return [str(event.get("phase")) for event in self.of(EventCode.ARMING)]

    def reach(self, phase: str) -> None:
        """Arms, answering what is asked, as far as that phase."""
        if self.phase == "not_armed":
            assert self.tell(CommandKind.ARM) is None
        self.until(lambda: self.phase == phase or self._answers(), within_s=LONGEST_S)

    def arm(self) -> None:
        """All the way."""
        self.reach("armed")

    def be_refused(self, within_s: float = LONGEST_S) -> str | None:
        """Goes on until the arming has ended, everything off; why."""
        self.until(lambda: self.phase == "not_armed", within_s=within_s)
        return self.refused

    def demanded(self) -> dict[Output, int]:
        """What the newest tick demanded."""
        assert self.ticked is not None
        return {demand.output: demand.permille for demand in self.ticked.demands}

    def told_off(self) -> bool:
        """Whether the newest tick told every load off, and was not silent."""
        wanted = self.demanded()
        return bool(wanted) and not any(wanted[out] for out in (Output.HEATER, Output.MAIN_CONTACTOR, Output.PUMP))

    def _answers(self) -> bool:
        for kind in (CallKind.EVENING_LIST, CallKind.TEST_CALL):
            if kind in self.calls:
                self.confirm_any(kind)
        return False
