"""Per mille into bursts: within each window of a second the heater pin is on first, then off.

Lowering acts in mid-window; raising waits for the next one, so that no second holds more than was ever asked of it.
From nothing, a window opens at once.
"""

from __future__ import annotations

WINDOW_MS = 1000
FULL_PERMILLE = 1000


class Burst:
    """The window of one heater pin. `permille` is what is asked."""

    def __init__(self) -> None:
        self.permille = 0
        self._window_start_ms = 0
        self._granted_ms = 0

    def ask(self, permille: int, at_ms: int) -> None:
        """A new demand of 0 to 1000."""
        if self.permille == 0 and permille > 0:
            self._window_start_ms = at_ms
            self._granted_ms = permille
        self._granted_ms = min(self._granted_ms, permille)
        self.permille = permille

    def is_on(self, at_ms: int) -> bool:
        """Whether the pin is to be on."""
        return at_ms - self._window_start_ms < self._granted_ms

    def roll(self, at_ms: int) -> None:
        """Opens the window that `at_ms` lies in."""
        windows = (at_ms - self._window_start_ms) // WINDOW_MS
        if windows > 0 and self.permille > 0:
            self._window_start_ms += windows * WINDOW_MS
            self._granted_ms = self.permille

    def next_edge_ms(self, at_ms: int) -> int | None:
        """When to look again: the end of this burst or of this window. None: nothing is asked."""
        if self.permille == 0:
            return None
        if self.is_on(at_ms) and self._granted_ms < WINDOW_MS:
            return self._window_start_ms + self._granted_ms
        return self._window_start_ms + WINDOW_MS
