"""A board on the bench: a host that says one thing at a time, on a clock turned by hand."""

from __future__ import annotations

import binascii
import re
from collections.abc import Mapping
from dataclasses import dataclass

from kettlesim.wire_serial.board import VirtualBoard
from kettlesim.wire_serial.fittings import Fittings, Input
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.probes import Probe, ProbeBus

FRAME = re.compile(rb"@([0-9]+) ([A-Z])((?: [a-z0-9]+=[^ *@]*)*)\*([0-9A-F]{4})\r\n")
BOOTED_MS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A board frame as the bench reads it."""

    seq: int
    kind: str
    values: Mapping[str, str]


def sealed(text: str) -> bytes:
    """A host frame with the checksum of Python's own binascii."""
    return f"@{text}*{binascii.crc_hqx(text.encode(), 0xFFFF):04X}\r\n".encode()


def read(frame: bytes) -> Frame:
    """One whole board frame; its checksum holds."""
    match = FRAME.fullmatch(frame)
    assert match is not None, frame
    assert int(match[4], 16) == binascii.crc_hqx(frame[1 : frame.rindex(b"*")], 0xFFFF)
    pairs = [pair.split("=", 1) for pair in match[3].decode().split()]
    assert len({key for key, _ in pairs}) == len(pairs)
    return Frame(seq=int(match[1]), kind=match[2].decode(), values=dict(map(tuple, pairs)))


class Bench:
    """Runs a board and keeps what it sent and switched. `temps_c` is what the probes stand in."""

    def __init__(self, fittings: Fittings | None = None, *, probes: int = 2, seed: int = 1) -> None:
        self.now_ms = 0
        self.temps_c = {f"probe{index}": 20.0 + index for index in range(probes)}
        hung = tuple(Probe(name, f"28A1B2C3040506{index:02X}") for index, name in enumerate(self.temps_c))
        self.board = VirtualBoard(fittings or Fittings(), ProbeBus(hung, self.temps_c.__getitem__), seed=seed)
        self.switched: list[tuple[int, Pin, bool]] = []
        self.board.outputs.pins.watch = lambda pin, on, at_ms: self.switched.append((at_ms, pin, on))
        self.sent: list[Frame] = []
        self.wait(BOOTED_MS)
        self.seq = 100

    def wait(self, for_ms: int) -> list[Frame]:
        """Lets time pass, looking whenever the board asks to be looked at; what it sent meanwhile."""
        end_ms = self.now_ms + for_ms
        heard: list[Frame] = []
        while (due_ms := self.board.next_due_ms()) is not None and due_ms <= end_ms:
            self.now_ms = due_ms
            heard += map(read, self.board.poll(due_ms))
        self.now_ms = end_ms
        heard += map(read, self.board.poll(end_ms))
        self.sent += heard
        return heard

    def raw(self, data: bytes) -> list[Frame]:
        """Bytes to the board, and what it sends at that instant."""
        heard = [read(frame) for frame in self.board.receive(data, self.now_ms)]
        self.sent += heard
        return heard

    def say(self, text: str) -> list[Frame]:
        """A frame without its number."""
        self.seq += 1
        return self.raw(sealed(f"{self.seq} {text}"))

    def answer(self, text: str) -> str:
        """What the board makes of a frame: "A", or the reason of its refusal."""
        answers = [frame for frame in self.say(text) if frame.kind in ("A", "N") and frame.seq == self.seq]
        assert len(answers) == 1, answers
        return answers[0].values.get("why", answers[0].kind)

    def claim(self) -> int:
        """Claims the board; the session."""
        assert self.answer(f"C v=1 boot={self.board.boot:08X}") == "A"
        return self.board.session

    def demand(self, **changes: int | str) -> str:
        """What the board makes of an O that acts on this very moment and wants nothing, but for the changes."""
        values: dict[str, int | str] = {
            "s": f"{self.board.session:08X}",
            "e": self.up_ms,
            "ttl": 3000,
            "h": 0,
            "p": 0,
            "k": 0,
            "z": 0,
        }
        values |= changes
        return self.answer("O " + " ".join(f"{key}={value}" for key, value in values.items()))

    def heat(self, h: int = 1000, **changes: int | str) -> None:
        """Claims, closes the main contactor and turns the heater on."""
        self.claim()
        assert self.demand(k=1) == "A"
        self.wait(200)
        assert self.demand(h=h, k=1, **changes) == "A"

    def press(self, inputs: Input) -> None:
        """Sets the inputs."""
        self.board.set_inputs(inputs, self.now_ms)

    @property
    def up_ms(self) -> int:
        """The board's uptime now."""
        return self.board.up_ms(self.now_ms)

    def on(self) -> set[str]:
        """The names of the pins that are on."""
        return {pin.value for pin in Pin if self.board.outputs.pins.is_on(pin)}

    def newest(self) -> Frame:
        """The newest T."""
        return next(frame for frame in reversed(self.sent) if frame.kind == "T")
