"""The states of a batch in plain words: to a brewer "held" means held at a temperature, so that word is not used."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.batch_state import BatchState


@dataclass(frozen=True, slots=True, kw_only=True)
class StateWords:
    """`name` stands alone; `meaning` says how things are and what may be done."""

    name: str
    meaning: str


STATE_WORDS: dict[BatchState, StateWords] = {
    BatchState.IDLE: StateWords(name="Not started", meaning="Everything is off. Start when you are ready."),
    BatchState.RUNNING: StateWords(name="Under way", meaning="The day goes by its steps."),
    BatchState.HOLDING: StateWords(name="Pausing", meaning="Heater and pump are going off."),
    BatchState.HELD: StateWords(
        name="Paused, heat off",
        meaning="Heater and pump are told to be off and the day waits. Look at the kettle, then carry on there.",
    ),
    BatchState.RESTARTING: StateWords(
        name="About to carry on", meaning="Heat and pump come back in a few seconds: hands away."
    ),
    BatchState.STOPPING: StateWords(name="Ending", meaning="Everything is going off; this batch does not go on."),
    BatchState.STOPPED: StateWords(name="Ended early", meaning="Everything is off. This batch is over."),
    BatchState.ABORTING: StateWords(name="Stopping all heat", meaning="Everything is going off now."),
    BatchState.ABORTED: StateWords(
        name="All heat stopped",
        meaning="Everything is off and stays off until it is reset at the kettle.",
    ),
    BatchState.COMPLETE: StateWords(name="Done", meaning="Every step is done and everything is off."),
}
