"""What the interlocks go by, computed once a tick from readings, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.felt import NOTHING_FELT, Felt
from kettlebridge.core.heat_watch import UNWATCHED, HeatWatch
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import StepKind

NEVER_HEARD_S = 1e9
ARMS_WITHIN_C = 1.0


class Stayed(NamedTuple):
    """How long the stage lasts, against what it may.

    `overdue_s`: how far it is beyond twice its expected time, negative before. `held_s`: how long a stage with a
    `hold_limit_s` has held.
    """

    overdue_s: float = -NEVER_HEARD_S
    hold_limit_s: float | None = None
    held_s: float = 0.0


class Moves(NamedTuple):
    """What moves liquid. `moved`: in this tick; `moved_s`: when last, or when it last may have been.

    `pumping`: whether the pump runs. `pours`: hands are at work at it, or a chiller is. `poured_l`, `poured_c`: what
    they are asked to pour in, at its coldest.
    """

    drawing_off: bool = False
    pumping: bool = False
    pours: bool = False
    poured_l: float = 0.0
    poured_c: float = 0.0
    moved: bool = False
    moved_s: float = -NEVER_HEARD_S


class Warmth(NamedTuple):
    """What the probe says of the heat that was given, or told off.

    `recent_fraction`: what the heater may still show of its highest share of power lately, `watch`: what the probe says
    against that heat (memory, both). `open_s`: how long heat has been told off. `risen_c`: rise while hands are at work
    and all is told off. `fallen_c`: fall over half a minute of heating.
    """

    recent_fraction: float = 0.0
    watch: HeatWatch = UNWATCHED
    open_s: float = 0.0
    risen_c: float = 0.0
    fallen_c: float = 0.0


class Streams(NamedTuple):
    """What the pump and the level do.

    `hot_pump`: hoses and outlet were confirmed for what the pump does now. `bed_lag_c`: how much further than the
    heater explains the returning stream is off. `felt`: the board's inputs. `wet`: the level switch has seen the liquid
    that is claimed, `dry_s`: for how long it has said otherwise (memory). `flow_wanted`: the pump runs and its flow is
    not seen, `flow_stray`: flow is seen and no pump was told to run.
    """

    hot_pump: bool = False
    bed_lag_c: float = 0.0
    felt: Felt = NOTHING_FELT
    wet: bool = False
    dry_s: float = 0.0
    flow_wanted: bool = False
    flow_stray: bool = False


class ByBoard(NamedTuple):
    """What the board says of itself.

    `beyond_told`: it reads an output higher than it was told, `below_told`: one lower. `boots_s`: when it was last seen
    to start anew (memory), `last_token` its own time, `linked_s` for how long it has been there (memory).
    """

    beyond_told: bool = False
    below_told: bool = False
    boots_s: tuple[float, ...] = ()
    last_token: int | None = None
    linked_s: float = 0.0


class Evidence(NamedTuple):
    """All that the rules may go by.

    `stale_s`: time since the control probe was last believed. `over_c`: above the set-point, None without one. `armed`
    with `armed_target_c`: the probe has been within 1 °C of the present set-point (memory). `apart_c`: between two
    probes in one place. `wants_heat`, `wants_pump`: what the stage wants. `unattended`: nobody has said to be there.
    `stays_cold`: it will not heat by itself, though that was wanted.
    """

    batch: BatchState = BatchState.IDLE
    kind: StepKind | None = None
    now_s: float = 0.0
    control_c: float | None = None
    stale_s: float = NEVER_HEARD_S
    bad_streak: int = 0
    mostly_bad: bool = False
    over_c: float | None = None
    armed: bool = False
    armed_target_c: float | None = None
    apart_c: float = 0.0
    limit_c: float = 0.0
    over_allowed_c: float = 5.0
    stale_after_s: float = 3.0
    volume_l: float | None = None
    cover_l: float = 0.0
    mash: bool = False
    hands_in: bool = False
    sinking: bool = False
    heats_with_pump: bool = False
    wants_heat: bool = False
    wants_pump: bool = False
    unattended: bool = False
    stays_cold: bool = False
    unlinked_s: float = 0.0
    journal_failing: bool = False
    stayed: Stayed = Stayed()
    moves: Moves = Moves()
    warmth: Warmth = Warmth()
    streams: Streams = Streams()
    by_board: ByBoard = ByBoard()


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
