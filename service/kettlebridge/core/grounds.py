"""The grounds that interlocks stand on: situations that can be told at a glance, each of several rules.

A rule is asked only on its ground, so a ground must hold wherever one of its rules does: a test tries them all.
"""

from __future__ import annotations

from kettlebridge.core.evidence import Evidence
from kettlebridge.core.heat_watch import MIXES_C
from kettlebridge.model.batch_state import BatchState

RUNNING = BatchState.RUNNING
HOT_FROM_C = 80.0
"""Below, no hose and no step is in danger; the kettle's own limit may be lower."""
APART_FROM_C = 2.0
"""Less is noise and mixing; below what any of its rules acts on, so that each stands on its own figure."""
LITTLE_COVER = 1.2
"""Of the litres that cover the element: below, there is little."""


def probe_doubtful(e: Evidence) -> bool:
    """The control probe is late, or gave a bad reading of late."""
    return e.stale_s > e.stale_after_s or e.bad_streak > 0 or e.mostly_bad


def hot(e: Evidence) -> bool:
    """Hotter than what any hose or step is made for without a word of the brewer's, or than the limit."""
    return e.control_c is not None and (e.control_c > HOT_FROM_C or e.control_c > e.limit_c)


def above_target(e: Evidence) -> bool:
    """Above the set-point at all."""
    return e.over_c is not None and e.over_c > 0.0


def heat_odd(e: Evidence) -> bool:
    """What the probe says does not fit the heat that was given."""
    return e.warmth.watch.found or e.warmth.risen_c >= MIXES_C


def readings_apart(e: Evidence) -> bool:
    """A reading that fell, or parts from another one, by more than noise and mixing explain."""
    return e.warmth.fallen_c > APART_FROM_C or e.apart_c > APART_FROM_C or e.streams.bed_lag_c > APART_FROM_C


def dragging(e: Evidence) -> bool:
    """A stage that may be held for so long only, or lasts twice its time."""
    return e.stayed.hold_limit_s is not None or e.stayed.overdue_s > 0.0


def little_there(e: Evidence) -> bool:
    """Nothing confirmed, or little over the element."""
    return e.volume_l is None or e.volume_l < LITTLE_COVER * e.cover_l


def pump_wanted(e: Evidence) -> bool:
    """The stage wants the pump."""
    return e.wants_pump


def flow_odd(e: Evidence) -> bool:
    """The flow switch does not say what the pump was told."""
    return e.streams.flow_wanted or e.streams.flow_stray


def input_on(e: Evidence) -> bool:
    """One of the board's inputs that take something down is on."""
    _, level, _, foams, cut, stop = e.streams.felt
    return level or foams or cut or stop


def board_odd(e: Evidence) -> bool:
    """The board is not as it was told, is away, or began anew."""
    return e.by_board.beyond_told or e.by_board.below_told or bool(e.by_board.boots_s) or e.unlinked_s > 0.0


def in_hands(e: Evidence) -> bool:
    """It is not the stage alone that decides: no batch runs, or somebody is at work in the kettle."""
    return e.hands_in or e.sinking or e.moves.drawing_off or e.batch is not RUNNING
