"""Clients in a hurry or with ill will, as bare sockets on loopback: they share nothing with the page but its port."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

CHUNK = 64 * 1024
HUGE_BYTES = 10 * 1024 * 1024
PAUSE_S = 0.05
PATIENCE_S = 10.0
SMALL_WINDOW_BYTES = 4096


class Crowd:
    """Everybody at one kettle's page. `heard` counts what came down streams that are read, in chunks."""

    def __init__(self, port: int, kettle: str) -> None:
        self._port = port
        self._kettle = kettle
        self.heard = 0
        self.turned_away = 0
        self.answers: dict[int, int] = {}

    async def reads(self) -> None:
        """A page that is looked at, and comes back when it is cut off."""
        while True:
            with suppress(OSError):
                reader, writer = await asyncio.open_connection("127.0.0.1", self._port)
                try:
                    writer.write(self._get(f"/kettles/{self._kettle}/stream"))
                    while await reader.read(CHUNK):
                        self.heard += 1
                finally:
                    writer.close()
            self.turned_away += 1
            await asyncio.sleep(1.0)

    async def never_reads(self) -> None:
        """A telephone that fell asleep with the stream open, its window full."""
        _, writer = await asyncio.open_connection("127.0.0.1", self._port, limit=SMALL_WINDOW_BYTES)
        try:
            writer.write(self._get(f"/kettles/{self._kettle}/stream"))
            writer.transport.pause_reading()  # type: ignore[attr-defined]  # a socket's transport has it
            await asyncio.get_running_loop().create_future()
        finally:
            writer.transport.abort()

    async def never_ends_its_request(self) -> None:
        """A line of the head every now and then."""
        while True:
            with suppress(OSError):
                _, writer = await asyncio.open_connection("127.0.0.1", self._port)
                try:
                    writer.write(b"GET / HTTP/1.1\r\n")
                    while not writer.is_closing():
                        writer.write(b"x-more: and more\r\n")
                        await writer.drain()
                        await asyncio.sleep(PAUSE_S)
                finally:
                    writer.transport.abort()

    async def sends(self, body: bytes, declared: int | None = None) -> None:
        """The same bad body again and again; `declared`: what its length is said to be."""
        head = self._post(len(body) if declared is None else declared)
        while True:
            status = await self._status(head, body)
            self.answers[status] = self.answers.get(status, 0) + 1
            await asyncio.sleep(PAUSE_S)

    async def _status(self, head: bytes, body: bytes) -> int:
        """What is answered; 0: the connection was cut."""
        try:
            reader, writer = await asyncio.open_connection("127.0.0.1", self._port)
            try:
                writer.write(head)
                for at in range(0, len(body), CHUNK):
                    writer.write(body[at : at + CHUNK])
                    await writer.drain()
                line = await asyncio.wait_for(reader.readline(), PATIENCE_S)
                return int(line.split()[1]) if line else 0
            finally:
                writer.transport.abort()
        except (OSError, TimeoutError):
            return 0

    def _get(self, path: str) -> bytes:
        return f"GET {path} HTTP/1.1\r\nhost: 127.0.0.1:{self._port}\r\n\r\n".encode()

    def _post(self, length: int) -> bytes:
        return (
            f"POST /api/kettles/{self._kettle}/tell HTTP/1.1\r\nhost: 127.0.0.1:{self._port}\r\n"
            f"content-type: application/json\r\ncontent-length: {length}\r\n\r\n"
        ).encode()


@asynccontextmanager
async def crowd(port: int, kettle: str, *, readers: int, sleepers: int) -> AsyncIterator[Crowd]:
    """So many that read and that do not, and a few of each other kind, for as long as it lasts."""
    made = Crowd(port, kettle)
    everybody = [
        *(made.reads() for _ in range(readers)),
        *(made.never_reads() for _ in range(sleepers)),
        *(made.never_ends_its_request() for _ in range(4)),
        made.sends(b"{" * 512),
        made.sends(b"\xff\xfe not even text"),
        made.sends(b'{"do": "extend", "minutes": "many"}'),
        made.sends(b"x" * HUGE_BYTES),
        made.sends(b"x" * HUGE_BYTES, declared=100),
    ]
    tasks = [asyncio.create_task(one) for one in everybody]
    try:
        yield made
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
