"""Opening, and writing when the other side does not read."""

from __future__ import annotations

import asyncio
import fcntl
import os
import select
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.drivers.serial_line.port import UNSENT_LIMIT_BYTES, open_link
from kettlebridge.model.errors import LinkError, LinkReason
from tests.drivers.fake_board import GUARD_S

FRAMES_TO_FILL_A_PTY = 5000

Pty = tuple[int, str]


@pytest.fixture
def pty() -> Iterator[Pty]:
    master, slave = os.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    yield master, os.ttyname(slave)
    os.close(slave)
    os.close(master)


def ignore(*_what: object) -> None:
    pass


def received_until(master: int, ending: bytes) -> bytes:
    """The kernel hands bytes from one side of a pty to the other when it likes."""
    received = b""
    while not received.endswith(ending):
        assert select.select([master], [], [], GUARD_S)[0], received
        received += os.read(master, 4096)
    return received


async def refusal(path: str) -> LinkError:
    with pytest.raises(LinkError) as caught:
        await open_link(path, ignore, ignore)
    return caught.value


async def test_missing_port_is_named(tmp_path: Path) -> None:
    error = await refusal(str(tmp_path / "ttyUSB7"))
    assert error.reason is LinkReason.NO_PORT
    assert error.detail == f"{tmp_path}/ttyUSB7 is not there"


async def test_file_is_no_serial_port(tmp_path: Path) -> None:
    (tmp_path / "notes").write_text("not a port")
    error = await refusal(str(tmp_path / "notes"))
    assert error.reason is LinkReason.NO_PORT
    assert "is not a serial port" in error.detail


async def test_folder_is_no_serial_port(tmp_path: Path) -> None:
    assert "is not a serial port" in (await refusal(str(tmp_path))).detail


async def test_port_is_taken_by_the_first_and_free_again_when_it_closes(pty: Pty) -> None:
    first = await open_link(pty[1], ignore, ignore)
    error = await refusal(pty[1])
    assert error.reason is LinkReason.PORT_IN_USE
    assert error.detail == f"{pty[1]} is in use by another program"
    await first.close()
    second = await open_link(pty[1], ignore, ignore)
    await second.close()


async def test_port_is_taken_under_its_other_name_too(pty: Pty, tmp_path: Path) -> None:
    (tmp_path / "by-id").symlink_to(pty[1])
    first = await open_link(pty[1], ignore, ignore)
    assert (await refusal(str(tmp_path / "by-id"))).reason is LinkReason.PORT_IN_USE
    await first.close()


async def test_cancelled_opening_leaves_the_port_free(pty: Pty) -> None:
    opening = asyncio.create_task(open_link(pty[1], ignore, ignore))
    await asyncio.sleep(0)
    opening.cancel()
    with pytest.raises(asyncio.CancelledError):
        await opening
    await asyncio.get_running_loop().shutdown_default_executor()
    await asyncio.sleep(0)
    again = os.open(pty[1], os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(again, fcntl.LOCK_EX | fcntl.LOCK_NB)
    os.close(again)


async def test_what_waited_before_opening_is_kept_for_a_drain(pty: Pty) -> None:
    os.write(pty[0], b"left over")
    port = await open_link(pty[1], ignore, ignore)
    assert select.select([port._serial], [], [], GUARD_S)[0]
    assert port.drain() == b"left over"
    assert port.drain() == b""
    await port.close()


async def test_full_wire_loses_the_old_frames_and_takes_the_new_one_without_waiting(pty: Pty) -> None:
    port = await open_link(pty[1], ignore, ignore)
    for number in range(FRAMES_TO_FILL_A_PTY):
        port.write(b"%063d\n" % number)
        if port.flushes:
            break
    received = received_until(pty[0], b"%063d\n" % number)
    assert port.flushes
    assert len(received) < (number + 1) * 64
    await port.close()


async def test_more_than_the_limit_unsent_is_thrown_away_before_a_write(
    pty: Pty, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = await open_link(pty[1], ignore, ignore)
    unsent_bytes = [UNSENT_LIMIT_BYTES, UNSENT_LIMIT_BYTES + 1]
    monkeypatch.setattr(type(port._serial), "out_waiting", property(lambda _: unsent_bytes.pop(0)))  # a pty has none
    assert port.write(b"first") == 0
    assert port.flushes == 0
    assert port.write(b"second") == UNSENT_LIMIT_BYTES + 1
    assert port.flushes == 1
    assert received_until(pty[0], b"second") in {b"second", b"firstsecond"}
    await port.close()


async def test_write_to_a_closed_port_is_lost_and_raises_nothing(pty: Pty) -> None:
    port = await open_link(pty[1], ignore, ignore)
    await port.close()
    assert port.write(b"late") == 4
    assert port.drain() == b""
