"""The web server on the loop of the service: it owns no signals, and ends when it is told."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from kettlebridge.web.access import Access
from kettlebridge.web.connections import Connection
from kettlebridge.web.hosts import Hosts
from kettlebridge.web.server import BACKLOG, Listener
from kettlebridge.web.site import site
from kettlebridge.web.surroundings import Surroundings

HEAD_BYTES = 16 * 1024
KEEP_ALIVE_S = 15
GRACE_S = 2


class _Server(uvicorn.Server):
    """One place owns signals, and it is not this one."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leaves them alone."""
        yield


async def answer(listener: Listener, around: Surroundings, stop: asyncio.Event) -> None:
    """Whoever asks at the listener, until `stop`."""
    address = listener.address
    hosts = Hosts(listener.port, (*address.names, address.host), any_address=not address.local)
    certificate = address.certificate
    config = uvicorn.Config(
        site(around, hosts, Access(listener.keys, secure=certificate is not None), stop),
        ssl_certfile=None if certificate is None else certificate.chain,
        ssl_keyfile=None if certificate is None else certificate.key,
        http=Connection,
        backlog=BACKLOG,
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
