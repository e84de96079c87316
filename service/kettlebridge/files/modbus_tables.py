"""The tables of a kettle file that say how its probes, relays and inputs are reached over Modbus."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kettlebridge.files.fields import LONG_LINE_WORDS, Line, LongLine, Table, choice, number, switch, table, text
from kettlebridge.model.modbus_map import Encoding, Parity, WordOrder

PLACE_WORDS = "UNIT/AREA/ADDRESS, as 1/input_registers/0"
WRITABLE_PLACE_WORDS = "UNIT/AREA/ADDRESS with coils or holding_registers"
WORD = (0, 65_535)

Baud = Literal[1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200]
Code = Annotated[int, Field(ge=-(2**31), le=2**32 - 1)]


class ModbusTable(Table):
    """`[bridge]` with `kind = "modbus"`."""

    kind: Literal["modbus"] = table("the wire to the board")
    port: LongLine = text(LONG_LINE_WORDS, "device of the serial port; a path under /dev/serial/by-id stays the same")
    baud: Baud = table("speed, the same in every module", default=9600)
    parity: Parity = choice("of each character, the same in every module", default=Parity.NONE)
    stop_bits: Literal[1, 2] = table("of each character, the same in every module", default=1)


class ModbusProbeTable(Table):
    """`[probe.NAME.modbus]`: °C = scale × number + zero_c."""

    encoding: Encoding = choice("how the number is written; 32 bits take two registers", default=Encoding.INT16)
    word_order: WordOrder = choice("of 32 bits, which half has the lower address", default=WordOrder.HIGH_FIRST)
    scale: float = number("", 0.0001, 10, "how many °C each 1 in the register is", default=1.0)
    zero_c: float = number("°C", -300, 100, "the temperature that 0 in the register is", default=0.0)
    open_codes: list[Code] = text(
        "at most 4 whole numbers", "what the module writes when it finds no sensor", default=[], max_length=4
    )


class ModbusRelayTable(Table):
    """`[relay.NAME.modbus]`."""

    place: Line = text(WRITABLE_PLACE_WORDS, "where it is switched on and off, and read back")
    on: int = number("", *WORD, "what a register holds while it is on; a coil has 1", default=1)
    off: int = number("", *WORD, "and while it is off; a coil has 0", default=0)
    timed_on: Line | None = text(
        WRITABLE_PLACE_WORDS,
        "where writing a number switches it on for that many steps, after which the module itself switches it off; "
        "a pump may lack it",
        default=None,
    )
    step_ms: int | None = number("ms", 1, 1000, "how long a step is", default=None)
    plus: int = number("", *WORD, "added to the number of steps", default=0)
    most_steps: int = number("", 1, 65_535, "the longest time it takes", default=255)


class ModbusInputTable(Table):
    """`[input.NAME.modbus]`."""

    place: Line = text("UNIT/AREA/ADDRESS with coils or discrete_inputs", "where it is read")
    inverted: bool = switch("the bit is 0 while it is so", default=False)
