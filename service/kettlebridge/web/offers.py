"""What a page offers to tell a kettle, by the state of its batch. The core decides; a test holds the two together."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.documents.arming import stays_cold
from kettlebridge.model.batch_state import BatchState as S
from kettlebridge.model.command import CommandKind as K
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A number that is typed: its name in a command, what it is called, what stands in it at first."""

    name: str
    label: str
    value: str = ""
    required: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A form: its button, what it needs, whether it is one for the kettle. `id` tells apart those of one kind.

    `leads`: where it stands first, it is what most people want there.
    """

    kind: K
    button: str
    hint: str = ""
    fields: tuple[Field, ...] = ()
    id: str = ""
    at_kettle: bool = False
    code_if: bool = False
    leads: bool = True


FORMS: dict[K, Offer] = {
    K.START: Offer(
        kind=K.START,
        button="Begin",
        hint="After a stop the day is taken up where it was. That, and a safety alarm that stands, needs the code.",
        code_if=True,
    ),
    K.CARRY_ON: Offer(
        kind=K.CARRY_ON,
        button="Carry on",
        hint="Hands out, lid as it should be. Heat and pump come back a few seconds later.",
        at_kettle=True,
    ),
    K.RESET: Offer(
        kind=K.RESET,
        button="Clear the stop",
        hint="Everything stays off. Begin again after it when all is well.",
        at_kettle=True,
    ),
    K.HOLD: Offer(kind=K.HOLD, button="Pause", hint="Heater and pump go off, the clock of the step stops."),
    K.EXTEND: Offer(
        kind=K.EXTEND,
        button="Change the time",
        hint="Less than none takes time away.",
        fields=(Field(name="minutes", label="More minutes for this step", value="5"),),
    ),
    K.RETARGET: Offer(
        kind=K.RETARGET,
        button="Change the temperature",
        fields=(Field(name="target_c", label="This step at, in °C"),),
    ),
    K.ARM: Offer(
        kind=K.ARM,
        button="Arm",
        hint="So that it heats by itself, with nobody there. Some minutes of tests at the kettle first.",
    ),
    K.DISARM: Offer(
        kind=K.DISARM,
        button="Take the arming back",
        hint="Taken back, it stays cold until somebody is there.",
        leads=False,
    ),
    K.SKIP: Offer(kind=K.SKIP, button="Leave out the rest of this step"),
    K.ADDING_WATER: Offer(
        kind=K.ADDING_WATER,
        button="Water goes in",
        hint="So that a sudden fall in temperature is no surprise.",
        fields=(Field(name="litres", label="Litres going in"),),
    ),
    K.DRAW_OFF: Offer(
        kind=K.DRAW_OFF,
        button="Draw off: keep pressed",
        hint="Heater off, pump on as long as it is pressed, half a minute at most.",
        at_kettle=True,
    ),
    K.STOP: Offer(kind=K.STOP, button="End this batch for good", hint="It cannot be taken up again."),
}

MEASURES: tuple[Offer, ...] = (
    Offer(
        kind=K.MEASURED,
        id="litres",
        button="Litres, read off",
        hint="What the kettle is reckoned to hold is put right by it.",
        fields=(
            Field(name="litres", label="Litres on the kettle's scale"),
            Field(name="at_c", label="Of that liquid, in °C; left empty, the probe's", required=False),
        ),
    ),
    Offer(
        kind=K.MEASURED,
        id="hydrometer",
        button="Gravity, by hydrometer",
        fields=(
            Field(name="gravity_sg", label="As it shows it, such as 1.048"),
            Field(name="at_c", label="Of the sample, in °C", value="20"),
        ),
    ),
    Offer(
        kind=K.MEASURED,
        id="refractometer",
        button="Gravity, by refractometer",
        hint="Before fermentation only.",
        fields=(
            Field(name="brix", label="Degrees Brix, as it shows them"),
            Field(name="at_c", label="Of the sample, in °C; left empty, it compensates itself", required=False),
        ),
    ),
)
"""What was measured goes into the record as read and as corrected, in every state."""


def arming_offer(snapshot: Snapshot) -> tuple[Offer, ...]:
    """While a step waits for its time to heat: arm it, or take that back."""
    if snapshot.arming is None or snapshot.state is not S.RUNNING:
        return ()
    return (FORMS[K.ARM if stays_cold(snapshot) else K.DISARM],)


FIRST: dict[S, tuple[K, ...]] = {
    S.IDLE: (K.START,),
    S.HELD: (K.CARRY_ON,),
    S.ABORTED: (K.RESET,),
}
"""The way on where a day stands still: in sight, before whatever is asked meanwhile."""

CALLS_WAIT: dict[S, str] = {
    S.IDLE: "It waits until the day is begun again.",
    S.HOLDING: "It can be answered in a moment.",
    S.RESTARTING: "It can be answered in a moment, when the day goes on.",
    S.STOPPING: "It is not wanted any more.",
    S.STOPPED: "It is not wanted any more.",
    S.ABORTING: "It waits: all heat is being stopped.",
    S.ABORTED: "It waits until the stop is cleared and the day begun again.",
    S.COMPLETE: "It is not wanted any more.",
}
"""What is said in place of a call's button, in every state in which no answer is taken."""

FURTHER: dict[S, tuple[K, ...]] = {
    S.IDLE: (K.STOP,),
    S.RUNNING: (K.HOLD, K.EXTEND, K.RETARGET, K.ADDING_WATER, K.DRAW_OFF, K.SKIP, K.STOP),
    S.HOLDING: (K.STOP,),
    S.HELD: (K.EXTEND, K.RETARGET, K.ADDING_WATER, K.STOP),
    S.RESTARTING: (K.HOLD, K.STOP),
    S.ABORTED: (K.STOP,),
}
"""What is rarer, a touch away. CONFIRM, COUNT_REST and ACKNOWLEDGE stand with the calls and alarms they are about."""

TIMED = frozenset({StepKind.REST, StepKind.BOIL, StepKind.HOP_STAND, StepKind.CIRCULATE})
IN_STEPS: dict[K, frozenset[StepKind]] = {
    K.EXTEND: TIMED,
    K.RETARGET: (TIMED - {StepKind.BOIL}) | {StepKind.HEAT},
    K.SKIP: frozenset(StepKind) - {StepKind.ASK},
}
"""What is for some kinds of step alone; all else is for each."""


def further_offers(snapshot: Snapshot) -> tuple[Offer, ...]:
    """Of FURTHER, what the core may take in this state and in the step in hand."""
    step = snapshot.step
    kinds = FURTHER.get(snapshot.state, ())
    return tuple(FORMS[kind] for kind in kinds if step is None or step.kind in IN_STEPS.get(kind, frozenset(StepKind)))
