"""Modbus RTU from a module's side (MODBUS over Serial Line 1.02, 2.5.1): address, function, data, CRC.

A frame is whatever comes between two silences, so nothing here has to know how long a request is.
"""

from __future__ import annotations

from dataclasses import dataclass

_CRC_BYTES = 2
_SHORTEST = 4
_POLYNOMIAL = 0xA001
EXCEPTION_BIT = 0x80


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A frame whose CRC was right."""

    unit: int
    function: int
    data: bytes


def crc16(data: bytes) -> int:
    """CRC-16 of Modbus, bit by bit; it is sent low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ _POLYNOMIAL if crc & 1 else crc >> 1
    return crc


def sealed(body: bytes) -> bytes:
    """The body with its CRC."""
    return body + crc16(body).to_bytes(_CRC_BYTES, "little")


def heard(chunk: bytes) -> Request | None:
    """The request in what came between two silences; None: nobody on the line can read it."""
    if len(chunk) < _SHORTEST or sealed(chunk[:-_CRC_BYTES]) != chunk:
        return None
    return Request(unit=chunk[0], function=chunk[1], data=chunk[2:-_CRC_BYTES])
