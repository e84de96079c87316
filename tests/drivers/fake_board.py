"""A board that says what a test tells it to, on a real pty, with a spelling of its own."""

from __future__ import annotations

import asyncio
import os
import tty
from binascii import crc_hqx
from collections.abc import Callable

from tests.drivers.wire import wire

GUARD_S = 5.0
"""Real seconds after which a wait in a test is a failure."""

SESSION = "9F3A1C07"
HELLO = "B v=1.0 id=28A4 boot=5C21E07A rc=por max=5000 cap=3F"
PROBES = "P t0=28A1B2C3040506B4 t1=28D4E5F6070809E6"

Answer = Callable[[str], list[str]]


class FakeBoard:
    """Answers Q and C from `answers` (letter: bodies without a number; `#` stands for the number asked with)."""

    def __init__(self) -> None:
        self.answers: dict[str, list[str]] = {"Q": ["0 " + HELLO, "0 " + PROBES], "C": [f"# A sid={SESSION}"]}
        self.heard: list[str] = []
        self.is_mute = False
        self.on_write: Callable[[int], None] = lambda _: None
        self.on_handled: Callable[[int], None] = lambda _: None
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(self._slave)
        self._buffer = b""
        self._taken = 0
        self._news = asyncio.Event()
        self._is_plugged = True
        self.hearken()

    def say(self, *bodies: str) -> None:
        """Sends frames in one write; a body begins with its number."""
        self.say_bytes(b"".join(wire(body) for body in bodies))

    def say_bytes(self, data: bytes) -> None:
        """Sends anything."""
        self.on_write(len(data))
        assert os.write(self._master, data) == len(data)

    def report(
        self, up_ms: int, temperatures: str = "t0=66.4375/310", *, session: str = SESSION, **changed: object
    ) -> None:
        """Sends a T."""
        self.say(report(up_ms, temperatures, session=session, **changed))

    async def next(self, letter: str) -> dict[str, str]:
        """The next frame of that kind, as its keys and `seq`."""
        async with asyncio.timeout(GUARD_S):
            while True:
                while self._taken < len(self.heard):
                    seq, kind, *words = self.heard[self._taken].split(" ")
                    self._taken += 1
                    if kind == letter:
                        return {"seq": seq} | dict(word.split("=") for word in words)
                self._news.clear()
                await self._news.wait()

    def letters(self) -> str:
        """The kinds of all frames heard."""
        return "".join(body.split(" ")[1] for body in self.heard)

    def listen(self) -> None:
        """Reads what is there now."""
        self._read()

    def hearken(self) -> None:
        """Reads again."""
        asyncio.get_running_loop().add_reader(self._master, self._read)

    def deafen(self) -> None:
        """Reads no more."""
        asyncio.get_running_loop().remove_reader(self._master)

    def unplug(self) -> None:
        """Goes away for good."""
        if self._is_plugged:
            self._is_plugged = False
            self.deafen()
            os.close(self._master)
            os.close(self._slave)

    def _read(self) -> None:
        try:
            data = os.read(self._master, 65_536)
        except BlockingIOError:
            return
        self._buffer += data
        *lines, self._buffer = self._buffer.split(b"\r\n")
        for line in lines:
            body, _, crc = line.rpartition(b"@")[2].rpartition(b"*")
            assert crc == b"%04X" % crc_hqx(body, 0xFFFF), line
            self.heard.append(body.decode("ascii"))
            seq, letter = self.heard[-1].split(" ")[:2]
            answers = [answer.replace("#", seq) for answer in self.answers.get(letter, [])]
            if answers and not self.is_mute:
                self.say(*answers)
        self.on_handled(len(data))
        self._news.set()


def report(up_ms: int, temperatures: str = "t0=66.4375/310", *, session: str = SESSION, **changed: object) -> str:
    """The body of a T."""
    keys: dict[str, object] = {"h": 350, "on": 90210, "p": 1, "k": 1, "d": "00", "l": 2410, "n": 0} | changed
    words = " ".join(f"{key}={value}" for key, value in keys.items())
    return f"9 T up={up_ms % 2**32} s={session} {temperatures} {words}"
