"""What the interlocks go by, computed once a tick from readings, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.felt import NOTHING_FELT, Felt
from kettlebridge.core.heat_watch import UNWATCHED, HeatWatch
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

    `moved_s`: when liquid was last moved, `pumping`: whether the pump ran, `recent_fraction`: what the heater may still
    show of its highest share of power lately, `watch`: what the probe says against the heat that was given (memory, all
    four). `open_s`: how long heat has been told off. `fallen_c`: fall over half a minute of heating. `apart_c`: between
    two probes in one place. `bed_lag_c`: how much further than the heater explains the returning stream is off. `wet`:
    the level switch has seen the liquid that is claimed, `dry_s`: for how long it has said otherwise (memory).
    `risen_c`: rise while hands are at work and all is told off. `beyond_told`: the board reads an output higher than it
    was told, `below_told`: one lower. `flow_wanted`: the pump runs and its flow is not seen, `flow_stray`: flow is seen
    and no pump was told to run. `boots_s`: when the board was last seen to start anew (memory), `last_token` that
    board's own time, `linked_s` for how long it has been there (memory). `unattended`: nobody has said to be there.
    `stays_cold`: it will not heat by itself, though that was wanted.
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
    moved_s: float = -NEVER_HEARD_S
    recent_fraction: float = 0.0
    pumping: bool = False
    watch: HeatWatch = UNWATCHED
    open_s: float = 0.0
    risen_c: float = 0.0
    fallen_c: float = 0.0
    apart_c: float = 0.0
    bed_lag_c: float = 0.0
    felt: Felt = NOTHING_FELT
    wet: bool = False
    dry_s: float = 0.0
    beyond_told: bool = False
    below_told: bool = False
    flow_wanted: bool = False
    flow_stray: bool = False
    boots_s: tuple[float, ...] = ()
    last_token: int | None = None
    linked_s: float = 0.0
    now_s: float = 0.0
    unattended: bool = False
    stays_cold: bool = False


FIRST_EVIDENCE = Evidence()


def armed_for(before: Evidence, target_c: float | None, control_c: float | None) -> tuple[bool, float | None]:
    """Whether the over-temperature rule is armed for `target_c`.

    It arms once the probe has been within 1 °C of the target or above it after rising; a new target disarms it.
    """
    if target_c is None or control_c is None:
        return False, None
    near = abs(control_c - target_c) <= ARMS_WITHIN_C
    same = before.armed_target_c == target_c
    return near or (same and before.armed), target_c
