"""Registers as temperatures. Pure."""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass

from kettlebridge.model.modbus_map import Encoding, RegisterPlace, WordOrder
from kettlebridge.model.reading import ReadingFault


@dataclass(frozen=True, slots=True)
class Shape:
    """How many registers a number takes, and how `struct` reads them."""

    registers: int
    pattern: str


SHAPES = {
    Encoding.INT16: Shape(1, ">h"),
    Encoding.UINT16: Shape(1, ">H"),
    Encoding.INT32: Shape(2, ">i"),
    Encoding.UINT32: Shape(2, ">I"),
    Encoding.FLOAT32: Shape(2, ">f"),
}


def temperature_c(place: RegisterPlace, registers: Sequence[int]) -> float | ReadingFault:
    """The temperature that `registers` hold, as many of them as the encoding takes; or why there is none."""
    ordered = registers if place.word_order is WordOrder.HIGH_FIRST else tuple(reversed(registers))
    data = struct.pack(f">{len(ordered)}H", *ordered)
    (number,) = struct.unpack(SHAPES[place.encoding].pattern, data)
    if number in place.open_codes:
        return ReadingFault.SENSOR_OPEN
    if not math.isfinite(number):
        return ReadingFault.NOT_A_NUMBER
    return float(number * place.scale + place.zero_c)
