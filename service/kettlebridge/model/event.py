"""What happened, as codes and values; words are made where a person reads them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

Scalar = float | int | str | bool | None


class EventCode(Enum):
    """Every kind of entry in a batch's record."""

    BATCH_STATE = "batch_state"
    STEP_BEGUN = "step_begun"
    STEP_DONE = "step_done"
    STAGE = "stage"
    CALL_RAISED = "call_raised"
    CALL_REPEATED = "call_repeated"
    CALL_ANSWERED = "call_answered"
    ADDITION_SOON = "addition_soon"
    ADDITION_DUE = "addition_due"
    ADDITION_MADE = "addition_made"
    BOIL_FOUND = "boil_found"
    REST_REACHED = "rest_reached"
    COMMAND_REFUSED = "command_refused"
    COMMAND_TAKEN = "command_taken"
    TRIP = "trip"
    HELD = "held"
    ALARM_RAISED = "alarm_raised"
    ALARM_CHANGED = "alarm_changed"
    RESUMED = "resumed"
    PROBE = "probe"
    FILL = "fill"
    MEASURED = "measured"
    LINK = "link"
    DRAW_OFF = "draw_off"
    REACHABLE = "reachable"
    READY_LATE = "ready_late"
    GRAIN_TEMPERATURE = "grain_temperature"
    HEAT_UP_FITTED = "heat_up_fitted"
    HEAT_UP_UNFIT = "heat_up_unfit"
    ARMING = "arming"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """`values` are (name, scalar) pairs in a fixed order; names carry their unit."""

    code: EventCode
    values: tuple[tuple[str, Scalar], ...] = ()

    def get(self, name: str) -> Scalar:
        """The value called `name`, None where there is none."""
        for key, value in self.values:
            if key == name:
                return value
        return None

    def number(self, name: str) -> float | None:
        """The number called `name`, None where there is none."""
        value = self.get(name)
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None

    def figure(self, name: str) -> float:
        """A number that every event of this code has. Raises ValueError where it has none: unknown is no 0."""
        value = self.number(name)
        if value is None:
            raise ValueError(f"{self.code.value} without {name}")
        return value
