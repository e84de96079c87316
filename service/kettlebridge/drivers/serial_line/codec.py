"""Bytes to frames and back, without any I/O. One row of KINDS describes a kind of frame.

A frame is `@seq kind key=value ...*CRC` and a line end. On a bad line anything may arrive: bytes missing, doubled,
flipped or left over from a reset. The decoder then gives fewer frames, never an exception and never a guess.
"""

from __future__ import annotations

import re
from binascii import crc_hqx
from dataclasses import dataclass
from typing import Any

from kettlebridge.drivers.serial_line import frames
from kettlebridge.drivers.serial_line.frames import Frame, Heard
from kettlebridge.drivers.serial_line.values import (
    Bits,
    Hex,
    Name,
    Number,
    Switch,
    Temperature,
    Value,
    VersionNumber,
    Word,
)
from kettlebridge.model.reading import BoardInput

CRC_START = 0xFFFF
PROBE_KEYS = tuple(f"t{index}" for index in range(8))
TTL_RANGE_MS = (200, 5000)

_SEQ = Number(0, 0xFFFF)
_UINT32 = Number(0, 0xFFFFFFFF)
_PERMILLE = Number(0, 1000)
_TTL_MS = Number(*TTL_RANGE_MS)
_MAJOR = Number(0, 999)
_SESSION = Hex(bare_zero=True)

_MARK = re.compile(rb"[@\n]")
_PRINTABLE = re.compile(rb"[ -~]*")
_TAIL_LENGTH = len(b"*0000\r")


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a frame, the attribute it fills, and its spelling. One that is not `required` may be None."""

    name: str
    attribute: str
    value: Value
    required: bool = True

    def take(self, texts: dict[str, str]) -> Any:
        """Removes the key from `texts` and reads it."""
        text = texts.pop(self.name, None)
        if text is not None:
            return self.value.read(text)
        if self.required:
            raise ValueError(self.name)
        return None

    def words(self, frame: Frame) -> tuple[str, ...]:
        """The word for the line, none where the attribute may be None and is."""
        value = getattr(frame, self.attribute)
        if value is None and not self.required:
            return ()
        return (f"{self.name}={self.value.write(value)}",)


@dataclass(frozen=True, slots=True)
class ProbeKeys:
    """The keys t0 to t7, any of them, gathered in one attribute as (index, value) pairs in the order of the index."""

    attribute: str
    value: Value

    def take(self, texts: dict[str, str]) -> Any:
        """Removes all of them from `texts` and reads them."""
        return tuple(
            (index, self.value.read(texts.pop(name))) for index, name in enumerate(PROBE_KEYS) if name in texts
        )

    def words(self, frame: Frame) -> tuple[str, ...]:
        """A word for each pair."""
        pairs = getattr(frame, self.attribute)
        if any(not 0 <= index < len(PROBE_KEYS) for index, _ in pairs):
            raise ValueError(f"a probe index beyond 0 to {len(PROBE_KEYS) - 1} in {pairs!r}")
        return tuple(f"{PROBE_KEYS[index]}={self.value.write(value)}" for index, value in pairs)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of frame: its letter, and its keys in the order they are written (they are read in any)."""

    letter: str
    frame: type[Frame]
    keys: tuple[Key | ProbeKeys, ...] = ()


@dataclass(frozen=True, slots=True)
class Direction:
    """All frames that travel one way. `limit_bytes` counts a whole frame from `@` to the line feed."""

    limit_bytes: int
    kinds: tuple[Kind, ...]
    refuses_unknown_keys: bool


FROM_BOARD = Direction(
    limit_bytes=240,
    refuses_unknown_keys=False,
    kinds=(
        Kind(
            "B",
            frames.Board,
            (
                Key("v", "version", VersionNumber()),
                Key("id", "board_id", Name()),
                Key("boot", "boot", Hex()),
                Key("rc", "cause", Word(frames.ResetCause)),
                Key("max", "max_ttl_ms", _TTL_MS),
                Key("cap", "abilities", Bits(frames.Ability)),
            ),
        ),
        Kind("P", frames.ProbeList, (ProbeKeys("roms", Name()),)),
        Kind(
            "T",
            frames.Report,
            (
                Key("up", "up_ms", _UINT32),
                Key("s", "session", _SESSION),
                ProbeKeys("conversions", Temperature()),
                Key("h", "heater_permille", _PERMILLE),
                Key("on", "heater_on_ms", _UINT32),
                Key("p", "pump_on", Switch()),
                Key("k", "contactor_on", Switch()),
                Key("d", "inputs", Bits(BoardInput)),
                Key("l", "lease_left_ms", Number(0, TTL_RANGE_MS[1])),
                Key("n", "dropped_frames", _UINT32),
            ),
        ),
        Kind("A", frames.Accepted, (Key("sid", "session", Hex(), required=False),)),
        Kind("N", frames.Refused, (Key("why", "why", Word(frames.Refusal)),)),
    ),
)

