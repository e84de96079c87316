"""The law that runs last: rules that may only lower an output. Some also hold the batch.

A rule is a predicate over Evidence and a time for which it must hold without a break; nothing else. Every rule that
trips takes the main contactor down with the heater. A rule with `given` acts only where an earlier rule of the same
tick lowered that. Each names the ground it stands on, which is cheaper to look at than all its rules are to ask: on
most ticks of a day nothing has to be asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.brewing.vessel import BOIL_COVER
from kettlebridge.core.evidence import Evidence
from kettlebridge.core.grounds import (
    above_target,
    board_odd,
    dragging,
    flow_odd,
    heat_odd,
    hot,
    in_hands,
    input_on,
    little_there,
    probe_doubtful,
    pump_wanted,
    readings_apart,
)
from kettlebridge.core.heat_watch import FAST_C, FROZEN_C, LACK_C, MIXES_C, OPEN_AFTER_S, STRAY_C
from kettlebridge.core.outputs import Lowers, Outputs, lowered
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import HEAT_MAX_C, StepKind

RUNNING, NOTHING = BatchState.RUNNING, Lowers.NOTHING
BAD_STREAK = 4
HEATS_ABOVE_HOT = (StepKind.BOIL, StepKind.CIRCULATE, StepKind.HOP_STAND)
PUMP_HOT_C = 80.0
OVERDUE_HOLD_S = 2 * 3600.0
FELL_OUT_C = 3.0
APART_C = 5.0
BED_LAG_C = 5.0
MASH_OVER_C = 2.5
BOOTS_LATCH = 3
BOOTS_WITHIN_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Interlock:
    """A row: `promise` is the id in the registry, `code` the trip's name in the record.

    `where`: the ground it stands on (`core.grounds`). It is not asked elsewhere, so it may hold nowhere else.
    `in_any_state`: its alarm sounds even when no batch runs.
    """

    promise: int
    code: str
    where: Callable[[Evidence], bool]
    when: Callable[[Evidence], bool]
    lowers: Lowers
    for_s: float = 0.0
    trips: bool = False
    given: Lowers = NOTHING
    in_any_state: bool = False


def not_running(e: Evidence) -> bool:
    """The batch is in a state in which nothing may be on."""
    return e.batch is not RUNNING


def drawing_off(e: Evidence) -> bool:
    """A cup is being drawn through the pump."""
    return e.moves.drawing_off


def stale(e: Evidence) -> bool:
    """No believable sample of the control probe for too long."""
    return e.stale_s > e.stale_after_s


def bad_streak(e: Evidence) -> bool:
    """Four bad readings in a row."""
    return e.bad_streak >= BAD_STREAK


def mostly_bad(e: Evidence) -> bool:
    """More than half of the recent readings were bad."""
    return e.mostly_bad


def over_set_point(e: Evidence) -> bool:
    """Too far above a set-point that had been reached."""
    return e.armed and e.over_c is not None and e.over_c > e.over_allowed_c


def over_limit(e: Evidence) -> bool:
    """Above the kettle's absolute limit, in any state."""
    return e.control_c is not None and e.control_c > e.limit_c


def hot_heating(e: Evidence) -> bool:
    """Above 90 °C in a step that has no business there."""
    return e.control_c is not None and e.control_c > HEAT_MAX_C and e.kind not in HEATS_ABOVE_HOT


def held_for_nobody(e: Evidence) -> bool:
    """Held hot beyond the stage's bound, and nobody came."""
    return e.stayed.hold_limit_s is not None and e.stayed.held_s > e.stayed.hold_limit_s


def never_there(e: Evidence) -> bool:
    """Heated for two hours beyond twice the time it should take."""
    return e.stayed.overdue_s > OVERDUE_HOLD_S


def no_fill(e: Evidence) -> bool:
    """Nobody confirmed that liquid covers the element."""
    return e.volume_l is None or e.volume_l < e.cover_l


def hot_pump(e: Evidence) -> bool:
    """The pump on liquid above 80 °C where nobody confirmed hoses and outlet for it."""
    return e.control_c is not None and e.control_c > PUMP_HOT_C and not e.streams.hot_pump


def pump_with_heat(e: Evidence) -> bool:
    """Heat wanted together with the pump in a stage that does not circulate."""
    return e.wants_pump and not e.heats_with_pump


def sinking(e: Evidence) -> bool:
    """Sugar is due or lies undissolved on the element."""
    return e.sinking


def hands_in(e: Evidence) -> bool:
    """Hands are in the kettle, or their owner has not yet said that they are out."""
    return e.hands_in


def mash_pump(e: Evidence) -> bool:
    """A mash that wanted its pump."""
    return e.mash and e.wants_pump


def beyond_told(e: Evidence) -> bool:
    """The board reads an output higher than it was told: a second master, or a pin that is stuck."""
    return e.by_board.beyond_told


def below_told(e: Evidence) -> bool:
    """The board reads an output lower than it was told: something at the kettle keeps it off."""
    return e.by_board.below_told


def lost_board(e: Evidence) -> bool:
    """The board is away though the probe, which has another way here, is not."""
    return e.unlinked_s > e.stale_after_s and not stale(e)


