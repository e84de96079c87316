"""What a board switches, and in which order: heater, then pump, then main contactor."""

from __future__ import annotations

from kettlesim.wire_serial.burst import FULL_PERMILLE, Burst
from kettlesim.wire_serial.pins import Pin, Pins


class Outputs:
    """The pins and the burst that drives the heater's. All off at the start.

    `edge_ms` is when the heater's pin must be looked at again; None: it stays as it is.
    """

    def __init__(self) -> None:
        self.pins = Pins()
        self.edge_ms: int | None = None
        self._burst = Burst()
        self._contactor_since_ms: int | None = None

    def apply(self, *, heater_permille: int, pump: bool, contactor: bool, at_ms: int) -> None:
        """An accepted demand."""
        self._heat(heater_permille, at_ms)
        self.pins.drive(Pin.PUMP, pump, at_ms)
        self._close(contactor, at_ms)

    def trip(self, at_ms: int) -> None:
        """Heater and main contactor off; the pump may go on."""
        self._heat(0, at_ms)
        self._close(False, at_ms)

    def all_off(self, at_ms: int) -> None:
        """Everything off."""
        self.apply(heater_permille=0, pump=False, contactor=False, at_ms=at_ms)

    def edge(self, at_ms: int) -> None:
        """Switches the heater's pin as its window wants it at `edge_ms`."""
        self._burst.roll(at_ms)
        self._drive(at_ms)

    def contactor_on_for_ms(self, at_ms: int) -> int:
        """How long the main contactor has been asked for; 0: it is not."""
        return 0 if self._contactor_since_ms is None else at_ms - self._contactor_since_ms

    def heats_without_contactor(self) -> bool:
        """A weld test: heat is asked for, the main contactor is not."""
        return self._burst.permille > 0 and self._contactor_since_ms is None

    def heater_permille(self) -> int:
        """What the heater's pin gives: as asked, or what a stuck pin makes of it."""
        stuck = self.pins.stuck(Pin.HEATER)
        return self._burst.permille if stuck is None else FULL_PERMILLE * stuck

    def _heat(self, permille: int, at_ms: int) -> None:
        self._burst.ask(permille, at_ms)
        self._drive(at_ms)

    def _drive(self, at_ms: int) -> None:
        self.pins.drive(Pin.HEATER, self._burst.is_on(at_ms), at_ms)
        self.edge_ms = self._burst.next_edge_ms(at_ms)

    def _close(self, contactor: bool, at_ms: int) -> None:
        if not contactor:
            self._contactor_since_ms = None
        elif self._contactor_since_ms is None:
            self._contactor_since_ms = at_ms
        self.pins.drive(Pin.CONTACTOR, contactor, at_ms)