FROM_HOST = Direction(
    limit_bytes=80,
    refuses_unknown_keys=True,
    kinds=(
        Kind("Q", frames.Query, (Key("v", "major", _MAJOR),)),
        Kind("X", frames.Off),
        Kind("C", frames.Claim, (Key("v", "major", _MAJOR), Key("boot", "boot", Hex()))),
        Kind(
            "O",
            frames.Order,
            (
                Key("s", "session", _SESSION),
                Key("e", "acted_on", _UINT32),
                Key("ttl", "ttl_ms", _TTL_MS),
                Key("h", "heater_permille", _PERMILLE),
                Key("p", "pump_on", Switch()),
                Key("k", "contactor_on", Switch()),
                Key("z", "buzzer", Number(0, 9)),
            ),
        ),
    ),
)

_ROWS = {kind.frame: (direction, kind) for direction in (FROM_BOARD, FROM_HOST) for kind in direction.kinds}


def encode(seq: int, frame: Frame) -> bytes:
    """The bytes of `frame`. Raises ValueError for a value out of range or a frame that grows too long: a bug."""
    direction, kind = _ROWS[type(frame)]
    words = [_SEQ.write(seq), kind.letter]
    for key in kind.keys:
        words += key.words(frame)
    body = " ".join(words).encode("ascii")
    line = b"@%b*%04X\r\n" % (body, crc_hqx(body, CRC_START))
    if len(line) > direction.limit_bytes:
        raise ValueError(f"a {kind.letter} frame of {len(line)} bytes; {direction.limit_bytes} fit")
    return line


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """Frames lost on the line since the decoder began: by reason, each counted once."""

    bad_crc: int = 0
    malformed: int = 0
    overlong: int = 0


class Decoder:
    """Feeds on whatever arrives from one direction; keeps at most one unfinished frame."""

    def __init__(self, direction: Direction) -> None:
        self._direction = direction
        self._kinds = {kind.letter: kind for kind in direction.kinds}
        self._partial = bytearray()
        self._in_frame = False
        self._bad_crc = 0
        self._malformed = 0
        self._overlong = 0

    @property
    def damage(self) -> Damage:
        """What was lost so far. Bytes between frames are not counted: a booting board may chatter."""
        return Damage(bad_crc=self._bad_crc, malformed=self._malformed, overlong=self._overlong)

    @property
    def kept_bytes(self) -> int:
        """The size of the unfinished frame, at most the direction's limit."""
        return len(self._partial)

    def feed(self, data: bytes) -> tuple[Heard, ...]:
        """The frames that `data` completes, in order. Takes anything, in pieces of any size, and never raises."""
        heard: list[Heard] = []
        start = 0
        for mark in _MARK.finditer(data):
            self._keep(data[start : mark.start()])
            start = mark.end()
            if mark[0] == b"@":
                self._begin()
            elif self._in_frame:
                self._in_frame = False
                complete = self._complete(bytes(self._partial))
                self._partial.clear()
                if complete is not None:
                    heard.append(complete)
        self._keep(data[start:])
        return tuple(heard)

    def _begin(self) -> None:
        self._malformed += self._in_frame  # the frame before was cut short
        self._in_frame = True
        self._partial.clear()

    def _keep(self, piece: bytes) -> None:
        if not self._in_frame:
            return
        if len(self._partial) + len(piece) + len(b"@\n") > self._direction.limit_bytes:
            self._overlong += 1
            self._in_frame = False
            self._partial.clear()
            return
        self._partial += piece

    def _complete(self, line: bytes) -> Heard | None:
        body, tail = line[:-_TAIL_LENGTH], line[-_TAIL_LENGTH:]
        if len(tail) < _TAIL_LENGTH or tail[:1] != b"*" or tail[-1:] != b"\r":
            self._malformed += 1
            return None
        if tail[1:-1] != b"%04X" % crc_hqx(body, CRC_START):
            self._bad_crc += 1
            return None
        try:
            return self._read(body)
        except ValueError:
            self._malformed += 1
            return None

    def _read(self, body: bytes) -> Heard:
        if _PRINTABLE.fullmatch(body) is None or b"*" in body:
            raise ValueError(body)
        seq_text, _, rest = body.decode("ascii").partition(" ")
        letter, *words = rest.split(" ")
        seq = _SEQ.read(seq_text)
        kind = self._kinds.get(letter)
        if kind is None:
            raise ValueError(letter)
        texts = _texts(words)
        if kind.frame is frames.Board:
            version = VersionNumber().read(texts.get("v", ""))
            if version.major != frames.MAJOR:
                return Heard(seq=seq, frame=frames.ForeignBoard(version=version))
        values: dict[str, Any] = {key.attribute: key.take(texts) for key in kind.keys}
        if texts and self._direction.refuses_unknown_keys:
            raise ValueError(next(iter(texts)))
        return Heard(seq=seq, frame=kind.frame(**values))


def _texts(words: list[str]) -> dict[str, str]:
    texts: dict[str, str] = {}
    for word in words:
        name, _, text = word.partition("=")
        if not name or not text or name in texts:
            raise ValueError(word)
        texts[name] = text
    return texts
