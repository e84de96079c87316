"""One module on the line: its tables of cells, and its answer to a request (MODBUS Application Protocol 1.1b3)."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from kettlesim.wire_modbus.cells import BAD_VALUE, COIL_OFF, COIL_ON, Cell, RefusedError
from kettlesim.wire_modbus.frames import EXCEPTION_BIT, Request, sealed

BAD_FUNCTION = 1
BAD_ADDRESS = 2
SERVER_ID = b"kettlesim"
_RUNNING = b"\xff"
_MOST_BITS = 2000
_MOST_REGISTERS = 125


class Table(Enum):
    """The four tables."""

    COILS = "coils"
    DISCRETE_INPUTS = "discrete_inputs"
    HOLDING_REGISTERS = "holding_registers"
    INPUT_REGISTERS = "input_registers"


class Module:
    """`cells` is what it has. Faults are plain attributes: `silent`, and `refuses`, the exception it gives to all."""

    def __init__(self, unit: int) -> None:
        self.unit = unit
        self.cells: dict[tuple[Table, int], Cell] = {}
        self.silent = False
        self.refuses: int | None = None
        self.requests = 0
        self._functions: dict[int, Callable[[bytes, int], bytes]] = {
            1: lambda data, _: self._bits(Table.COILS, data),
            2: lambda data, _: self._bits(Table.DISCRETE_INPUTS, data),
            3: lambda data, _: self._registers(Table.HOLDING_REGISTERS, data),
            4: lambda data, _: self._registers(Table.INPUT_REGISTERS, data),
            5: lambda data, now_ms: self._write_one(Table.COILS, data, now_ms),
            6: lambda data, now_ms: self._write_one(Table.HOLDING_REGISTERS, data, now_ms),
            15: self._write_coils,
            16: self._write_registers,
            17: lambda _data, _: bytes([len(SERVER_ID) + 1]) + SERVER_ID + _RUNNING,
        }

    def answer(self, request: Request, now_ms: int) -> bytes | None:
        """The whole frame; None: it stays silent."""
        self.requests += 1
        if self.silent:
            return None
        head = bytes([self.unit, request.function])
        try:
            return sealed(head + self._done(request, now_ms))
        except RefusedError as refused:
            return sealed(bytes([self.unit, request.function | EXCEPTION_BIT, refused.code]))

    def _done(self, request: Request, now_ms: int) -> bytes:
        if self.refuses is not None:
            raise RefusedError(self.refuses)
        does = self._functions.get(request.function)
        if does is None:
            raise RefusedError(BAD_FUNCTION)
        return does(request.data, now_ms)

    def _cells(self, table: Table, data: bytes, most: int) -> list[Cell]:
        """Those from the address that `data` begins with, as many as it then says."""
        address, count = _two(data)
        if not 1 <= count <= most:
            raise RefusedError(BAD_VALUE)
        try:
            return [self.cells[table, address + index] for index in range(count)]
        except KeyError:
            raise RefusedError(BAD_ADDRESS) from None

    def _bits(self, table: Table, data: bytes) -> bytes:
        bits = [cell.read() for cell in self._cells(table, data, _MOST_BITS)]
        packed = bytearray((len(bits) + 7) // 8)
        for index, bit in enumerate(bits):
            packed[index // 8] |= bit << index % 8
        return bytes([len(packed)]) + packed

    def _registers(self, table: Table, data: bytes) -> bytes:
        words = [cell.read().to_bytes(2, "big") for cell in self._cells(table, data, _MOST_REGISTERS)]
        return bytes([2 * len(words)]) + b"".join(words)

    def _write_one(self, table: Table, data: bytes, now_ms: int) -> bytes:
        """Answered with itself."""
        address, value = _two(data)
        cell = self.cells.get((table, address))
        if cell is None:
            raise RefusedError(BAD_ADDRESS)
        cell.write(value, now_ms)
        return data

    def _write_coils(self, data: bytes, now_ms: int) -> bytes:
        cells, packed = self._cells(Table.COILS, data, _MOST_BITS), data[5:]
        if len(packed) != (len(cells) + 7) // 8:
            raise RefusedError(BAD_VALUE)
        for index, cell in enumerate(cells):
            on = packed[index // 8] >> index % 8 & 1
            cell.write(COIL_ON if on else COIL_OFF, now_ms)
        return data[:4]

    def _write_registers(self, data: bytes, now_ms: int) -> bytes:
        cells, packed = self._cells(Table.HOLDING_REGISTERS, data, _MOST_REGISTERS), data[5:]
        if len(packed) != 2 * len(cells):
            raise RefusedError(BAD_VALUE)
        for index, cell in enumerate(cells):
            cell.write(int.from_bytes(packed[2 * index : 2 * index + 2], "big"), now_ms)
        return data[:4]


def _two(data: bytes) -> tuple[int, int]:
    if len(data) < 4:
        raise RefusedError(BAD_VALUE)
    return int.from_bytes(data[:2], "big"), int.from_bytes(data[2:4], "big")
