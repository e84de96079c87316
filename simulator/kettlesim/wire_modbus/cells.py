"""What stands behind an address: relays with a time of their own, thermometers, switches."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from kettlesim.wire_serial.pins import Pin, Pins

COIL_ON = 0xFF00
COIL_OFF = 0x0000

PATTERNS = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
"""How each encoding is packed."""


class RefusedError(Exception):
    """A module's exception code."""

    def __init__(self, code: int) -> None:
        super().__init__(f"exception {code}")
        self.code = code


BAD_VALUE = 3


class Cell(Protocol):
    """One address."""

    def read(self) -> int:
        """A bit as 0 or 1, or 16 bits of a register. Raises RefusedError."""

    def write(self, value: int, now_ms: int) -> None:
        """A coil takes COIL_ON and COIL_OFF, or what it is made to take. Raises RefusedError."""


class Relay:
    """Drives a pin. `off_ms` is when its time ends; None: it stays as it is."""

    def __init__(self, pins: Pins, pin: Pin) -> None:
        self.off_ms: int | None = None
        self.pin = pin
        self._pins = pins

    @property
    def is_on(self) -> bool:
        """The level of the pin."""
        return self._pins.is_on(self.pin)

    def switch(self, on: bool, now_ms: int) -> None:
        """For good, or until somebody writes again."""
        self.off_ms = None
        self._pins.drive(self.pin, on, now_ms)

    def switch_on_for(self, for_ms: int, now_ms: int) -> None:
        """The newest time counts."""
        self._pins.drive(self.pin, True, now_ms)
        self.off_ms = now_ms + for_ms

    def end(self, now_ms: int) -> None:
        """Its time may have ended by now."""
        if self.off_ms is not None and self.off_ms <= now_ms:
            self.switch(False, self.off_ms)


@dataclass(frozen=True, slots=True)
class Coil:
    """Plain on and off."""

    relay: Relay

    def read(self) -> int:
        """1: on."""
        return int(self.relay.is_on)

    def write(self, value: int, now_ms: int) -> None:
        """COIL_ON or COIL_OFF."""
        if value not in {COIL_ON, COIL_OFF}:
            raise RefusedError(BAD_VALUE)
        self.relay.switch(value == COIL_ON, now_ms)


@dataclass(frozen=True, slots=True)
class SwitchRegister:
    """Plain on and off by the value of a register."""

    relay: Relay
    on: int
    off: int

    def read(self) -> int:
        """One of the two values."""
        return self.on if self.relay.is_on else self.off

    def write(self, value: int, now_ms: int) -> None:
        """One of the two values."""
        if value not in {self.on, self.off}:
            raise RefusedError(BAD_VALUE)
        self.relay.switch(value == self.on, now_ms)


@dataclass(frozen=True, slots=True)
class TimedOn:
    """Writing `plus + n`, n from 1 to `most_steps`, switches on for n steps. For coils and registers alike."""

    relay: Relay
    step_ms: int
    plus: int
    most_steps: int

    def read(self) -> int:
        """1: on."""
        return int(self.relay.is_on)

    def write(self, value: int, now_ms: int) -> None:
        """A number of steps."""
        steps = value - self.plus
        if not 1 <= steps <= self.most_steps:
            raise RefusedError(BAD_VALUE)
        self.relay.switch_on_for(steps * self.step_ms, now_ms)


@dataclass(frozen=True, slots=True)
class Switch:
    """A digital input."""

    is_on: Callable[[], bool]
    inverted: bool = False

    def read(self) -> int:
        """The bit."""
        return int(self.is_on() != self.inverted)

    def write(self, _value: int, _now_ms: int) -> None:
        """An input cannot be written."""
        raise RefusedError(BAD_VALUE)


class Thermometer:
    """One channel of a module: `(reading - zero_c) / scale` in its encoding.

    Faults are plain attributes: `open_code` is sent in place of a number while `is_open`; `stuck_c` hides the truth.
    """

    def __init__(self, read_c: Callable[[], float], encoding: str, scale: float, zero_c: float) -> None:
        self.is_open = False
        self.open_code: int | None = None
        self.stuck_c: float | None = None
        self._read_c = read_c
        self._encoding = encoding
        self._scale = scale
        self._zero_c = zero_c

    @property
    def words(self) -> tuple[int, ...]:
        """Its registers, the high half first."""
        pattern = PATTERNS[self._encoding]
        return struct.unpack(f">{struct.calcsize(pattern) // 2}H", struct.pack(pattern, self._number()))

    def _number(self) -> float | int:
        whole = self._encoding != "float32"
        if self.is_open:
            return math.nan if self.open_code is None else self.open_code
        value_c = self._read_c() if self.stuck_c is None else self.stuck_c
        number = (value_c - self._zero_c) / self._scale
        return round(number) if whole else number


@dataclass(frozen=True, slots=True)
class Word:
    """One register of a thermometer; `index` counts from the high half."""

    thermometer: Thermometer
    index: int

    def read(self) -> int:
        """16 bits."""
        return self.thermometer.words[self.index]

    def write(self, _value: int, _now_ms: int) -> None:
        """A temperature cannot be written."""
        raise RefusedError(BAD_VALUE)
