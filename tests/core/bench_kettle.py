"""A kettle to put faults into: one tick at a time, in virtual time, with a first-order liquid or scripted readings.

Every tick of every test is also held against LAWS, which no input whatever may break.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import replace

from kettlebridge.core.arming_state import NOT_ARMED, Arming, Phase
from kettlebridge.core.calls import CallKind
from kettlebridge.core.heat_watch import UNWATCHED
from kettlebridge.core.interlocks import INTERLOCKS, Interlock
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.probes import ProbeMemory
from kettlebridge.core.promises import PROMISES
from kettlebridge.core.sequencer import ROWS, current_step
from kettlebridge.core.stage import StageState
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import Ticked, tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.demand import Output
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import CommandId, KettleId, ProbeName
from kettlebridge.model.inputs import Inputs, Resumed
from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle, MashTarget, Probe, ProbeRole, RegulatorKind, Safety
from kettlebridge.model.plan import AnyStep, HeatStep, Plan, Profile, RestStep, Water
from kettlebridge.model.reading import UNLINKED, BoardHealth, BoardInput, BoardState, Reading, ReadingFault
from tests.core.evidence_with import evidence_with

MASH = ProbeName("mash")
AGE_S = 0.4
ROOM_C = 20.0
STARTED_UTC_S = 1_800_000_000.0
WITHIN_S = {promise.id: promise.within_s for promise in PROMISES}

KETTLE = Kettle(
    name=KettleId("bench"),
    capacity_l=30.0,
    heater_w=2500.0,
    mains_v=230.0,
    boil_c=100.0,
    element_cover_l=4.0,
    under_basket_l=3.0,
    loss_w_per_k=2.0,
    boil_off_l_per_h=2.5,
    dead_space_l=0.5,
    grain_absorption_l_per_kg=0.7,
    basket_kg=1.5,
    probe_delay_s=10.0,
    chill=ChillWay.IN_KETTLE,
    drive=HeaterDrive.SSR,
    has_pump=True,
    has_main_contactor=True,
    probes=(Probe(name=MASH, source="28A1B2C3040506B4", role=ProbeRole.CONTROL),),
    inputs=BoardInput.CONFIRM | BoardInput.STOP | BoardInput.FOAM,
    safety=Safety(limit_c=102.0),
    regulator=RegulatorKind.PID,  # one liquid, no bed, nothing to learn: tests/control has kettles with more
    mash_target=MashTarget.PROBE,
)
BARE = replace(KETTLE, has_main_contactor=False)

STRIKE = HeatStep(name="strike", to_c=70.0)
REST = RestStep(name="rest", at_c=66.0, for_min=1.0)
MASH_REST = RestStep(name="mash", at_c=66.0, for_min=1.0, pump_after_min=0.0)


def plan_of(
    *steps: AnyStep, kettle: Kettle = KETTLE, water: Water | None = None, ready_at_utc_s: float | None = None
) -> Plan:
    """A plan of these steps."""
    profile = Profile(name="bench day", water=water or Water(fill_l=20.0, sparge_l=5.0, grain_kg=4.0), steps=steps)
    return Plan(kettle=kettle, profile=profile, ready_at_utc_s=ready_at_utc_s, against_arming=())


ARMED = Arming(phase=Phase.ARMED, attempt=1, clock_s=STARTED_UTC_S)
MOST_BAD = 4
PAUSES = frozenset({BatchState.HELD, BatchState.ABORTED})
"""Where a batch stays until somebody carries on or resets."""


def laws_broken(plan: Plan, before: State, inputs: Inputs, ticked: Ticked) -> list[str]:
    """Which of the laws that hold for any input the tick broke."""
    after, demanded = ticked.state, {demand.output: demand.permille for demand in ticked.demands}
    board = inputs.health.board
    heat = demanded.get(Output.HEATER, 0)
    energised = [output for output in (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR) if demanded.get(output, 0)]
    step = current_step(plan, after.stage)
    row = None if step is None else ROWS.get((step.kind, after.stage.name))
    laws = (
        ("nothing is demanded over a lost link", not (demanded and (board is None or not inputs.health.linked))),
        ("a heater is between off and full", 0 <= heat <= 1000),
        ("only a running batch has anything on", after.batch is BatchState.RUNNING or not energised),
        ("hands in, everything off", row is None or not row.hands_in or not energised),
        ("no heat without a claim of liquid", not heat or before.ledger.volume_l is not None or _claims(after)),
        (
            "no heat before the main contactor reads closed",
            not heat
            or not plan.kettle.has_main_contactor
            or (board is not None and board.main_contactor_closed)
            or (after.arming.phase is Phase.HEATER_ALONE and not demanded[Output.MAIN_CONTACTOR]),
        ),
        ("no heat without a believed temperature", not heat or after.evidence.control_c is not None),
        ("no heat on an old reading", not heat or after.evidence.stale_s <= plan.kettle.safety.stale_after_s),
        (
            "no heat on bad readings",
            not heat or (after.evidence.bad_streak < MOST_BAD and not after.evidence.mostly_bad),
        ),
        (
            "an old demand is not kept over a rule",
            not heat or not any(row.trips for row in _acting(after, inputs.now_s)),
        ),
        ("a safety alarm leaves only by somebody's word", _told(inputs) or _safety(before) <= _safety(after)),
        ("a pause leaves only by somebody's word", _told(inputs) or before.batch not in PAUSES or _paused(after)),
        ("stop all heat is never late", not _stops(inputs) or not energised),
        ("the tick is counted", after.n == before.n + 1),
    )
    return [law for law, kept in laws if not kept]


def _acting(state: State, now_s: float) -> list[Interlock]:
    return [
        row
        for row, since_s in zip(INTERLOCKS, state.timers, strict=True)
        if since_s is not None and now_s - since_s >= row.for_s
    ]


def _safety(state: State) -> set[str]:
    return {record.cause for record in state.alarms if record.safety}


def _told(inputs: Inputs) -> bool:
    board = inputs.health.board
    return bool(inputs.commands) or (board is not None and bool(board.inputs & BoardInput.CONFIRM))


def _paused(state: State) -> bool:
    return state.batch in PAUSES | {BatchState.ABORTING}


def _stops(inputs: Inputs) -> bool:
    return any(command.kind is CommandKind.STOP_HEAT for command in inputs.commands)


def _claims(state: State) -> bool:
    return state.ledger.volume_l is not None


class BenchKettle:
    """`plan` on a kettle whose liquid warms by energy balance after the probe's delay.

    With `stage` the batch is under way there, with `volume_l` of liquid at `liquid_c`; without, it is Idle. `armed`: it
    may heat with nobody there.
    `reads` is what the probe gives: a value, a fault, or None for silence; `also_read` what others give. `true_l` is
    what there really is, None: what was confirmed. `element_open`: nothing heats. `heater_stuck`, `contactor_stuck`:
    closed whatever is demanded, and not read back. `pins` changes what the board reads of its outputs. With `alive`
    False the liquid is as the test sets it, and what the probe says is not held against the heat.
    """

    def __init__(
        self,
        plan: Plan,
        *,
        liquid_c: float = ROOM_C,
        stage: str | None = None,
        volume_l: float | None = 20.0,
        grain: Grain = Grain.NONE,
        armed: bool = False,
    ) -> None:
        self.plan = plan
        self.liquid_c = liquid_c
        self.now_s = 0.0
        self.events: list[Event] = []
        self.linked = True
        self.inputs_on = BoardInput.NONE
        self.limit_fraction = 1.0
        self.reads: Callable[[], float | ReadingFault | None] = lambda: self.liquid_c
        self.also_read: dict[ProbeName, Callable[[], float | None]] = {}
        self.pins: Callable[[BoardState], BoardState] = lambda board: board
        self.true_l: float | None = None
        self.element_open = self.heater_stuck = self.contactor_stuck = False
        self.booted_s = 0.0
        self.alive = True
        self.heater = 0
        self.pump = False
        self.contactor = False
        self.ticked: Ticked | None = None
        self.inputs: list[Inputs] = []
        self._under_way = deque([0.0] * round(plan.kettle.probe_delay_s))
        self._commands = 0
        self.state = initial(plan)
        if stage is not None:
            memory = ProbeMemory(good_c=liquid_c, good_s=-AGE_S, heard_s=-AGE_S, last_s=-AGE_S)
            self.state = self.state._replace(
                n=1,
                batch=BatchState.RUNNING,
                probes=(memory,) * len(plan.kettle.probes),
                stage=StageState(name=stage, begun_c=liquid_c),
                ledger=Ledger(volume_l=volume_l, grain=grain, grain_kg=4.0 if grain is Grain.IN else 0.0),
                health=self.health(),
                arming=ARMED._replace(volume_l=volume_l or 0.0) if armed else NOT_ARMED,
            )

    @property
    def batch(self) -> BatchState:
        return self.state.batch

    @property
    def stage(self) -> str:
        return self.state.stage.name

    @property
    def off(self) -> bool:
        """Whether heater, main contactor and pump are all demanded off, or nothing is demanded."""
        return not (self.heater or self.contactor or self.pump)

    def be(self, batch: BatchState) -> bool:
        """Whether the batch is in that state now."""
        return self.batch is batch

    @property
    def alarms(self) -> list[str]:
        return [record.cause for record in self.state.alarms]

    @property
    def calls(self) -> list[CallKind]:
        return [call.kind for call in self.state.calls]

    def health(self) -> BoardHealth:
        """What the board says: outputs read back as demanded at the tick before."""
        if not self.linked:
            return UNLINKED
        board = BoardState(
            acted_on=round((self.now_s - self.booted_s) * 1000),
            heater_permille=self.heater,
            heater_on_ms=0,
            pump_on=self.pump,
            main_contactor_closed=self.contactor,
            lease_left_s=1.0,
            inputs=self.inputs_on,
        )
        return BoardHealth(linked=True, age_s=AGE_S, board=self.pins(board))

    def tick(self, *commands: Command, dt_s: float = 1.0, resumed: Resumed | None = None) -> Ticked:
        """One tick `dt_s` later."""
        self._warm(dt_s)
        self.now_s += dt_s
        inputs = Inputs(
            now_s=self.now_s,
            at_utc_s=STARTED_UTC_S + self.now_s,
            readings=self._readings(),
            health=self.health(),
            commands=commands,
            heater_limit_fraction=self.limit_fraction,
            resumed=resumed,
        )
        return self.fold(inputs)

    def fold(self, inputs: Inputs) -> Ticked:
        """One tick of these inputs, held against the laws."""
        if not self.alive:
            self.state = self.state._replace(evidence=evidence_with(self.state.evidence, watch=UNWATCHED))
        before = self.state
        ticked = tick(self.plan, before, inputs)
        assert laws_broken(self.plan, before, inputs, ticked) == []
        self.ticked, self.state = ticked, ticked.state
        self.inputs.append(inputs)
        self.events.extend(ticked.events)
        demanded = {demand.output: demand.permille for demand in ticked.demands}
        self.heater = demanded.get(Output.HEATER, 0)
        self.pump = demanded.get(Output.PUMP, 0) > 0
        self.contactor = demanded.get(Output.MAIN_CONTACTOR, 0) > 0
        return ticked

    def run(self, seconds: float, *, dt_s: float = 1.0) -> None:
        """Ticks for that long."""
        for _ in range(round(seconds / dt_s)):
            self.tick(dt_s=dt_s)

    def until(self, condition: Callable[[], object], *, within_s: float, dt_s: float = 1.0) -> float:
        """Ticks until `condition` holds; how long that took. Longer than `within_s` fails the test."""
        begun_s = self.now_s
        while not condition():
            assert self.now_s - begun_s < within_s, f"not within {within_s} s: {self.batch}, {self.stage}"
            self.tick(dt_s=dt_s)
        return self.now_s - begun_s

    def pass_by(self, seconds: float) -> None:
        """As if the stage in hand had begun that much earlier: long waits without their ticks."""
        stage = self.state.stage
        self.state = self.state._replace(stage=stage._replace(begun_s=stage.begun_s - seconds))

    def tell(self, kind: CommandKind, **values: object) -> str | None:
        """One tick with that command, given at the kettle unless said; the reason if it was refused."""
        command = self.command(kind, **values)
        self.tick(command)
        return self.verdict(command)

    def command(self, kind: CommandKind, **values: object) -> Command:
        """A command of its own id."""
        self._commands += 1
        given = {"at_kettle": True, "who": "brewer"} | values
        return Command(id=CommandId(f"c{self._commands}"), kind=kind, **given)  # type: ignore[arg-type]

    def verdict(self, command: Command) -> str | None:
        """What the newest tick made of `command`: None where it was taken."""
        assert self.ticked is not None
        for event in self.ticked.events:
            if event.get("command") == command.id:
                return None if event.code is EventCode.COMMAND_TAKEN else str(event.get("reason"))
        raise AssertionError(f"{command.kind} was not answered")

    def confirm(self, kind: CallKind, index: int = 0, **values: object) -> str | None:
        """Answers the open call of that kind."""
        wanted = f"{self.state.stage.step_index}.{kind.value}.{index}"
        return self.tell(CommandKind.CONFIRM, call=wanted, **values)

    def confirm_any(self, kind: CallKind) -> str | None:
        """Answers the open call of that kind, whichever step it was raised in."""
        call = next(call for call in self.state.calls if call.kind is kind)
        return self.tell(CommandKind.CONFIRM, call=call.id)

    def of(self, code: EventCode) -> list[Event]:
        """The events of that code so far."""
        return [event for event in self.events if event.code is code]

    def _warm(self, dt_s: float) -> None:
        if not self.alive:
            return
        kettle = self.plan.kettle
        powered = self.contactor or self.contactor_stuck or not kettle.has_main_contactor
        given = 1.0 if self.heater_stuck else self.heater / 1000.0
        self._under_way.append(given if powered and not self.element_open else 0.0)
        heat_w = kettle.heater_w * self._under_way.popleft() - kettle.loss_w_per_k * (self.liquid_c - ROOM_C)
        self.liquid_c += heat_w * dt_s / (4186.0 * (self.true_l or self.state.ledger.volume_l or 20.0))

    def _readings(self) -> tuple[Reading, ...]:
        others = ((name, read()) for name, read in self.also_read.items())
        return (
            *self._control(),
            *(Reading(probe=name, value_c=value_c, age_s=AGE_S) for name, value_c in others if value_c is not None),
        )

    def _control(self) -> tuple[Reading, ...]:
        read = self.reads()
        if read is None:
            return ()
        if isinstance(read, ReadingFault):
            return (Reading(probe=MASH, fault=read, age_s=AGE_S),)
        return (Reading(probe=MASH, value_c=read, age_s=AGE_S),)
