"""The three outputs of a board, as a voltmeter on the pin would see them."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum


class Pin(Enum):
    """An output. The order is that of switching off."""

    HEATER = "heater"
    PUMP = "pump"
    CONTACTOR = "contactor"


Watch = Callable[[Pin, bool, int], None]
"""Told of every change of a pin: which, whether it is on now, and when on the board's supply clock in ms."""


class Pins:
    """All off at the start. A stuck pin keeps its level whatever it is driven to."""

    def __init__(self, watch: Watch | None = None) -> None:
        self.watch = watch
        self._driven = dict.fromkeys(Pin, False)
        self._stuck: dict[Pin, bool] = {}
        self._is_on = dict.fromkeys(Pin, False)
        self._heater_on_ms = 0
        self._heater_since_ms = 0

    def is_on(self, pin: Pin) -> bool:
        """The level of the pin itself."""
        return self._is_on[pin]

    def stuck(self, pin: Pin) -> bool | None:
        """The level at which the pin is stuck; None: it follows."""
        return self._stuck.get(pin)

    def drive(self, pin: Pin, on: bool, at_ms: int) -> None:
        """What the firmware wants of the pin from `at_ms` on."""
        self._driven[pin] = on
        self._settle(pin, at_ms)

    def stick(self, pin: Pin, level: bool | None, at_ms: int) -> None:
        """A fault: the pin stays at `level`. None mends it."""
        if level is None:
            self._stuck.pop(pin, None)
        else:
            self._stuck[pin] = level
        self._settle(pin, at_ms)

    def heater_on_ms(self, at_ms: int) -> int:
        """How long the heater pin has been on in all, since this board was made."""
        running_ms = at_ms - self._heater_since_ms if self._is_on[Pin.HEATER] else 0
        return self._heater_on_ms + running_ms

    def _settle(self, pin: Pin, at_ms: int) -> None:
        on = self._stuck.get(pin, self._driven[pin])
        if on == self._is_on[pin]:
            return
        if pin is Pin.HEATER:
            self._heater_on_ms = self.heater_on_ms(at_ms)
            self._heater_since_ms = at_ms
        self._is_on[pin] = on
        if self.watch is not None:
            self.watch(pin, on, at_ms)
