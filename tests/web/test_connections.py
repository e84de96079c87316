"""Connections that say nothing, or never finish: they are cut off, and keep nobody out."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.web import connections
from tests.web.rooms import THIMBLE
from tests.web.served import Served, served

SOON_S = 0.05
PATIENCE_S = 10.0
PLACES = 6
HOST = b"host: 127.0.0.1:%d\r\n"
TELL = b"POST /api/kettles/%s/tell HTTP/1.1\r\n" % THIMBLE.encode()
JSON = b"content-type: application/json\r\ncontent-length: 19\r\n"
STREAM, EVENT = b"GET /kettles/%s/stream HTTP/1.1\r\n" % THIMBLE.encode(), b"\n\n"
STOP = b'{"do": "stop-heat"}'


class Client:
    """One connection, byte by byte."""

    def __init__(self, house: Served, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._host = HOST % int(house.url.rsplit(":", maxsplit=1)[1])
        self._reader, self._writer = reader, writer

    def says(self, *parts: bytes) -> None:
        self._writer.write(b"".join(part if part != HOST else self._host for part in parts))

    async def hears(self, until: bytes = b"\r\n\r\n") -> bytes:
        """The head of the answer; nothing where it was cut off."""
        async with asyncio.timeout(PATIENCE_S):
            try:
                return await self._reader.readuntil(until)
            except (asyncio.IncompleteReadError, ConnectionError):
                return b""

    def goes(self) -> None:
        self._writer.close()


@asynccontextmanager
async def clients(house: Served, count: int) -> AsyncIterator[list[Client]]:
    address = house.url.removeprefix("http://").split(":")
    made = [Client(house, *await asyncio.open_connection(address[0], int(address[1]))) for _ in range(count)]
    try:
        yield made
    finally:
        for client in made:
            client.goes()


@pytest.mark.parametrize(
    "said",
    [
        (),
        (TELL,),
        (TELL, HOST, JSON, b"\r\n", STOP[:5]),
        (b"GET /sign-in HTTP/1.1\r\n", HOST, b"\r\n", b"GET /sign-in HTTP/1.1\r\n"),
    ],
    ids=["nothing", "half a head", "half a body", "half of a second request"],
)
async def test_who_does_not_finish_in_time_is_cut_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: tuple[bytes, ...]
) -> None:
    monkeypatch.setattr(connections, "ASKS_WITHIN_S", SOON_S)
    async with served(tmp_path) as house, clients(house, 1) as (client,):
        client.says(*said)
        while await client.hears():
            pass
    assert house.commands.taken == []


async def test_a_stop_finds_a_place_however_many_hold_one_and_say_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "CONNECTIONS", PLACES)
    async with served(tmp_path) as house, clients(house, PLACES) as silent:
        for client in silent[1:]:
            client.says(TELL, HOST)
        async with clients(house, 1) as (brewer,):
            brewer.says(TELL, HOST, JSON, b"\r\n", STOP)
            assert (await brewer.hears()).startswith(b"HTTP/1.1 200")
            assert await silent[0].hears() == b"", "the one that was silent longest made way"
    assert [command.kind for _, command in house.commands.taken] == [CommandKind.STOP_HEAT]


async def test_who_is_being_answered_is_not_cut_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "ASKS_WITHIN_S", SOON_S)
    async with served(tmp_path) as house, clients(house, 1) as (watching,):
        watching.says(STREAM, HOST, b"\r\n")
        heard = [await watching.hears(EVENT) for _ in range(4)]
    assert b"event: beat" in heard[-1], "two seconds later"


async def test_who_is_being_answered_does_not_make_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "CONNECTIONS", PLACES)
    async with served(tmp_path) as house, clients(house, PLACES) as watching:
        for client in watching:
            client.says(STREAM, HOST, b"\r\n")
            assert (await client.hears()).startswith(b"HTTP/1.1 200")
        async with clients(house, 1) as (one_too_many,):
            assert await one_too_many.hears() == b""
        for client in watching:
            assert await client.hears(EVENT)