def frozen(e: Evidence) -> bool:
    """The reading repeats itself although 2 °C of change were expected."""
    return abs(e.warmth.watch.same_c) >= FROZEN_C


def fell_out(e: Evidence) -> bool:
    """A fall by more than 3 °C in half a minute, while heating."""
    return e.warmth.fallen_c > FELL_OUT_C


def apart(e: Evidence) -> bool:
    """Two probes in one place that do not agree."""
    return e.apart_c > APART_C


def bed_stuck(e: Evidence) -> bool:
    """What comes back from the bed is further from the heater's side than the heater explains."""
    return e.streams.bed_lag_c > BED_LAG_C


def no_heat(e: Evidence) -> bool:
    """Less than 40 % of the rise that was expected."""
    return e.warmth.watch.lack_c >= LACK_C


def low_fill(e: Evidence) -> bool:
    """It rises faster than full power can make what was confirmed."""
    return e.warmth.watch.fast_c >= FAST_C


def weld(e: Evidence) -> bool:
    """Heat that was not asked for; while the main contactor opens upon it, it has time to show."""
    return e.warmth.watch.stray_c >= STRAY_C and e.warmth.open_s <= OPEN_AFTER_S


def both_welded(e: Evidence) -> bool:
    """Two minutes after everything was told off it is still heated; also while hands are at work."""
    return (e.warmth.watch.stray_c >= STRAY_C or e.warmth.risen_c >= MIXES_C) and e.warmth.open_s > OPEN_AFTER_S


def over_budget(e: Evidence) -> bool:
    """The stage took far more energy than its rise and its losses need."""
    return e.warmth.watch.left_j is not None and e.warmth.watch.left_j < 0.0


def no_flow(e: Evidence) -> bool:
    """The pump runs and its flow switch sees nothing."""
    return e.streams.flow_wanted


def stray_flow(e: Evidence) -> bool:
    """The flow switch sees a stream that no pump was told to make."""
    return e.streams.flow_stray


def mash_over(e: Evidence) -> bool:
    """The zone under the basket runs away from the bed: the pump may have stopped."""
    return e.mash and e.wants_pump and e.over_c is not None and e.over_c > MASH_OVER_C


def level_dry(e: Evidence) -> bool:
    """The level switch says that the element may be bare, in a stage that heats."""
    return e.wants_heat and e.streams.felt.level


def level_low(e: Evidence) -> bool:
    """The same of liquid that the switch had seen: it has left, or a stuck bed keeps it from the element."""
    return e.streams.wet and level_dry(e)


def cut_out(e: Evidence) -> bool:
    """The kettle's own cut-out has acted."""
    return e.streams.felt.cut_out


def foam(e: Evidence) -> bool:
    """Foam stands at the rod; the heat comes back when it has fallen."""
    return e.streams.felt.foam


def stop_pressed(e: Evidence) -> bool:
    """The stop button is down."""
    return e.streams.felt.stop


def board_restarts(e: Evidence) -> bool:
    """The board began anew three times in ten minutes."""
    return len(e.by_board.boots_s) >= BOOTS_LATCH and e.now_s - e.by_board.boots_s[-BOOTS_LATCH] <= BOOTS_WITHIN_S


def boil_dry(e: Evidence) -> bool:
    """Boiled down nearly to the element, by what was confirmed and the energy since."""
    return e.kind is StepKind.BOIL and e.volume_l is not None and e.volume_l < BOIL_COVER * e.cover_l


def nobody_there(e: Evidence) -> bool:
    """Heating for somebody who is not there yet: water alone, and no pump, whose hose could come off."""
    return e.unattended and e.wants_pump


