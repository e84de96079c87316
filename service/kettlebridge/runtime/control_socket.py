"""A unix socket for commands and views: JSON lines, one request each.

`{"kettle": K, "do": KIND, ...}` is answered by one line, the verdict; `{"watch": K}` by snapshots until the client
closes its side, and nothing else on that connection. Whatever cannot be understood is answered by `{"error": ...}`, and
the connection goes on. When all places are taken there are some left for commands that only lower. The socket is the
owner's alone (mode 0600): who may open it may command.
"""

from __future__ import annotations

import asyncio
import fcntl
import json
import logging
import os
import secrets
import socket
import stat
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict
from enum import Enum
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kettlebridge.model.command import LOWERING, Command, CommandKind
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.ports import Commands, Snapshots
from kettlebridge.runtime.commands import unknown_kettle

log = logging.getLogger(__name__)

LINE_BYTES = 16 * 1024
"""The longest request; a longer one is dropped whole."""

CONNECTIONS = 32
"""Open at once for anything."""

LOWERING_CONNECTIONS = 8
"""Open at once beyond those, each for one command that only lowers; further ones get an error line and are closed."""

LOWERING_WAIT_S = 5.0
"""How long one of those may take to say it."""

LONGEST_PATH_BYTES = 107
"""Of a socket's path on Linux: 108 with the zero at its end (unix(7))."""

ANYTHING = frozenset(CommandKind)

AtKettle = Callable[[KettleId, str], bool]
"""Whether this is the code posted at the kettle."""


