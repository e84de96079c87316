"""How each kind of value is spelt on the line. Reading and writing raise ValueError for all that has no spelling."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import Enum, Flag
from typing import Any, Generic, Protocol, TypeVar

from kettlebridge.drivers.serial_line.frames import Conversion, Version
from kettlebridge.model.reading import ReadingFault

AnyEnum = TypeVar("AnyEnum", bound=Enum)
AnyFlag = TypeVar("AnyFlag", bound=Flag)

FAULT_SPELLING = {
    ReadingFault.NO_ANSWER: "E1",
    ReadingFault.BAD_CRC: "E2",
    ReadingFault.LINE_SHORT: "E3",
    ReadingFault.LOST_POWER: "E4",
    ReadingFault.NONE_YET: "E5",
    ReadingFault.NOT_A_NUMBER: "nan",
}
_FAULTS = {spelling: fault for fault, spelling in FAULT_SPELLING.items()}

_DIGITS = re.compile(r"[0-9]{1,10}")
_HEX = re.compile(r"[0-9A-F]{1,8}")
_NAME = re.compile(r"[0-9A-Za-z_-]{1,16}")
_DEGREES = re.compile(r"-?[0-9]{1,3}(?:\.[0-9]{1,4})?")
_NOT_A_NUMBER = re.compile(r"[+-]?(?:nan|inf|ovf)", re.IGNORECASE)  # as C libraries print what is no number
_VERSION = re.compile(r"([0-9]{1,3})\.([0-9]{1,3})")


class Value(Protocol):
    """A spelling: `read` and `write` undo each other."""

    def read(self, text: str) -> Any:
        """The value that `text` spells. Raises ValueError."""

    def write(self, value: Any) -> str:
        """The spelling of `value`. Raises ValueError when out of range."""


@dataclass(frozen=True, slots=True)
class Number:
    """A whole number from `low` to `high` in decimal digits, without a sign."""

    low: int
    high: int

    def read(self, text: str) -> int:
        """The number, checked against the range."""
        if _DIGITS.fullmatch(text) is None:
            raise ValueError(text)
        return self._in_range(int(text))

    def write(self, value: int) -> str:
        """Decimal, without leading zeros."""
        return str(self._in_range(value))

    def _in_range(self, value: int) -> int:
        if type(value) is not int or not self.low <= value <= self.high:
            raise ValueError(f"{value!r} is no whole number from {self.low} to {self.high}")
        return value


@dataclass(frozen=True, slots=True)
class Hex:
    """A 32-bit number in upper-case hexadecimal digits; written with all eight, zero as a plain 0 where `bare_zero`."""

    bare_zero: bool = False

    def read(self, text: str) -> int:
        """One to eight digits."""
        if _HEX.fullmatch(text) is None:
            raise ValueError(text)
        return int(text, 16)

    def write(self, value: int) -> str:
        """Eight digits."""
        if not 0 <= value <= 0xFFFFFFFF:
            raise ValueError(f"{value!r} does not fit in 32 bits")
        return "0" if self.bare_zero and value == 0 else f"{value:08X}"


@dataclass(frozen=True, slots=True)
class Bits(Generic[AnyFlag]):
    """Flags as two hexadecimal digits. Bits that have no meaning yet are left out when reading."""

    flags: type[AnyFlag]

    def read(self, text: str) -> AnyFlag:
        """The known flags among those set."""
        if len(text) != 2 or _HEX.fullmatch(text) is None:
            raise ValueError(text)
        known = 0
        for flag in self.flags:
            known |= flag.value
        return self.flags(int(text, 16) & known)

    def write(self, value: AnyFlag) -> str:
        """Two digits."""
        return f"{value.value:02X}"


@dataclass(frozen=True, slots=True)
class Word(Generic[AnyEnum]):
    """One of the words that an enum has for values."""

    words: type[AnyEnum]

    def read(self, text: str) -> AnyEnum:
        """The member spelt so."""
        return self.words(text)

    def write(self, value: AnyEnum) -> str:
        """The member's value."""
        return str(self.words(value).value)


class Switch:
    """Off and on as 0 and 1."""

    def read(self, text: str) -> bool:
        """True for 1, false for 0."""
        if text not in {"0", "1"}:
            raise ValueError(text)
        return text == "1"

    def write(self, value: bool) -> str:
        """A digit."""
        if not isinstance(value, bool):
            raise ValueError(f"{value!r} is neither on nor off")
        return "1" if value else "0"


class Name:
    """An id: 1 to 16 letters, digits, `_` or `-`."""

    def read(self, text: str) -> str:
        """The id itself."""
        if _NAME.fullmatch(text) is None:
            raise ValueError(text)
        return text

    write = read


class VersionNumber:
    """Major and minor number with a point between."""

    def read(self, text: str) -> Version:
        """Both numbers, up to three digits each."""
        found = _VERSION.fullmatch(text)
        if found is None:
            raise ValueError(text)
        return Version(major=int(found[1]), minor=int(found[2]))

    def write(self, value: Version) -> str:
        """Both numbers, even when the minor one is 0."""
        return f"{value.major}.{value.minor}"


class Temperature:
    """Degrees Celsius with up to four decimals, or a fault; then `/` and the age in ms.

    A board whose arithmetic failed prints `nan` or `inf`: that is a fault of this probe, not of the frame.
    """

    _age_ms = Number(0, 0xFFFFFFFF)

    def read(self, text: str) -> Conversion:
        """The temperature or the fault, with its age."""
        what, _, age = text.partition("/")
        age_ms = self._age_ms.read(age)
        if _DEGREES.fullmatch(what) is not None:
            return Conversion(value_c=float(what), age_ms=age_ms)
        if _NOT_A_NUMBER.fullmatch(what) is not None:
            return Conversion(fault=ReadingFault.NOT_A_NUMBER, age_ms=age_ms)
        fault = _FAULTS.get(what)
        if fault is None:
            raise ValueError(text)
        return Conversion(fault=fault, age_ms=age_ms)

    def write(self, value: Conversion) -> str:
        """Four decimals."""
        age = self._age_ms.write(value.age_ms)
        if value.fault is not None:
            return f"{FAULT_SPELLING[value.fault]}/{age}"
        if value.value_c is None or not math.isfinite(value.value_c):
            raise ValueError(f"{value!r} has neither a temperature nor a fault")
        degrees = f"{value.value_c:.4f}"
        if _DEGREES.fullmatch(degrees) is None:
            raise ValueError(f"{value.value_c} °C has more than three digits before the point")
        return f"{degrees}/{age}"
