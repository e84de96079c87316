"""The server on the loop of the service: it owns no signals, ends when it is told, and its failure is its own."""

from __future__ import annotations

import asyncio
import errno
import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from kettlebridge.model.errors import OperatorError
from kettlebridge.web.access import Access
from kettlebridge.web.hosts import Hosts
from kettlebridge.web.keys import KeyFile, read_keys
from kettlebridge.web.site import site
from kettlebridge.web.surroundings import Surroundings

log = logging.getLogger(__name__)

LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8470
BACKLOG = 64
HEAD_BYTES = 16 * 1024
KEEP_ALIVE_S = 15
GRACE_S = 2
AGAIN_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where to listen. `names` are further names of this machine. `or_any`: another port where that one is taken."""

    host: str = LOOPBACK
    port: int = DEFAULT_PORT
    names: tuple[str, ...] = ()
    or_any: bool = False

    @property
    def local(self) -> bool:
        """Whether only this machine can reach it."""
        return self.host in {LOOPBACK, "::1", "localhost"}


class Listener:
    """A socket that listens, bound before anything else begins: a port in use is told at once."""

    def __init__(self, address: Address, folder: Path) -> None:
        """Raises OperatorError: the port cannot be had, or a network would see a page without a pass-phrase."""
        self.keys: KeyFile = read_keys(folder)
        if not address.local and not self.keys.keys:
            raise OperatorError(
                f"{address.host}: others on the network could switch the heater: set a pass-phrase first, with "
                "`kettlebridge passphrase`"
            )
        self.address = address
        try:
            self.socket = _bound(address)
        except OSError as error:
            raise OperatorError(
                f"http: port {address.port} of {address.host} cannot be had: {error.strerror}; --http takes another, "
                "or 0 for no page"
            ) from error
        self.port: int = self.socket.getsockname()[1]

    @property
    def url(self) -> str:
        """What to type."""
        return f"http://{self.address.host}:{self.port}/"

    def close(self) -> None:
        """Gives the port back."""
        self.socket.close()


def _bound(address: Address) -> socket.socket:
    try:
        return socket.create_server((address.host, address.port), backlog=BACKLOG)
    except OSError as error:
        if error.errno != errno.EADDRINUSE or not address.or_any:
            raise
        return socket.create_server((address.host, 0), backlog=BACKLOG)


@contextmanager
def listening(address: Address | None, folder: Path) -> Iterator[Listener | None]:
    """A listener for as long as it lasts; None for no page. Raises OperatorError."""
    if address is None:
        yield None
        return
    listener = Listener(address, folder)
    try:
        yield listener
    finally:
        listener.close()


class _Server(uvicorn.Server):
    """One place owns signals, and it is not this one."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leaves them alone."""
        yield


async def serve_page(listener: Listener, around: Surroundings, stop: asyncio.Event) -> None:
    """Serves until `stop`. Whatever goes wrong here costs the page, never a kettle: it is logged and begun again."""
    while not stop.is_set():
        try:
            await _serve_once(listener, around, stop)
        except Exception:
            log.exception("the page failed; the kettles go on, and it is tried again")
        if not stop.is_set():
            with suppress(TimeoutError):
                await asyncio.wait_for(stop.wait(), AGAIN_S)


async def _serve_once(listener: Listener, around: Surroundings, stop: asyncio.Event) -> None:
    address = listener.address
    hosts = Hosts(listener.port, (*address.names, address.host), any_address=not address.local)
    config = uvicorn.Config(
        site(around, hosts, Access(listener.keys), stop),
        http="h11",
        ws="none",
        lifespan="off",
        interface="asgi3",
        access_log=False,
        log_config=None,
        server_header=False,
        proxy_headers=False,
        h11_max_incomplete_event_size=HEAD_BYTES,
        timeout_keep_alive=KEEP_ALIVE_S,
        timeout_graceful_shutdown=GRACE_S,
    )
    server = _Server(config)
    serving = asyncio.create_task(server.serve(sockets=[listener.socket.dup()]), name="page: server")
    stopping = asyncio.create_task(stop.wait(), name="page: stop")
    try:
        await asyncio.wait({serving, stopping}, return_when=asyncio.FIRST_COMPLETED)
    finally:
        server.should_exit = True
        stopping.cancel()
        await serving