class TellRequest(BaseModel):
    """A command as JSON. `code` is the one posted at the kettle; the other fields are the command's."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

    kettle: str = Field(max_length=64)
    do: str = Field(max_length=32)
    id: str | None = Field(default=None, min_length=1, max_length=64)
    who: str = Field(default="control socket", max_length=64)
    code: str | None = Field(default=None, max_length=64)
    seen_n: int | None = None
    call: str | None = Field(default=None, max_length=128)
    alarm: str | None = Field(default=None, max_length=128)
    minutes: float | None = None
    target_c: float | None = None
    litres: float | None = None
    on: bool | None = None
    at_c: float | None = None
    gravity_sg: float | None = None
    brix: float | None = None
    step_index: int | None = None

    def command(self, at_kettle: AtKettle) -> Command:
        """The command it asks for. Raises OperatorError for an unknown kind, or a wrong code with what may raise."""
        try:
            kind = CommandKind(self.do)
        except ValueError:
            kinds = ", ".join(kind.value for kind in CommandKind)
            raise OperatorError(f"do: {self.do!r} is none of {kinds}") from None
        stands_there = self.code is not None and at_kettle(KettleId(self.kettle), self.code)
        if self.code is not None and not stands_there and kind not in LOWERING:
            raise OperatorError("code: not the one posted at the kettle")
        return Command(
            id=CommandId(self.id or secrets.token_hex(8)),
            kind=kind,
            who=self.who,
            at_kettle=stands_there,
            seen_n=self.seen_n,
            call=self.call,
            alarm=self.alarm,
            minutes=self.minutes,
            target_c=self.target_c,
            litres=self.litres,
            on=self.on,
            at_c=self.at_c,
            gravity_sg=self.gravity_sg,
            brix=self.brix,
            step_index=self.step_index,
        )


class WatchRequest(BaseModel):
    """The kettle to watch."""

    model_config = ConfigDict(extra="forbid", strict=True)

    watch: str = Field(max_length=64)


class ControlSocket:
    """The server of `kettles`. `at_kettle` judges codes; by default none is right."""

    def __init__(
        self,
        path: Path,
        kettles: Collection[KettleId],
        commands: Commands,
        snapshots: Snapshots,
        at_kettle: AtKettle = lambda _kettle, _code: False,
    ) -> None:
        self._path = path
        self._kettles = frozenset(kettles)
        self._commands = commands
        self._snapshots = snapshots
        self._at_kettle = at_kettle
        self._open = 0

    async def serve(self, ready: Callable[[], None] = lambda: None) -> None:
        """Serves until cancelled; `ready` is called once it listens. Raises OperatorError for a socket in use."""
        with listening(self._path) as listener:
            async with asyncio.TaskGroup() as group:

                def connected(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
                    group.create_task(self._connection(reader, writer), name="control socket: connection")

                server = await asyncio.start_unix_server(connected, sock=listener, limit=LINE_BYTES)
                try:
                    ready()
                    await asyncio.get_running_loop().create_future()
                finally:
                    server.close()

    async def _connection(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One client until it goes; what goes wrong with it is its own."""
        self._open += 1
        try:
            if self._open > CONNECTIONS + LOWERING_CONNECTIONS:
                await _send(writer, {"error": f"more than {CONNECTIONS} connections"})
            elif self._open > CONNECTIONS:
                async with asyncio.timeout(LOWERING_WAIT_S):
                    line = await next_line(reader)
                if line is not None:
                    await self._request(line, reader, writer, only=LOWERING)
            else:
                while (line := await next_line(reader)) is not None:
                    await self._request(line, reader, writer)
        except OSError as error:
            log.debug("control socket: a client went away: %s", error)
        except Exception:
            log.exception("control socket: a connection failed")
        finally:
            self._open -= 1
            writer.close()

    async def _request(
        self,
        line: bytes,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        *,
        only: frozenset[CommandKind] = ANYTHING,
    ) -> None:
        """Answers one line; `only` commands of some kinds where that is all there is room for."""
        try:
            if len(line) > LINE_BYTES:
                raise OperatorError(f"a request has at most {LINE_BYTES} bytes")
            request = json.loads(line)
            if isinstance(request, dict) and "watch" in request:
                _room_for(only is ANYTHING)
                await self._watch(KettleId(WatchRequest.model_validate(request).watch), reader, writer)
                return
            told = TellRequest.model_validate(request)
            command = told.command(self._at_kettle)
            _room_for(command.kind in only)
            await _send(writer, asdict(await self._commands.submit(KettleId(told.kettle), command)))
        except ValidationError as error:
            mistakes = "; ".join(f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in error.errors())
            await _send(writer, {"error": mistakes})
        except OperatorError as error:
            await _send(writer, {"error": str(error)})
        except (ValueError, RecursionError) as error:
            await _send(writer, {"error": f"not JSON: {error}"})

    async def _watch(self, kettle: KettleId, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Sends snapshots until the client goes; what it says meanwhile is dropped. Raises OperatorError: no kettle."""
        if kettle not in self._kettles:
            raise unknown_kettle(kettle, self._kettles)
        async with asyncio.TaskGroup() as group:
            sending = group.create_task(self._snapshots_to(kettle, writer), name="control socket: watch")
            with suppress(OSError):  # gone too
                while await reader.read(LINE_BYTES):
                    pass
            sending.cancel()

    async def _snapshots_to(self, kettle: KettleId, writer: asyncio.StreamWriter) -> None:
        """The newest whenever the client has taken the one before."""
        with suppress(OSError):  # the client went, and whoever reads from it hears of it
            async for snapshot in self._snapshots.stream(kettle):
                await _send(writer, {"snapshot": asdict(snapshot)})


def _room_for(allowed: bool) -> None:
    """Raises OperatorError where it is not among what there is room for."""
    if not allowed:
        lowering = ", ".join(sorted(kind.value for kind in LOWERING))
        raise OperatorError(f"more than {CONNECTIONS} connections: there is room for {lowering} only")


@contextmanager
def listening(path: Path) -> Iterator[socket.socket]:
    """A bound socket at `path` for the owner alone; a dead one there is removed. Raises OperatorError.

    Who lives is told by a lock on a file beside it: unlike asking the socket, two services cannot both win it.
    """
    if len(os.fsencode(path)) > LONGEST_PATH_BYTES:
        raise OperatorError(
            f"{path}: too long a path for a socket, which has at most {LONGEST_PATH_BYTES} bytes; nothing was started; "
            "choose a folder with a shorter one (--state)"
        )
    try:
        lock = os.open(path.with_name(path.name + ".lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise OperatorError(f"{path}: {error.strerror}") from error
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise OperatorError(
                f"{path}: another service listens there; end that one, or give this one a folder of its own (--state)"
            ) from None
        with socket.socket(socket.AF_UNIX) as listener:
            _bind(listener, path)
            try:
                yield listener
            finally:
                path.unlink(missing_ok=True)
    finally:
        os.close(lock)


def _bind(listener: socket.socket, path: Path) -> None:
    """Binds with mode 0600 from the first moment on."""
    with suppress(FileNotFoundError):
        if not stat.S_ISSOCK(path.lstat().st_mode):
            raise OperatorError(f"{path}: is there and no socket")
        path.unlink()
    mask = os.umask(0o177)
    try:
        listener.bind(str(path))
    except OSError as error:
        raise OperatorError(f"{path}: {error}") from error
    finally:
        os.umask(mask)


async def next_line(reader: asyncio.StreamReader) -> bytes | None:
    """The next line; of one beyond the reader's limit only enough to see that; None at the end."""
    too_long = b""
    while True:
        try:
            line = await reader.readuntil(b"\n")
        except asyncio.LimitOverrunError as error:
            too_long = await reader.readexactly(error.consumed)
        except asyncio.IncompleteReadError:
            return None
        else:
            return too_long + line


async def _send(writer: asyncio.StreamWriter, message: dict[str, object]) -> None:
    """One line of JSON, once the client has taken most of what came before."""
    writer.write(json.dumps(message, default=_plain, separators=(",", ":")).encode("ascii") + b"\n")
    await writer.drain()


def _plain(value: object) -> object:
    """What JSON lacks: an enum is its value."""
    if isinstance(value, Enum):
        return value.value
    raise TypeError(f"{type(value).__name__} has no JSON form")
