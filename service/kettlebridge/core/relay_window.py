"""From a duty between 0 and 1 to what a relay can do: one sigma-delta for every relay.

An SSR's bursts are made by the board from per mille (quantum 0 here). A contactor may only be on or off, each for
at least its quantum; what it owes is carried over, so that the mean is the duty. A duty of 0 acts at once. It waits
until it owes half a quantum, which spares its contacts; where short pulses matter more, only until its quantum is over.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.units import FULL_PERMILLE


class Pulses(NamedTuple):
    """A relay is on or off for its quantum at least, and until it owes so many seconds of the other."""

    quantum_s: float
    owes_s: float


BURSTS = Pulses(0.0, 0.0)
SPARING: dict[HeaterDrive, Pulses] = {HeaterDrive.SSR: BURSTS, HeaterDrive.CONTACTOR: Pulses(10.0, 5.0)}
SHORT: dict[HeaterDrive, Pulses] = {HeaterDrive.SSR: BURSTS, HeaterDrive.CONTACTOR: Pulses(10.0, 0.0)}


class Window(NamedTuple):
    """`owed_s` on-seconds are still due; the relay has been `on` (or off) since `since_s`, batch time."""

    on: bool = False
    owed_s: float = 0.0
    since_s: float = -1e9


CLOSED = Window()


def taken_down(window: Window, now_s: float) -> Window:
    """The window of a relay that was switched off by something else: it owes nothing, and its time off counts."""
    if not window.on and not window.owed_s:
        return window
    return Window(on=False, owed_s=0.0, since_s=now_s if window.on else window.since_s)


def switch(window: Window, duty_fraction: float, pulses: Pulses, now_s: float, dt_s: float) -> tuple[Window, int]:
    """The window after `dt_s` and the per mille to demand now."""
    quantum_s, owes_s = pulses
    if quantum_s == 0.0:
        return window, round(duty_fraction * FULL_PERMILLE)
    if duty_fraction <= 0.0:
        return taken_down(window, now_s), 0
    owed_s = window.owed_s + (duty_fraction - (1.0 if window.on else 0.0)) * dt_s
    owed_s = min(max(owed_s, -quantum_s), quantum_s)
    on, since_s = window.on, window.since_s
    if now_s - since_s >= quantum_s:
        turns_on = not on and (owed_s >= owes_s or duty_fraction >= 1.0)
        turns_off = on and duty_fraction < 1.0 and owed_s <= -owes_s
        if turns_on or turns_off:
            on, since_s = not on, now_s
    return Window(on=on, owed_s=owed_s, since_s=since_s), FULL_PERMILLE if on else 0
