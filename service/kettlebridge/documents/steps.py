"""A step of a profile in a few words: what it is meant to do."""

from __future__ import annotations

from kettlebridge.documents.amounts import degrees
from kettlebridge.model.plan import (
    AnyStep,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    RestStep,
)


def planned(step: AnyStep) -> str:
    """What the profile says of it."""
    match step:
        case HeatStep(to_c=to_c) | ChillStep(to_c=to_c):
            return f"to {degrees(to_c)}"
        case RestStep(at_c=at_c, for_min=for_min) | HopStandStep(at_c=at_c, for_min=for_min):
            return f"{for_min:g} min at {degrees(at_c)}"
        case CirculateStep(at_c=at_c, for_min=for_min):
            return f"{for_min:g} min at {degrees(at_c)}, pump on"
        case BoilStep(for_min=for_min):
            return f"{for_min:g} min at the boil"
        case AskStep():
            return "by hand"
