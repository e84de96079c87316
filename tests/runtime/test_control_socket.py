"""The control socket over real unix sockets and virtual time."""

from __future__ import annotations

import asyncio
import json
import socket
import stat
import threading
from collections.abc import Awaitable, Callable, Iterator
from contextlib import aclosing, contextmanager
from pathlib import Path

import pytest

from kettlebridge.model.command import LOWERING, Command, CommandKind
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import KettleId
from kettlebridge.ports import Verdict
from kettlebridge.runtime import control_client, control_socket
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.commands import KettleCommands
from kettlebridge.runtime.control_client import ask, watch
from kettlebridge.runtime.control_socket import (
    CONNECTIONS,
    LINE_BYTES,
    LOWERING_CONNECTIONS,
    ControlSocket,
    listening,
)
from kettlebridge.runtime.fan_out import FanOut
from tests.runtime.fakes import COPPER, START_UTC_S, Bench, running, snapshot

Json = dict[str, object]

PATIENCE_S = 5.0
"""Real time; a server that keeps a place for ever takes longer."""


class Told:
    """A Commands port that notes what it is told and takes it all."""

    def __init__(self) -> None:
        self.commands: list[tuple[KettleId, Command]] = []

    async def submit(self, kettle: KettleId, command: Command) -> Verdict:
        self.commands.append((kettle, command))
        return Verdict(refused=None, n=len(self.commands), recorded=True)


