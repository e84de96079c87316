"""Where the page listens, and for how long; its failure is its own.

The port is taken before anything else begins. What answers there (`kettlebridge.web.answering`, with a web server and
templates) is loaded while the kettles run already: heat does not wait for a page.
"""

from __future__ import annotations

import asyncio
import errno
import logging
import socket
import ssl
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.model.errors import OperatorError
from kettlebridge.web.keys import KeyFile, read_keys
from kettlebridge.web.surroundings import Surroundings

log = logging.getLogger(__name__)

LOOPBACK = "127.0.0.1"
EVERY_ADDRESS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - named to be told apart
SOMEWHERE = ("192.0.2.1", 9)
"""An address of TEST-NET-1 (RFC 5737): asking for the way there sends nothing."""

DEFAULT_PORT = 8470
BACKLOG = 64
"""As many come in at a time, before any of them is looked at."""
AGAIN_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """A certificate with its chain, and its private key, as PEM files."""

    chain: Path
    key: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where to listen. `names` are further names of this machine. `or_any`: another port where that one is taken.

    `certificate`: for TLS; None: plain HTTP.
    """

    host: str = LOOPBACK
    port: int = DEFAULT_PORT
    names: tuple[str, ...] = ()
    or_any: bool = False
    certificate: Certificate | None = None

    @property
    def local(self) -> bool:
        """Whether only this machine can reach it."""
        return self.host in {LOOPBACK, "::1", "localhost"}


class Listener:
    """A socket that listens, bound before anything else begins: a port in use is told at once."""

    def __init__(self, address: Address, folder: Path) -> None:
        """Raises OperatorError: the port or the certificate cannot be used, or a network would see an open page."""
        self.keys: KeyFile = read_keys(folder)
        if not address.local and not self.keys.keys:
            raise OperatorError(
                f"{address.host}: others on the network could switch the heater: set a pass-phrase first, with "
                "`kettlebridge passphrase`"
            )
        self.address = address
        _check(address.certificate)
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
        """What to type, on a telephone too: a name where one was given."""
        address = self.address
        host = _own_address() if address.host in EVERY_ADDRESS else address.host
        host = address.names[0] if address.names and not address.local else host
        scheme = "http" if address.certificate is None else "https"
        return f"{scheme}://{f'[{host}]' if ':' in host else host}:{self.port}/"

    def close(self) -> None:
        """Gives the port back."""
        self.socket.close()


def _own_address() -> str:
    """Where others on the network find this machine; the loopback where there is no network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(SOMEWHERE)
        except OSError:
            return LOOPBACK
        return str(asked.getsockname()[0])


def _check(certificate: Certificate | None) -> None:
    """Raises OperatorError for one that cannot be used."""
    if certificate is None:
        return
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate.chain, certificate.key)
    except OSError as error:  # ssl.SSLError is one
        raise OperatorError(
            f"{certificate.chain} with {certificate.key}: no certificate with its key: {error.strerror}"
        ) from error


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


async def serve_page(listener: Listener, around: Surroundings, stop: asyncio.Event) -> None:
    """Serves until `stop`. Whatever goes wrong here costs the page, never a kettle: it is logged and begun again."""
    while not stop.is_set():
        try:
            answer = await asyncio.to_thread(_loaded)
            await answer(listener, around, stop)
        except Exception:
            log.exception("the page failed; the kettles go on, and it is tried again")
        if not stop.is_set():
            with suppress(TimeoutError):
                await asyncio.wait_for(stop.wait(), AGAIN_S)


def _loaded() -> Callable[[Listener, Surroundings, asyncio.Event], Awaitable[None]]:
    """What answers. In a thread of its own, so that no tick is late for it."""
    from kettlebridge.web.answering import answer  # noqa: PLC0415 - only for a page, and once the kettles run

    return answer