INTERLOCKS: tuple[Interlock, ...] = (
    Interlock(promise=26, code="not_running", where=in_hands, when=not_running, lowers=Lowers.ALL),
    Interlock(promise=25, code="drawing_off", where=in_hands, when=drawing_off, lowers=Lowers.HEATER),
    Interlock(promise=8, code="stale", where=probe_doubtful, when=stale, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=9, code="bad_streak", where=probe_doubtful, when=bad_streak, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=9, code="mostly_bad", where=probe_doubtful, when=mostly_bad, lowers=Lowers.HEAT, trips=True),
    Interlock(
        promise=20,
        code="over_set_point",
        where=above_target,
        when=over_set_point,
        lowers=Lowers.HEAT,
        for_s=10.0,
        trips=True,
    ),
    Interlock(
        promise=20,
        code="over_limit",
        where=hot,
        when=over_limit,
        lowers=Lowers.HEAT,
        for_s=5.0,
        trips=True,
        in_any_state=True,
    ),
    Interlock(promise=20, code="hot_heating", where=hot, when=hot_heating, lowers=Lowers.HEATER),
    Interlock(promise=22, code="held_for_nobody", where=dragging, when=held_for_nobody, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=22, code="never_there", where=dragging, when=never_there, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=23, code="no_fill", where=little_there, when=no_fill, lowers=Lowers.HEAT),
    Interlock(promise=25, code="hot_pump", where=hot, when=hot_pump, lowers=Lowers.PUMP),
    Interlock(promise=25, code="pump_with_heat", where=pump_wanted, when=pump_with_heat, lowers=Lowers.HEATER),
    Interlock(
        promise=7,
        code="beyond_told",
        where=board_odd,
        when=beyond_told,
        lowers=Lowers.ALL,
        for_s=2.0,
        trips=True,
        in_any_state=True,
    ),
    Interlock(
        promise=7, code="below_told", where=board_odd, when=below_told, lowers=Lowers.ALL, for_s=10.0, trips=True
    ),
    Interlock(promise=6, code="lost_board", where=board_odd, when=lost_board, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=10, code="frozen", where=heat_odd, when=frozen, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=11, code="fell_out", where=readings_apart, when=fell_out, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=12, code="apart", where=readings_apart, when=apart, lowers=Lowers.HEAT, for_s=60.0, trips=True),
    Interlock(promise=16, code="no_heat", where=heat_odd, when=no_heat, lowers=Lowers.HEAT, for_s=15.0, trips=True),
    Interlock(promise=17, code="low_fill", where=heat_odd, when=low_fill, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=18, code="weld", where=heat_odd, when=weld, lowers=Lowers.HEAT, trips=True, in_any_state=True),
    Interlock(
        promise=19,
        code="both_welded",
        where=heat_odd,
        when=both_welded,
        lowers=Lowers.HEAT,
        trips=True,
        in_any_state=True,
    ),
    Interlock(promise=21, code="over_budget", where=heat_odd, when=over_budget, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=24, code="no_flow", where=flow_odd, when=no_flow, lowers=Lowers.ALL, for_s=8.0, trips=True),
    Interlock(promise=24, code="mash_over", where=above_target, when=mash_over, lowers=Lowers.HEATER),
    Interlock(promise=41, code="level_dry", where=input_on, when=level_dry, lowers=Lowers.HEAT),
    Interlock(promise=41, code="level_low", where=input_on, when=level_low, lowers=Lowers.ALL, for_s=3.0, trips=True),
    Interlock(
        promise=41, code="cut_out", where=input_on, when=cut_out, lowers=Lowers.HEAT, trips=True, in_any_state=True
    ),
    Interlock(promise=41, code="foam", where=input_on, when=foam, lowers=Lowers.HEAT),
    Interlock(promise=41, code="stop_pressed", where=input_on, when=stop_pressed, lowers=Lowers.ALL),
    Interlock(promise=43, code="sinking", where=in_hands, when=sinking, lowers=Lowers.HEAT),
    Interlock(promise=48, code="board_restarts", where=board_odd, when=board_restarts, lowers=Lowers.ALL, trips=True),
    Interlock(promise=49, code="hands_in", where=in_hands, when=hands_in, lowers=Lowers.ALL),
    Interlock(
        promise=50, code="stray_flow", where=flow_odd, when=stray_flow, lowers=Lowers.HEAT, for_s=8.0, trips=True
    ),
    Interlock(
        promise=51, code="bed_stuck", where=readings_apart, when=bed_stuck, lowers=Lowers.ALL, for_s=60.0, trips=True
    ),
    Interlock(promise=52, code="boil_dry", where=little_there, when=boil_dry, lowers=Lowers.HEAT, trips=True),
    Interlock(promise=57, code="nobody_there", where=pump_wanted, when=nobody_there, lowers=Lowers.PUMP),
    Interlock(promise=56, code="mash_pump", where=pump_wanted, when=mash_pump, lowers=Lowers.HEATER, given=Lowers.PUMP),
)

Timers = tuple[float | None, ...]
"""For each row, since when (batch time) its predicate has held without a break; None while it does not."""


GROUNDS = tuple(
    (where, tuple((place, row.when) for place, row in enumerate(INTERLOCKS) if row.where is where and not row.given))
    for where in dict.fromkeys(row.where for row in INTERLOCKS)
)
"""Each ground with its rows that need no other: the place in the table, and what is asked."""
GIVEN = tuple(place for place, row in enumerate(INTERLOCKS) if row.given)
"""The rows that do; they come last."""
IDLE_TIMERS: Timers = (None,) * len(INTERLOCKS)
"""No rule holds."""


def apply(
    evidence: Evidence, wants: Outputs, timers: Timers, now_s: float
) -> tuple[Outputs, Timers, tuple[Interlock, ...]]:
    """What is left of `wants`, the timers, and the rows that are acting now, in order."""
    held = [place for where, rows in GROUNDS if where(evidence) for place, when in rows if when(evidence)]
    if not held:
        return wants, IDLE_TIMERS, ()
    since: list[float | None] = [None] * len(INTERLOCKS)
    acting: list[Interlock] = []
    taken = NOTHING
    for place in (*sorted(held), *GIVEN):
        row, before_s = INTERLOCKS[place], timers[place]
        if row.given is not NOTHING and not (row.given & taken and row.when(evidence)):
            continue
        since[place] = began_s = now_s if before_s is None else before_s
        if now_s - began_s >= row.for_s:
            acting.append(row)
            taken |= row.lowers
    return lowered(wants, taken), tuple(since), tuple(acting)
