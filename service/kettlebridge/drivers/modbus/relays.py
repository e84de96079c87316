"""What is written to relays, and what their read-back means. Pure: time is an argument.

The law: a relay that has a lease is only ever switched on for a time, and that time ends when the lease of the demand
ends, counted from the report that the demand follows from. Nothing here switches anything on without a demand.
"""

from __future__ import annotations

from kettlebridge.drivers.modbus.codec import COIL_OFF, COIL_ON, Write
from kettlebridge.model.modbus_map import Area, RelayPlace, TimedOn
from kettlebridge.model.units import FULL_PERMILLE

WINDOW_S = 1.0
"""Of a burst: one for each finished tick."""

NEW_WINDOW_AFTER_S = 0.9 * WINDOW_S
"""A tick may come a little early; a tick between times may lower, and raises nothing."""

LONGEST_PAID_S = 2 * WINDOW_S
READ_BACK_SLACK_S = 0.5
"""A relay still on for so long after its time has ended is stuck on, or somebody else's."""

DUST_S = 1e-6


class Relay:
    """One relay. `wanted_permille` is what the last write was for; None before the first."""

    def __init__(self, place: RelayPlace, *, bursts: bool) -> None:
        self.place = place
        self.wanted_permille: int | None = None
        self.read_on: bool | None = None
        self._bursts = bursts
        self._on_since_s = 0.0
        self._on_until_s = 0.0
        self._on_before_s = 0.0
        self._window_s: float | None = None
        self._granted_s = 0.0
        self._owed_s = 0.0

    def write(self, permille: int, until_s: float, now_s: float) -> Write | None:
        """What to write now for `permille`, leased until `until_s`. None: it is, or will be by itself, as wanted.

        Raises ValueError for a per mille that this relay cannot do: a bug.
        """
        before, self.wanted_permille = self.wanted_permille, permille
        timed = self.place.timed_on
        if permille in {0, FULL_PERMILLE}:
            self._window_s, self._owed_s = None, 0.0
        if permille == 0:
            self._on_for(0.0, now_s)
            return self._plain(on=False) if before != 0 or self.read_on is not False else None
        if timed is None:
            if permille != FULL_PERMILLE:
                raise ValueError(f"{permille} per mille of a relay that is only off or on")
            return self._plain(on=True) if self.read_on is not True or before != permille else None
        if permille == FULL_PERMILLE:
            return self._for_steps(timed, until_s - now_s, now_s)
        if not self._bursts:
            raise ValueError(f"{permille} per mille of a relay without bursts")
        return self._burst(timed, permille, until_s, now_s)

    def off(self, now_s: float) -> Write:
        """Switches it off."""
        self.wanted_permille = 0
        self._window_s, self._owed_s = None, 0.0
        self._on_for(0.0, now_s)
        return self._plain(on=False)

    def reported_permille(self, now_s: float) -> int:
        """What the relay does, by its read-back: within a burst it may be either."""
        wanted = self.wanted_permille or 0
        if 0 < wanted < FULL_PERMILLE:
            stuck = self.read_on is True and now_s > self._on_until_s + READ_BACK_SLACK_S
            return FULL_PERMILLE if stuck else wanted
        return FULL_PERMILLE if self.read_on else 0

    def lease_left_s(self, now_s: float) -> float | None:
        """None: it has no lease, or is off."""
        left_s = self._on_until_s - now_s
        return left_s if self.place.timed_on is not None and left_s > 0 else None

    def on_s(self, now_s: float) -> float:
        """For how long, in all, writes have switched it on; of a relay with a lease."""
        return self._on_before_s + max(0.0, min(now_s, self._on_until_s) - self._on_since_s)

    def says_on(self, value: int) -> bool:
        """What a read-back of `value` means. A register that holds neither value is not off."""
        return value != (0 if self.place.area is Area.COILS else self.place.off)

    def _burst(self, timed: TimedOn, permille: int, until_s: float, now_s: float) -> Write | None:
        share = permille / FULL_PERMILLE
        elapsed_s = WINDOW_S if self._window_s is None else now_s - self._window_s
        if elapsed_s < NEW_WINDOW_AFTER_S:
            return self._lowered(timed, share - elapsed_s, now_s) if share < self._granted_s else None
        due_s = self._owed_s + share * min(elapsed_s, LONGEST_PAID_S)
        left_s = min(until_s - now_s, WINDOW_S)
        step_s = timed.step_ms / 1000
        granted_s = int(min(due_s, left_s) / step_s + DUST_S) * step_s
        self._window_s, self._granted_s = now_s, granted_s
        self._owed_s = min(due_s - granted_s, step_s)
        if granted_s > 0:
            return self._for_steps(timed, granted_s, now_s)
        return self._end_now(now_s)

    def _lowered(self, timed: TimedOn, left_s: float, now_s: float) -> Write | None:
        """In mid-window: what is left of the smaller burst."""
        self._granted_s = max(0.0, self._granted_s - (self._on_until_s - now_s) + max(0.0, left_s))
        if now_s >= self._on_until_s:
            return None
        return self._for_steps(timed, max(0.0, left_s), now_s)

    def _for_steps(self, timed: TimedOn, for_s: float, now_s: float) -> Write:
        """On for at most `for_s`, in whole steps; off where not one is left."""
        steps = min(int(for_s * 1000 / timed.step_ms + DUST_S), timed.most_steps)
        self._on_for(max(0, steps) * timed.step_ms / 1000, now_s)
        if steps < 1:
            return self._plain(on=False)
        return Write(unit=self.place.unit, area=timed.area, address=timed.address, value=timed.plus + steps)

    def _end_now(self, now_s: float) -> Write | None:
        if now_s >= self._on_until_s:
            return None
        self._on_for(0.0, now_s)
        return self._plain(on=False)

    def _on_for(self, for_s: float, now_s: float) -> None:
        self._on_before_s = self.on_s(now_s)
        self._on_since_s, self._on_until_s = now_s, now_s + for_s

    def _plain(self, *, on: bool) -> Write:
        place = self.place
        values = (COIL_OFF, COIL_ON) if place.area is Area.COILS else (place.off, place.on)
        return Write(unit=place.unit, area=place.area, address=place.address, value=values[on])
