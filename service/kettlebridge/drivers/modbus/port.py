"""The one place that opens a port for Modbus: pymodbus's serial transport, with writing done past it.

The transport would keep bytes that do not fit for later; a request is one `os.write` or none. Bytes both ways are
counted by gates, as everywhere: `PORT>` shut by whoever writes to the modules, `PORT<` opened here for what they said.
"""

from __future__ import annotations

import asyncio
import logging
import os
import termios
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from pymodbus.transport.serialtransport import SerialTransport

from kettlebridge.drivers.port_trouble import not_opened
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.modbus_map import ModbusMap, Parity
from kettlebridge.ports import Clock, Gate

log = logging.getLogger(__name__)

_READ_BYTES = 1024
_DRAIN_LIMIT_BYTES = 1 << 16
_PARITY = {Parity.NONE: "N", Parity.EVEN: "E", Parity.ODD: "O"}
_DATA_BITS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gates:
    out: Gate
    back: Gate


class Port(asyncio.Protocol):
    """An open port. `hear` is called with what arrives, `hang_up` once when the port is gone, unless by `close`."""

    def __init__(self, path: str, clock: Clock) -> None:
        self.hear: Callable[[bytes], None] = _nobody
        self.hang_up: Callable[[], None] = _nothing
        self._path = path
        self._gates = _Gates(out=clock.gate(f"{path}>"), back=clock.gate(f"{path}<"))
        self._transport: SerialTransport | None = None

    def attach(self, transport: SerialTransport) -> None:
        """Begins to listen."""
        self._transport = transport
        transport.setup()

    def data_received(self, data: bytes) -> None:
        """Bytes came."""
        self._gates.back.open(len(data))
        self.hear(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """The device went away."""
        log.debug("%s hung up: %s", self._path, exc)
        self._gone()

    def write(self, data: bytes) -> bool:
        """One write; whether all of it found room."""
        if self._transport is None:
            return False
        try:
            written = os.write(self._transport.sync_serial.fileno(), data)
        except BlockingIOError:
            return False
        except OSError as error:
            log.debug("%s cannot be written: %s", self._path, error)
            self.close()
            self.hang_up()
            return False
        self._gates.out.shut(written)
        return written == len(data)

    def drain(self) -> int:
        """Reads away what waits; gives how many bytes that were."""
        drained = 0
        try:
            while self._transport is not None and drained < _DRAIN_LIMIT_BYTES:
                data = self._transport.sync_serial.read(_READ_BYTES)
                if not data:
                    break
                drained += len(data)
                self._gates.back.open(len(data))
        except (OSError, termios.error) as error:
            log.debug("%s cannot be read: %s", self._path, error)
        return drained

    def close(self) -> None:
        """Closes the port; what nobody read is done with."""
        self.drain()
        transport, self._transport = self._transport, None
        if transport is not None:
            transport.close()

    def _gone(self) -> None:
        """The transport closes before it tells."""
        if self._transport is not None:
            self._transport = None
            self.hang_up()


async def open_port(path: str, line: ModbusMap, clock: Clock) -> Port:
    """Opens the port at `path`, for this process alone. Raises LinkError NO_PORT or PORT_IN_USE."""
    loop = asyncio.get_running_loop()
    port = Port(path, clock)
    gate = clock.gate(f"{path} port")
    gate.shut()
    try:
        opening = loop.run_in_executor(
            None,
            partial(
                SerialTransport,
                loop,
                port,
                path,
                baudrate=line.baud,
                bytesize=_DATA_BITS,
                parity=_PARITY[line.parity],
                stopbits=line.stop_bits,
                timeout=0,
            ),
        )
        port.attach(await _opened(opening, path))
    finally:
        gate.open()
    port.drain()
    return port


async def _opened(opening: asyncio.Future[SerialTransport], path: str) -> SerialTransport:
    try:
        return await asyncio.shield(opening)
    except asyncio.CancelledError:
        opening.add_done_callback(_close_unused)
        raise
    except termios.error as error:
        detail = f"{path} does not take this speed, parity or number of stop bits"
        raise LinkError(LinkReason.NO_PORT, detail) from error
    except OSError as error:
        raise not_opened(path, error) from error


def _close_unused(opening: asyncio.Future[SerialTransport]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        opening.result().close()


def _nobody(_data: bytes) -> None:
    """Nobody asked for these bytes."""


def _nothing() -> None:
    """Nobody is to be told."""
