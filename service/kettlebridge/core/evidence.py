"""What the interlocks go by, computed once a tick from readings, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import StepKind

NEVER_HEARD_S = 1e9
ARMS_WITHIN_C = 1.0


class Evidence(NamedTuple):
    """`stale_s`: time since the control probe was last believed. `over_c`: above the set-point, None without one.

    `armed` with `armed_target_c`: the probe has been within 1 °C of the present set-point (memory). `overdue_s`:
    how far the stage is beyond twice its expected time, negative before. `held_s`: how long a stage with a
    `hold_limit_s` has held. `hot_pump`: hoses and outlet were confirmed for what the pump does now. `wants_heat`,
    `wants_pump`: what the stage wants.
    """

    batch: BatchState = BatchState.IDLE
    kind: StepKind | None = None
    control_c: float | None = None
    stale_s: float = NEVER_HEARD_S
    bad_streak: int = 0
    mostly_bad: bool = False
    limit_c: float = 0.0
    over_c: float | None = None
    armed: bool = False
    armed_target_c: float | None = None
    overdue_s: float = -NEVER_HEARD_S
    hold_limit_s: float | None = None
    held_s: float = 0.0
    hands_in: bool = False
    sinking: bool = False
    mash: bool = False
    hot_pump: bool = False
    heats_with_pump: bool = False
    drawing_off: bool = False
    volume_l: float | None = None
    cover_l: float = 0.0
    stale_after_s: float = 3.0
    over_allowed_c: float = 5.0
    unlinked_s: float = 0.0
    journal_failing: bool = False
    wants_heat: bool = False
    wants_pump: bool = False


FIRST_EVIDENCE = Evidence()


def arming(before: Evidence, target_c: float | None, control_c: float | None) -> tuple[bool, float | None]:
    """Whether the over-temperature rule is armed for `target_c`.

    It arms once the probe has been within 1 °C of the target or above it after rising; a new target disarms it.
    """
    if target_c is None or control_c is None:
        return False, None
    near = abs(control_c - target_c) <= ARMS_WITHIN_C
    same = before.armed_target_c == target_c
    return near or (same and before.armed), target_c
