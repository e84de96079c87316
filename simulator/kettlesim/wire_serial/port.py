"""A pseudo-terminal that stands for a serial port: the board's end, and a host's.

The law of the gates: whoever writes a byte shuts, whoever has read it opens. `PATH>` counts the bytes that a host
wrote, `PATH<` those that go to the host. While no host has the port open, what is written goes nowhere and counts not.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import tty
from collections.abc import Callable

from kettlesim.wire_serial.clock import Clock

_CHUNK_BYTES = 4096


class Port:
    """The board's end. `path` is what a host opens, and may close and open again."""

    def __init__(self, clock: Clock) -> None:
        self._master_fd, host_fd = os.openpty()
        tty.setraw(host_fd)
        self.path = os.ttyname(host_fd)
        os.close(host_fd)
        os.set_blocking(self._master_fd, False)
        self._from_host = clock.gate(f"{self.path}>")
        self._to_host = clock.gate(f"{self.path}<")
        # A closed port keeps a level-triggered selector busy: this one reports each change once.
        self._edges = select.epoll()
        self._edges.register(self._master_fd, select.EPOLLIN | select.EPOLLET)
        self._hang_up = select.poll()
        self._hang_up.register(self._master_fd, 0)

    def listen(self, heard: Callable[[bytes], None]) -> None:
        """Calls `heard` with what a host writes, on the running loop, until `close`."""
        asyncio.get_running_loop().add_reader(self._edges.fileno(), self._read, heard)

    def is_open(self) -> bool:
        """Whether a host has it open."""
        return not self._hang_up.poll(0)

    def write(self, data: bytes) -> None:
        """To the host, without waiting: what finds no host, or no room, is lost as on a real wire."""
        if self.is_open():
            with contextlib.suppress(BlockingIOError):
                self._to_host.shut(os.write(self._master_fd, data))

    def close(self) -> None:
        """Hangs up; what nobody read is done with."""
        self._read(lambda _: None)
        asyncio.get_running_loop().remove_reader(self._edges.fileno())
        self._edges.close()
        os.close(self._master_fd)

    def _read(self, heard: Callable[[bytes], None]) -> None:
        self._edges.poll(0)
        with contextlib.suppress(OSError):  # empty, or the host has hung up
            while True:
                data = os.read(self._master_fd, _CHUNK_BYTES)
                self._from_host.open(len(data))
                heard(data)


class HostEnd:
    """A host's end of a port, for whatever stands between a host and a board."""

    def __init__(self, clock: Clock, path: str) -> None:
        """Raises OSError when there is no such port."""
        self._fd = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self._fd)
        self._to_board = clock.gate(f"{path}>")
        self._from_board = clock.gate(f"{path}<")

    def listen(self, heard: Callable[[bytes], None]) -> None:
        """Calls `heard` with what the board writes, on the running loop, until `close` or the port is gone."""
        asyncio.get_running_loop().add_reader(self._fd, self._read, heard)

    def write(self, data: bytes) -> None:
        """To the board, without waiting: what finds no room, or no board any more, is lost."""
        with contextlib.suppress(OSError):
            self._to_board.shut(os.write(self._fd, data))

    def close(self) -> None:
        """Closes the port; what nobody read is done with."""
        while self._read(lambda _: None):
            pass
        asyncio.get_running_loop().remove_reader(self._fd)
        os.close(self._fd)

    def _read(self, heard: Callable[[bytes], None]) -> bool:
        """Whether there was anything."""
        try:
            data = os.read(self._fd, _CHUNK_BYTES)
        except BlockingIOError:
            return False
        except OSError:
            data = b""
        if not data:
            asyncio.get_running_loop().remove_reader(self._fd)
            return False
        self._from_board.open(len(data))
        heard(data)
        return True
