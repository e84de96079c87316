"""The one place that opens a serial port: raw, 8N1, for this process alone.

pyserial opens and configures, its asyncio transport reads. Writing goes past both: pyserial's non-blocking write spins
for ever on a full buffer, and the transport would keep an order that a newer one has replaced.
"""

from __future__ import annotations

import asyncio
import logging
import os
import termios
from collections.abc import Callable

import serial
from serial_asyncio_fast import SerialTransport

from kettlebridge.drivers.port_trouble import not_opened

log = logging.getLogger(__name__)

BAUD = 38_400

UNSENT_LIMIT_BYTES = 64
"""More than this still unsent is an older frame held up: it is thrown away, never followed."""

DRAIN_LIMIT_BYTES = 1 << 16
"""What a drain takes at most: an endless talker must not hold the loop."""

_READ_BYTES = 1024


class _RawPort(serial.Serial):
    """Opens without throwing input away: what waits is read and counted instead (`Port.drain`)."""

    def _reset_input_buffer(self) -> None:
        """Keeps it."""


class Port(asyncio.Protocol):
    """An open port. Its callbacks are called from the loop; `on_hang_up` once, unless it was closed from here."""

    def __init__(
        self, serial_port: serial.Serial, on_bytes: Callable[[bytes], None], on_hang_up: Callable[[], None]
    ) -> None:
        self.flushes = 0
        self._serial = serial_port
        self._on_bytes = on_bytes
        self._on_hang_up = on_hang_up
        self._gone = False
        loop = asyncio.get_running_loop()
        self._closed: asyncio.Future[None] = loop.create_future()
        self._transport = SerialTransport(loop, self, serial_port)

    def data_received(self, data: bytes) -> None:
        """Bytes came."""
        self._on_bytes(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """The descriptor is closed, by us or because the device went away."""
        if not self._closed.done():
            self._closed.set_result(None)
        self._hang_up(exc)

    def write(self, frame: bytes) -> int:
        """One write of one frame; never waits. Gives how many bytes were thrown away: older ones, or of this frame."""
        if self._transport.is_closing():
            return len(frame)
        try:
            return self._make_room() + self._write_whole(frame)
        except (OSError, termios.error) as error:
            self._hang_up(error)
            return len(frame)

    def drain(self) -> bytes:
        """Everything that waits to be read."""
        drained = bytearray()
        try:
            while not self._transport.is_closing() and len(drained) < DRAIN_LIMIT_BYTES:
                data = self._serial.read(_READ_BYTES)
                if not data:
                    break
                drained += data
        except (OSError, termios.error) as error:
            self._hang_up(error)
        return bytes(drained)

    async def close(self) -> None:
        """Closes the port; what was written still goes out. Returns once the descriptor is free."""
        self._gone = True
        if not self._transport.is_closing():
            self._transport.abort()
        await asyncio.shield(self._closed)

    def _make_room(self) -> int:
        unsent_bytes = self._serial.out_waiting
        if unsent_bytes <= UNSENT_LIMIT_BYTES:
            return 0
        self._flush()
        return unsent_bytes

    def _write_whole(self, frame: bytes) -> int:
        """Gives how many bytes of `frame` are lost. A wire with no room for all of it holds older frames: they go."""
        if self._write_once(frame) == len(frame):
            return 0
        self._flush()  # a pty reports nothing unsent and yet is full
        return len(frame) - self._write_once(frame)

    def _write_once(self, frame: bytes) -> int:
        try:
            return os.write(self._serial.fileno(), frame)
        except BlockingIOError:
            return 0

    def _flush(self) -> None:
        self.flushes += 1
        self._serial.reset_output_buffer()

    def _hang_up(self, error: Exception | None) -> None:
        if not self._gone:
            self._gone = True
            log.debug("%s hung up: %s", self._serial.port, error)
            self._on_hang_up()


async def open_link(path: str, on_bytes: Callable[[bytes], None], on_hang_up: Callable[[], None]) -> Port:
    """Opens the port at `path`. Raises LinkError NO_PORT or PORT_IN_USE. The board may reset when this happens."""
    loop = asyncio.get_running_loop()
    opening = loop.run_in_executor(None, _open, path)
    try:
        serial_port = await asyncio.shield(opening)
    except asyncio.CancelledError:
        opening.add_done_callback(_close_unused)
        raise
    except (OSError, termios.error) as error:
        raise not_opened(path, error) from error
    return Port(serial_port, on_bytes, on_hang_up)


def _open(path: str) -> serial.Serial:
    return _RawPort(port=path, baudrate=BAUD, exclusive=True, timeout=0, write_timeout=0)


def _close_unused(opening: asyncio.Future[serial.Serial]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        opening.result().close()
