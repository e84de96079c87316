"""Requests and answers as bytes of Modbus RTU, without I/O. The frames and their CRC are pymodbus's work.

What is checked beyond the CRC: unit, function, size, and the address of a write. An answer of RTU carries no number,
so two reads of the same function and size cannot be told apart: whoever asks must not ask again before the line is
quiet.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from pymodbus.exceptions import ModbusException
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ExceptionResponse, ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest, WriteSingleCoilRequest
from pymodbus.pdu.other_message import ReportDeviceIdRequest, ReportDeviceIdResponse
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteSingleRegisterRequest,
)

from kettlebridge.model.modbus_map import Area

COIL_ON = 0xFF00
COIL_OFF = 0x0000
MOST_BITS = 2000
MOST_REGISTERS = 125


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """`count` bits or registers of `area`, from `address` on. Answered with their values."""

    unit: int
    area: Area
    address: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Write:
    """One coil or register. A coil's `value` is COIL_ON, COIL_OFF, or what a timed-on coil makes of it."""

    unit: int
    area: Area
    address: int
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WhoAreYou:
    """Report Server ID (function 17). Answered with the bytes of the id."""

    unit: int


Request = Read | Write | WhoAreYou
Answer = tuple[int, ...]


class TroubleKind(Enum):
    """Why a request brought no values."""

    SILENT = "silent"
    GARBLED = "garbled"
    REFUSED = "refused"


EXCEPTION_WORDS = {
    1: "illegal function",
    2: "illegal data address",
    3: "illegal data value",
    4: "device failure",
    5: "accepted, not done yet",
    6: "device busy",
    8: "memory parity error",
    10: "gateway: no path",
    11: "gateway: the module does not answer",
}
"""MODBUS Application Protocol 1.1b3, section 7."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """`code` is the module's exception where it refused, else 0."""

    kind: TroubleKind
    code: int = 0

    def __str__(self) -> str:
        if self.kind is TroubleKind.REFUSED:
            return f"refuses with exception {self.code} ({EXCEPTION_WORDS.get(self.code, 'unknown')})"
        return {TroubleKind.SILENT: "does not answer", TroubleKind.GARBLED: "answers with damaged frames"}[self.kind]


GARBLED = Trouble(kind=TroubleKind.GARBLED)
SILENT = Trouble(kind=TroubleKind.SILENT)


class _RawCoilRequest(WriteSingleCoilRequest):
    """pymodbus's own knows only on and off; a timed-on coil takes a number."""

    def __init__(self, dev_id: int, address: int, value: int) -> None:
        super().__init__(dev_id=dev_id, address=address)
        self._value = value

    def encode(self) -> bytes:
        return struct.pack(">HH", self.address, self._value)


_READS: dict[Area, type[ModbusPDU]] = {
    Area.COILS: ReadCoilsRequest,
    Area.DISCRETE_INPUTS: ReadDiscreteInputsRequest,
    Area.HOLDING_REGISTERS: ReadHoldingRegistersRequest,
    Area.INPUT_REGISTERS: ReadInputRegistersRequest,
}
BIT_AREAS = frozenset({Area.COILS, Area.DISCRETE_INPUTS})


def _write_coil(request: Write) -> ModbusPDU:
    return _RawCoilRequest(request.unit, request.address, request.value)


def _write_register(request: Write) -> ModbusPDU:
    return WriteSingleRegisterRequest(dev_id=request.unit, address=request.address, registers=[request.value])


_WRITES: dict[Area, Callable[[Write], ModbusPDU]] = {
    Area.COILS: _write_coil,
    Area.HOLDING_REGISTERS: _write_register,
}


def _pdu(request: Request) -> ModbusPDU:
    match request:
        case Read():
            return _READS[request.area](dev_id=request.unit, address=request.address, count=request.count)
        case Write():
            return _WRITES[request.area](request)
        case WhoAreYou():
            return ReportDeviceIdRequest(dev_id=request.unit)


class Codec:
    """One direction each way: requests out, answers in."""

    def __init__(self) -> None:
        self._framer = FramerRTU(DecodePDU(is_server=False))

    def encode(self, request: Request) -> bytes:
        """The whole frame. Raises ValueError for an area that cannot be written, or a number out of range."""
        if isinstance(request, Write) and request.area not in _WRITES:
            raise ValueError(f"{request.area.value} cannot be written")
        try:
            return self._framer.buildFrame(_pdu(request))
        except struct.error as error:
            raise ValueError(f"{request!r} does not fit into a frame") from error

    def decode(self, request: Request, data: bytes) -> Answer | Trouble | None:
        """What `data`, all that came since `request` went out, says to it. None: there is more to come."""
        try:
            used, pdu = self._framer.handleFrame(data, 0, 0)
        except ModbusException:
            return GARBLED
        if pdu is None:
            return GARBLED if used else None
        if pdu.dev_id != request.unit or pdu.function_code & 0x7F != _function(request):
            return GARBLED
        if isinstance(pdu, ExceptionResponse):
            return Trouble(kind=TroubleKind.REFUSED, code=pdu.exception_code)
        return _answer(request, pdu)


def _function(request: Request) -> int:
    return _pdu(request).function_code


def _answer(request: Request, pdu: ModbusPDU) -> Answer | Trouble:
    match request:
        case Write():
            return () if pdu.address == request.address else GARBLED
        case WhoAreYou():
            return tuple(pdu.identifier) if isinstance(pdu, ReportDeviceIdResponse) else GARBLED
        case Read(area=area, count=count) if area in BIT_AREAS:
            fits = len(pdu.bits) == 8 * ((count + 7) // 8)
            return tuple(int(bit) for bit in pdu.bits[:count]) if fits else GARBLED
        case Read(count=count):
            return tuple(pdu.registers) if len(pdu.registers) == count else GARBLED
