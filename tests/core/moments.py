"""One moment of a healthy mash rest, for tests that change one thing in it and look at what is found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from kettlebridge.core.gathering import gathered
from kettlebridge.core.here import Here, Seen
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.probes import ProbeMemory, Seats
from kettlebridge.core.sequencer import Sequenced, current_step
from kettlebridge.core.stage import Stage, StageState, Wish, nothing
from kettlebridge.core.state import State, initial
from kettlebridge.core.trail import NO_TRAIL
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.reading import BoardHealth, BoardState
from tests.core.bench_kettle import MASH_REST, STARTED_UTC_S, plan_of
from tests.core.evidence_with import findings

NOW_S = 1000.0
BEGUN_S = 900.0
CONTROL = ProbeMemory(good_c=66.0, good_s=NOW_S - 0.4, heard_s=NOW_S - 0.4)
ROW = Stage(name="hold", wish=nothing, moves=(), heats_with_pump=True)
BOARD = BoardState(
    acted_on=5000,
    heater_permille=0,
    heater_on_ms=0,
    pump_on=True,
    main_contactor_closed=True,
    lease_left_s=1.0,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What a tick goes by."""

    plan: Plan
    state: State
    inputs: Inputs
    seen: Seen
    sequenced: Sequenced

    def at(self, **changed: Any) -> Moment:
        """With other parts, or some of a part's fields: `seen={"dt_s": 2.0}`."""
        parts: dict[str, Any] = {}
        for name, value in changed.items():
            part = getattr(self, name)
            if isinstance(value, dict):
                change = part._replace if hasattr(part, "_replace") else partial(replace, part)
                parts[name] = change(**value)
            else:
                parts[name] = value
        return replace(self, **parts)

    def board(self, **changed: Any) -> Moment:
        """With a board that reports something else."""
        return self.at(inputs={"health": replace(self.inputs.health, board=replace(BOARD, **changed))})

    def before(self, **evidence: Any) -> Moment:
        """With other groups of findings in the tick before."""
        return self.at(state={"evidence": self.state.evidence._replace(**evidence)})

    @property
    def here(self) -> Here:
        """As evidence is gathered from it."""
        step = current_step(self.plan, self.sequenced.stage)
        return Here(self.plan, self.state, self.inputs, self.seen, self.sequenced, step)

    def found(self, finding: str) -> Any:
        """What is gathered under that name."""
        return findings(gathered(self.plan, self.state, self.inputs, self.seen, self.sequenced))[finding]


def resting(plan: Plan | None = None) -> Moment:
    """At 66.0 °C, nothing moved for a long time, the pump on as told, the heater off for now."""
    plan = plan_of(MASH_REST) if plan is None else plan
    stage = StageState(name="hold", begun_s=BEGUN_S, begun_c=66.0)
    began = initial(plan)
    state = began._replace(
        n=900,
        batch=BatchState.RUNNING,
        stage=stage,
        ledger=Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0),
        outputs=began.outputs._replace(pump_on=True, main_contactor_on=True),
        evidence=began.evidence._replace(moves=began.evidence.moves._replace(pumping=True)),
    )
    health = BoardHealth(linked=True, age_s=0.4, board=BOARD)
    unheard = ProbeMemory()
    return Moment(
        plan=plan,
        state=state,
        inputs=Inputs(now_s=NOW_S, at_utc_s=STARTED_UTC_S + NOW_S, health=health, heater_limit_fraction=1.0),
        seen=Seen(
            control=CONTROL,
            seats=Seats(control=CONTROL, ambient=unheard, returning=None, beside=()),
            bed_c=None,
            ambient_c=20.0,
            trail=NO_TRAIL,
            now_s=NOW_S,
            dt_s=1.0,
            unlinked_since_s=None,
            touched=False,
        ),
        sequenced=Sequenced(
            stage=stage, schedule=(), calls=(), wish=Wish(target_c=66.0, pump_on=True), row=ROW, events=()
        ),
    )
