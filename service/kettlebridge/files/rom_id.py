"""The ROM id of a 1-Wire probe: family, serial number and check byte as 16 hex digits."""

from __future__ import annotations

import re

_SHAPE = re.compile(r"[0-9A-Fa-f]{16}")


def crc8(data: bytes) -> int:
    """CRC-8 of 1-Wire, x^8 + x^5 + x^4 + 1 reflected: Maxim application note 27."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def rom_id_mistake(source: str) -> str | None:
    """What is wrong with a ROM id as written, or None."""
    if not _SHAPE.fullmatch(source):
        return "is no ROM id: 16 hex digits, as the board prints them"
    rom = bytes.fromhex(source)
    if not any(rom) or crc8(rom[:-1]) != rom[-1]:
        return f"is no ROM id: its check byte is {rom[-1]:02X}, the rest gives {crc8(rom[:-1]):02X}; a digit is wrong"
    return None