class Served:
    """A running server at `path`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.told = Told()
        self.fan_out = FanOut()
        self.server = ControlSocket(path, [COPPER], self.told, self.fan_out, lambda _kettle, code: code == "4711")


def served(tmp_path: Path, test: Callable[[Served], Awaitable[None]]) -> None:
    async def main(_clock: PacedClock) -> None:
        here = Served(tmp_path / "control")
        listens = asyncio.Event()
        async with running(here.server.serve(listens.set)):
            await listens.wait()
            await test(here)

    run_paced(main)


async def line_of(reader: asyncio.StreamReader) -> Json:
    answer = json.loads(await reader.readline())
    assert isinstance(answer, dict)
    return answer


def test_command_reaches_the_kettle_and_its_verdict_comes_back(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        request: Json = {
            "kettle": "copper",
            "do": "retarget",
            "id": "k1",
            "who": "Ann",
            "target_c": 66,
            "seen_n": 12,
        }
        assert await ask(here.path, request) == {"refused": None, "n": 1, "recorded": True}
        ((kettle, command),) = here.told.commands
        assert kettle == COPPER
        assert (command.id, command.kind, command.who) == ("k1", CommandKind.RETARGET, "Ann")
        assert (command.target_c, command.seen_n, command.at_kettle) == (66.0, 12, False)

    served(tmp_path, test)


def test_commands_without_an_id_get_different_ones(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        for _ in range(2):
            await ask(here.path, {"kettle": "copper", "do": "hold"})
        first, second = (command.id for _, command in here.told.commands)
        assert first != second

    served(tmp_path, test)


def test_only_the_posted_code_makes_a_command_one_at_the_kettle(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        await ask(here.path, {"kettle": "copper", "do": "carry-on", "code": "4711"})
        assert here.told.commands[0][1].at_kettle
        with pytest.raises(OperatorError, match="not the one posted"):
            await ask(here.path, {"kettle": "copper", "do": "carry-on", "code": "0000"})
        with pytest.raises(OperatorError, match="at_kettle"):
            await ask(here.path, {"kettle": "copper", "do": "carry-on", "at_kettle": True})
        assert len(here.told.commands) == 1

    served(tmp_path, test)


@pytest.mark.parametrize("kind", sorted(LOWERING, key=str))
def test_a_wrong_code_keeps_nobody_from_lowering(tmp_path: Path, kind: CommandKind) -> None:
    async def test(here: Served) -> None:
        await ask(here.path, {"kettle": "copper", "do": kind.value, "code": "0000"})
        ((_, told),) = here.told.commands
        assert (told.kind, told.at_kettle) == (kind, False)

    served(tmp_path, test)


BAD_LINES = {
    b"{nonsense\n": "not JSON",
    b"\xff\xfe\n": "not JSON",
    b"[" * 10_000 + b"\n": "not JSON",
    b"\n": "not JSON",
    b"7\n": "dictionary",
    b"[]\n": "dictionary",
    b"{}\n": "kettle",
    b'{"kettle": "copper", "do": "dance"}\n': "'dance' is none of",
    b'{"kettle": "copper", "do": "extend", "minutes": NaN}\n': "minutes",
    b'{"kettle": "copper", "do": "extend", "minutes": "5"}\n': "minutes",
    b'{"kettle": "copper", "do": "hold", "colour": "red"}\n': "colour",
    b'{"watch": 7}\n': "watch",
    b'{"who": "' + b"x" * (2 * LINE_BYTES) + b'"}\n': "at most",
    b"x" * (LINE_BYTES + 1) + b"\n": "at most",
    b"x" * (20 * LINE_BYTES) + b"\n": "at most",
}


def test_bad_line_is_answered_and_the_connection_goes_on(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        reader, writer = await asyncio.open_unix_connection(here.path)
        for line, why in BAD_LINES.items():
            writer.write(line)
            error = (await line_of(reader))["error"]
            assert why in str(error), line[:40]
            writer.write(b'{"kettle": "copper", "do": "hold"}\n')
            assert (await line_of(reader))["recorded"] is True
        writer.close()
        assert len(here.told.commands) == len(BAD_LINES)

    served(tmp_path, test)


def test_unknown_kettle_is_an_error_that_names_those_there_are(tmp_path: Path) -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        path = tmp_path / "control"
        listens = asyncio.Event()
        server = ControlSocket(path, [COPPER], KettleCommands({COPPER: bench.inbox}), bench.fan_out)
        async with running(bench.loop().run()), running(server.serve(listens.set)):
            await listens.wait()
            with pytest.raises(OperatorError, match="no kettle 'tin' here; there is copper"):
                await ask(path, {"kettle": "tin", "do": "hold"})
            with pytest.raises(OperatorError, match="no kettle 'tin' here; there is copper"):
                await ask(path, {"watch": "tin"})
            assert await ask(path, {"kettle": "copper", "do": "start"}) == {"refused": None, "n": 1, "recorded": True}

    run_paced(main, start_utc_s=START_UTC_S)


def test_watching_shows_each_change_as_json(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        here.fan_out.publish(snapshot(1), ())
        seen = []
        async with aclosing(watch(here.path, COPPER)) as snapshots:
            async for shown in snapshots:
                seen.append(shown)
                if len(seen) == 3:
                    break
                here.fan_out.publish(snapshot(len(seen) + 1), ())
        assert [shown["n"] for shown in seen] == [1, 2, 3]
        assert seen[0]["state"] == "Running"

    served(tmp_path, test)


async def watchers(path: Path, count: int) -> list[asyncio.StreamWriter]:
    """Clients that watch a kettle which has shown nothing yet, and are seen to be served."""
    writers = []
    for _ in range(count):
        _, writer = await asyncio.open_unix_connection(path)
        writer.write(b'{"watch": "copper"}\n')
        writers.append(writer)
    return writers


@pytest.mark.parametrize("kettle", ["copper", "cooper"])
def test_watcher_that_goes_away_leaves_its_place_though_its_kettle_shows_nothing(tmp_path: Path, kettle: str) -> None:
    async def test(here: Served) -> None:
        for _ in range(CONNECTIONS + LOWERING_CONNECTIONS + 1):
            reader, writer = await asyncio.open_unix_connection(here.path)
            writer.write(f'{{"watch": "{kettle}"}}\n'.encode())
            writer.write_eof()
            if kettle == "cooper":
                assert "there is copper" in str(await line_of(reader))
            async with asyncio.timeout(PATIENCE_S):
                assert await reader.read() == b""
            writer.close()
        assert (await ask(here.path, {"kettle": "copper", "do": "start"}))["refused"] is None

    served(tmp_path, test)


def test_client_that_vanishes_is_forgotten(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        for _ in range(3 * CONNECTIONS):
            (writer,) = await watchers(here.path, 1)
            writer.transport.abort()
        for n in range(10):
            here.fan_out.publish(snapshot(n), ())
            await asyncio.sleep(0)
        assert (await ask(here.path, {"kettle": "copper", "do": "hold"}))["refused"] is None

    served(tmp_path, test)


def test_with_every_place_taken_what_only_lowers_is_still_taken_and_nothing_else(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        writers = await watchers(here.path, CONNECTIONS)
        for kind in sorted(LOWERING, key=lambda kind: kind.value):
            assert (await ask(here.path, {"kettle": "copper", "do": kind.value}))["refused"] is None
        others: list[Json] = [{"kettle": "copper", "do": "start"}, {"watch": "copper"}]
        for request in others:
            with pytest.raises(OperatorError, match=r"more than 32 connections: there is room for .*stop-heat"):
                await ask(here.path, request)
        assert {command.kind for _, command in here.told.commands} == LOWERING
        for writer in writers:
            writer.close()

    served(tmp_path, test)


def test_place_kept_for_lowering_is_given_up_by_who_says_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(control_socket, "LOWERING_WAIT_S", 0.01)

    async def test(here: Served) -> None:
        writers = await watchers(here.path, CONNECTIONS)
        silent = [await asyncio.open_unix_connection(here.path) for _ in range(LOWERING_CONNECTIONS)]
        for reader, writer in silent:
            assert await reader.read() == b""
            writer.close()
        assert (await ask(here.path, {"kettle": "copper", "do": "stop-heat"}))["refused"] is None
        for writer in writers:
            writer.close()

    served(tmp_path, test)


def test_beyond_all_places_a_client_is_turned_away_with_a_sentence(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        writers = await watchers(here.path, CONNECTIONS)
        for _ in range(LOWERING_CONNECTIONS):
            _, silent = await asyncio.open_unix_connection(here.path)
            writers.append(silent)
        with pytest.raises(OperatorError, match=r"more than|went away"):
            await ask(here.path, {"kettle": "copper", "do": "stop-heat"})
        for writer in writers:
            writer.close()

    served(tmp_path, test)


@contextmanager
def service_that(path: Path, answers: Callable[[socket.socket], None]) -> Iterator[None]:
    """Something else on the socket, in a thread of its own."""
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(path))
        listener.listen()

        def serve() -> None:
            connection, _ = listener.accept()
            with connection:
                answers(connection)

        thread = threading.Thread(target=serve)
        thread.start()
        yield
        thread.join()


def test_service_that_breaks_off_is_one_clear_error(tmp_path: Path) -> None:
    def unread(connection: socket.socket) -> None:
        connection.recv(1)  # closing with the rest unread resets the client's connection

    with service_that(tmp_path / "control", unread), pytest.raises(OperatorError, match="the service went away"):
        asyncio.run(ask(tmp_path / "control", {"watch": "copper"}))


def test_service_that_never_answers_is_given_up_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(control_client, "ANSWER_S", 0.01)

    def silent(connection: socket.socket) -> None:
        while connection.recv(100):
            pass

    with service_that(tmp_path / "control", silent), pytest.raises(OperatorError, match="look at the kettle itself"):
        asyncio.run(ask(tmp_path / "control", {"watch": "copper"}))


def test_socket_is_the_owners_alone_and_gone_afterwards(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        assert stat.S_IMODE(here.path.stat().st_mode) == 0o600

    served(tmp_path, test)
    assert not (tmp_path / "control").exists()


def test_a_path_that_is_too_long_for_a_socket_is_told_with_what_to_do_and_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a" / ("long" * 25)
    path.parent.mkdir()
    told = "at most 107 bytes; nothing was started; choose a folder with a shorter one"
    with pytest.raises(OperatorError, match=told), listening(path):
        pass
    assert list(path.parent.iterdir()) == []


def test_second_server_on_a_live_socket_is_refused(tmp_path: Path) -> None:
    async def test(here: Served) -> None:
        with pytest.raises(OperatorError, match="another service listens"):
            await ControlSocket(here.path, [COPPER], here.told, here.fan_out).serve()
        assert (await ask(here.path, {"kettle": "copper", "do": "hold"}))["refused"] is None

    served(tmp_path, test)


def test_dead_socket_is_removed(tmp_path: Path) -> None:
    path = tmp_path / "control"
    with socket.socket(socket.AF_UNIX) as dead:
        dead.bind(str(path))

    async def test(here: Served) -> None:
        assert (await ask(here.path, {"kettle": "copper", "do": "hold"}))["refused"] is None

    served(tmp_path, test)


def test_file_that_is_no_socket_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "control"
    path.write_text("a letter")
    with pytest.raises(OperatorError, match="no socket"), listening(path):
        pass
    assert path.read_text() == "a letter"


@pytest.mark.parametrize("name", ["absent/control", "x" * 200])
def test_impossible_path_is_one_clear_error(tmp_path: Path, name: str) -> None:
    with pytest.raises(OperatorError, match=name), listening(tmp_path / name):
        pass


def test_asking_where_nobody_serves_is_one_clear_error(tmp_path: Path) -> None:
    async def main(_clock: PacedClock) -> None:
        with pytest.raises(OperatorError, match="no service listens there"):
            await ask(tmp_path / "absent", {"kettle": "copper", "do": "hold"})

    run_paced(main)
