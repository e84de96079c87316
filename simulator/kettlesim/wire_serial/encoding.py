"""The board's side of the serial wire: bytes to host frames, board frames to bytes.

`@seq SP kind (SP key=value)* *CRC CR LF`, printable ASCII, CRC-16/CCITT-FALSE over the bytes between `@` and `*`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

HOST_FRAME_LIMIT = 80
UINT32_RANGE = 1 << 32
UINT16_RANGE = 1 << 16

_START = ord("@")
_CR = ord("\r")
_LF = ord("\n")
_PRINTABLE = range(0x20, 0x7F)

_DECIMAL = re.compile(r"[0-9]{1,10}")
_HEX32 = re.compile(r"[0-9A-F]{1,8}")
_VERSION = re.compile(r"([0-9]{1,3})(?:\.[0-9]{1,3})?")
_SEQ = re.compile(r"[0-9]{1,5}")


def _crc_table() -> tuple[int, ...]:
    """One remainder per byte value of the polynomial 0x1021, most significant bit first."""
    table = []
    for byte in range(256):
        remainder = byte << 8
        for _ in range(8):
            remainder = (remainder << 1) ^ (0x1021 if remainder & 0x8000 else 0)
        table.append(remainder & 0xFFFF)
    return tuple(table)


_CRC_TABLE = _crc_table()


def crc16(data: bytes) -> int:
    """CRC-16/CCITT-FALSE: polynomial 0x1021, initial value 0xFFFF, nothing reflected; of b"123456789" it is 0x29B1."""
    crc = 0xFFFF
    for byte in data:
        crc = ((crc << 8) & 0xFF00) ^ _CRC_TABLE[(crc >> 8) ^ byte]
    return crc


def encode(seq: int, kind: str, pairs: Iterable[tuple[str, str]] = ()) -> bytes:
    """A whole frame, ready for the wire."""
    text = " ".join((f"{seq} {kind}", *(f"{key}={value}" for key, value in pairs))).encode("ascii")
    return b"@%b*%04X\r\n" % (text, crc16(text))


def _decimal(text: str) -> int | None:
    if _DECIMAL.fullmatch(text) is None:
        return None
    number = int(text)
    return number if number < UINT32_RANGE else None


def _hex32(text: str) -> int | None:
    return int(text, 16) if _HEX32.fullmatch(text) else None


def _major(text: str) -> int | None:
    match = _VERSION.fullmatch(text)
    return int(match[1]) if match else None


# Every frame that a board obeys: its keys, all of them required, and how each value reads (None: malformed).
HOST_FRAMES: Mapping[str, Mapping[str, Callable[[str], int | None]]] = {
    "Q": {"v": _major},
    "X": {},
    "C": {"v": _major, "boot": _hex32},
    "O": {
        "s": _hex32,
        "e": _decimal,
        "ttl": _decimal,
        "h": _decimal,
        "p": _decimal,
        "k": _decimal,
        "z": _decimal,
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HostFrame:
    """A frame whose checksum held. `values` is None when a key is missing, doubled, unknown or malformed."""

    seq: int
    kind: str
    values: Mapping[str, int] | None


def decode(frame: bytes) -> HostFrame | None:
    """Reads what stood between `@` and CR LF. None: a bad checksum, or nothing that a board could answer.

    An all-off is obeyed whatever else the frame says, so `X` has values even if its number or its keys are wrong.
    """
    text, star, crc = frame.rpartition(b"*")
    if not star or b"*" in text or crc != b"%04X" % crc16(text):
        return None
    seq_text, _, rest = text.decode("ascii").partition(" ")
    kind, *pairs = rest.split(" ")
    seq = int(seq_text) if _SEQ.fullmatch(seq_text) else UINT16_RANGE
    if kind == "X":
        return HostFrame(seq=seq % UINT16_RANGE, kind=kind, values={})
    if kind not in HOST_FRAMES or seq >= UINT16_RANGE:
        return None
    return HostFrame(seq=seq, kind=kind, values=_values(HOST_FRAMES[kind], pairs))


def _values(keys: Mapping[str, Callable[[str], int | None]], pairs: list[str]) -> Mapping[str, int] | None:
    """Exactly the required keys, each once and well formed; otherwise None."""
    values: dict[str, int] = {}
    for pair in pairs:
        key, _, text = pair.partition("=")
        value = keys[key](text) if key in keys and key not in values else None
        if value is None:
            return None
        values[key] = value
    return values if len(values) == len(keys) else None


class FrameReader:
    """Finds host frames in a stream. A new `@` restarts the frame; one too long or not printable is dropped whole."""

    def __init__(self, limit: int = HOST_FRAME_LIMIT) -> None:
        self.dropped = 0
        self._limit = limit
        self._partial: bytearray | None = None

    def feed(self, data: bytes) -> Iterator[bytes]:
        """What stands between `@` and CR LF, for each frame that these bytes complete."""
        for byte in data:
            if byte == _START:
                self.dropped += self._partial is not None
                self._partial = bytearray()
            elif self._partial is not None:
                whole = self._take(self._partial, byte)
                if whole is not None:
                    yield whole

    def _take(self, partial: bytearray, byte: int) -> bytes | None:
        ended = bool(partial) and partial[-1] == _CR
        if ended and byte == _LF:
            self._partial = None
            return bytes(partial[:-1])
        # The limit counts `@` and the line feed too, which are not kept.
        if ended or (byte not in _PRINTABLE and byte != _CR) or len(partial) + 2 >= self._limit:
            self._partial = None
            self.dropped += 1
            return None
        partial.append(byte)
        return None
