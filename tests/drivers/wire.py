"""Frames put together by hand: the tests' own spelling, so that the codec is not checked against itself."""

from __future__ import annotations

from binascii import crc_hqx


def wire(body: str) -> bytes:
    """`body` as a whole frame."""
    return f"@{body}*{crc_hqx(body.encode('latin-1'), 0xFFFF):04X}\r\n".encode("latin-1")
