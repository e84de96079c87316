"""Where temperatures, relays and inputs stand on a Modbus line: what its modules' manuals say, as a kettle file has it.

Addresses are those on the wire, counted from 0. `unit` is the module's number on the line, 1 to 247.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import BoardInput


class Area(Enum):
    """The four tables of a Modbus module (MODBUS Application Protocol 1.1b3, 4.3)."""

    COILS = "coils"
    DISCRETE_INPUTS = "discrete_inputs"
    HOLDING_REGISTERS = "holding_registers"
    INPUT_REGISTERS = "input_registers"


class Encoding(Enum):
    """What one number looks like in registers of 16 bits, the high byte of each first."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"


class WordOrder(Enum):
    """Which half of a number of 32 bits stands in the lower address. The standard leaves it open."""

    HIGH_FIRST = "high_first"
    LOW_FIRST = "low_first"


class Parity(Enum):
    """The parity bit of each character."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPlace:
    """A temperature: `scale * number + zero_c` in °C, unless the number is one of `open_codes`: the sensor is open."""

    unit: int
    area: Area
    address: int
    encoding: Encoding = Encoding.INT16
    word_order: WordOrder = WordOrder.HIGH_FIRST
    scale: float = 1.0
    zero_c: float = 0.0
    open_codes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedOn:
    """The lease: writing `plus + n` here switches the relay on for `n * step_ms`; then the module drops it by itself.

    The newest writing counts: it replaces the time that is left. `n` goes up to `most_steps`.
    """

    area: Area
    address: int
    step_ms: int
    plus: int = 0
    most_steps: int = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayPlace:
    """A relay. `on` and `off` are what is written, and read back, at `address`: 1 and 0 for a coil."""

    unit: int
    area: Area
    address: int
    on: int = 1
    off: int = 0
    timed_on: TimedOn | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BitPlace:
    """A digital input; `inverted` where the bit is 0 while the thing it tells of is so."""

    unit: int
    area: Area
    address: int
    inverted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusMap:
    """A whole line: how its characters are sent, and what stands where."""

    baud: int = 9600
    parity: Parity = Parity.NONE
    stop_bits: int = 1
    probes: Mapping[ProbeName, RegisterPlace] = field(default_factory=dict)
    relays: Mapping[Output, RelayPlace] = field(default_factory=dict)
    inputs: Mapping[BoardInput, BitPlace] = field(default_factory=dict)
