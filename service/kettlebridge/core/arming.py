"""An arming one tick further, and what it demands: core.arming_phases has the law."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.arming_phases import CANCELS, LEASE_MS, PHASES, Shown
from kettlebridge.core.arming_state import Arming, Phase, ended, event
from kettlebridge.core.outputs import ALL_OFF, Outputs
from kettlebridge.model.event import Event
from kettlebridge.model.reading import BoardState


def followed(a: Arming, shown: Shown) -> tuple[Arming, tuple[Event, ...]]:
    """The arming after one more tick."""
    if a.phase is Phase.NOT_ARMED:
        return a, ()
    if a.armed and not shown.concerns:
        return Arming(attempt=a.attempt), ()
    row = PHASES.get(a.phase)
    if shown.control_c is not None and shown.control_c < a.lowest_c:
        a = a._replace(lowest_c=shown.control_c)  # a probe that still comes down must hide no heat
    if a.phase is Phase.DROP and not a.seen_on:
        a = a._replace(seen_on=_seen_on(a, shown.health.board))
    fails = CANCELS if row is None else (*CANCELS, *row.fails)
    reason = next((reason for test, reason in fails if test(a, shown)), None)
    if reason is None and row is not None:
        if row.done(a, shown):
            return _entered(a, row.then, shown), (event(row.then),)
        reason = row.late if shown.now_s - a.begun_s > row.limit_s else None
    if reason is None:
        return a, ()
    after, told = ended(a, reason)
    return after, (told,)


def _seen_on(a: Arming, board: BoardState | None) -> bool:
    """By its pins, or by the count of their time: the lease may be over before the next tick looks."""
    return board is not None and (board.heater_permille > 0 or board.heater_on_ms > a.on_ms)


def _entered(a: Arming, phase: Phase, shown: Shown) -> Arming:
    board = shown.health.board
    return a._replace(
        phase=phase,
        begun_s=shown.now_s,
        lowest_c=a.lowest_c if shown.control_c is None else shown.control_c,
        on_ms=0 if board is None else board.heater_on_ms,
        lease_from_s=shown.reported_s,
        seen_on=False,
    )


class Told(NamedTuple):
    """What an arming asks of the outputs in a tick: None, nothing of its own. Without `renews` nothing is demanded."""

    outputs: Outputs | None = None
    ttl_ms: int | None = None
    renews: bool = True


NOTHING_TOLD = Told()


def told(a: Arming, now_s: float, limit_fraction: float) -> Told:
    """What the phase demands now. Full power is tried only where the circuit grants all of it."""
    row = PHASES.get(a.phase)
    if row is None:
        return NOTHING_TOLD
    if not row.once:
        return Told(row.outputs)
    granted = row.outputs if limit_fraction >= 1.0 else row.outputs._replace(heater_permille=0)
    return Told(granted, LEASE_MS) if a.begun_s == now_s else Told(ALL_OFF, renews=False)
