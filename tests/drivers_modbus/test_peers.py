"""Independent peers: pymodbus's own server as the modules, and mbpoll (libmodbus) as the master of ours. Real time."""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import tty
from collections.abc import AsyncIterator

import pytest
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

from kettlebridge.drivers.modbus.codec import COIL_ON, Read, Trouble, TroubleKind, Write
from kettlebridge.drivers.modbus.exchange import Exchange
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.modbus.values import temperature_c
from kettlebridge.model.modbus_map import Area, Encoding, RegisterPlace, WordOrder
from kettlebridge.runtime.clock import RealClock
from kettlesim.wire_serial.pins import Pin
from tests.drivers_modbus.room import MAP, Room, running

MBPOLL = shutil.which("mbpoll")
needs_mbpoll = pytest.mark.skipif(MBPOLL is None, reason="mbpoll is not installed (Debian: apt install mbpoll)")
GUARD_S = 20.0


class Cable:
    """Two pseudo-terminals joined at their masters: what is written into one end comes out of the other."""

    def __init__(self) -> None:
        self._masters: list[int] = []
        self.ends: list[str] = []
        for _ in range(2):
            master, end = os.openpty()
            tty.setraw(end)
            os.set_blocking(master, False)
            self._masters.append(master)
            self.ends.append(os.ttyname(end))
            self._kept = [*getattr(self, "_kept", []), end]
        loop = asyncio.get_running_loop()
        for here, there in (self._masters, self._masters[::-1]):
            loop.add_reader(here, self._pass, here, there)

    def cut(self) -> None:
        """Both ends are gone."""
        for master in self._masters:
            asyncio.get_running_loop().remove_reader(master)
            os.close(master)
        for end in self._kept:
            os.close(end)

    @staticmethod
    def _pass(here: int, there: int) -> None:
        os.write(there, os.read(here, 4096))


@pytest.fixture
async def exchange() -> AsyncIterator[Exchange]:
    """Our end of a line at whose other end pymodbus's simulated devices sit."""
    cable = Cable()
    sensors = SimDevice(
        id=1,
        simdata=(
            [SimData(0, values=[False] * 16, datatype=DataType.BITS)],
            [SimData(0, values=[True, False, True] + [False] * 13, datatype=DataType.BITS)],
            [SimData(0, values=[0] * 4, datatype=DataType.REGISTERS)],
            [
                SimData(0, values=[664, -10], datatype=DataType.INT16),
                SimData(2, values=66.4, datatype=DataType.FLOAT32),
            ],
        ),
    )
    server = ModbusSerialServer(sensors, port=cable.ends[1], baudrate=9600)
    await server.serve_forever(background=True)
    clock = RealClock()
    port = await open_port(cable.ends[0], MAP, clock)
    settings = ModbusSettings(port=cable.ends[0], map=MAP, lease_s=3.0, bursts=True, require_simulated=False)
    yield Exchange(port, settings, clock)
    port.close()
    await server.shutdown()  # type: ignore[no-untyped-call]  # pymodbus does not say that it takes nothing
    cable.cut()


async def test_pymodbus_s_devices_are_read(exchange: Exchange) -> None:
    async with asyncio.timeout(GUARD_S):
        inputs = await exchange.ask(Read(unit=1, area=Area.INPUT_REGISTERS, address=0, count=4))
        bits = await exchange.ask(Read(unit=1, area=Area.DISCRETE_INPUTS, address=0, count=3))
    assert isinstance(inputs, tuple)
    tenths = RegisterPlace(unit=1, area=Area.INPUT_REGISTERS, address=0, scale=0.1)
    assert temperature_c(tenths, inputs[:1]) == pytest.approx(66.4)
    assert temperature_c(tenths, inputs[1:2]) == pytest.approx(-1.0)
    real = RegisterPlace(
        unit=1,
        area=Area.INPUT_REGISTERS,
        address=2,
        encoding=Encoding.FLOAT32,
        word_order=WordOrder.HIGH_FIRST,
    )
    assert temperature_c(real, inputs[2:]) == pytest.approx(66.4, abs=1e-5)
    assert bits == (1, 0, 1)


async def test_pymodbus_s_devices_are_written_and_read_back(exchange: Exchange) -> None:
    async with asyncio.timeout(GUARD_S):
        assert await exchange.ask(Write(unit=1, area=Area.COILS, address=2, value=COIL_ON)) == ()
        assert await exchange.ask(Read(unit=1, area=Area.COILS, address=0, count=4)) == (0, 0, 1, 0)
        assert await exchange.ask(Write(unit=1, area=Area.HOLDING_REGISTERS, address=3, value=0x0619)) == ()
        assert await exchange.ask(Read(unit=1, area=Area.HOLDING_REGISTERS, address=3, count=1)) == (0x0619,)


async def test_pymodbus_s_refusals_and_silences_are_told_apart(exchange: Exchange) -> None:
    async with asyncio.timeout(GUARD_S):
        refused = await exchange.ask(Read(unit=1, area=Area.INPUT_REGISTERS, address=900, count=1))
        assert refused == Trouble(kind=TroubleKind.REFUSED, code=2)


async def polled(room: Room, *arguments: str) -> tuple[int, str]:
    """What mbpoll said, once, on the simulated line."""
    assert MBPOLL is not None
    told = await asyncio.create_subprocess_exec(
        MBPOLL, "-m", "rtu", "-b", "9600", "-P", "none", "-0", "-1", "-o", "0.5", *arguments,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
    )  # fmt: skip
    output, _ = await told.communicate()
    assert told.returncode is not None
    return told.returncode, output.decode(errors="replace")


def values(output: str) -> list[int]:
    """The numbers of `[7]:  183` lines, without what mbpoll adds in brackets."""
    return [int(value) for value in re.findall(r"^\[\d+\]:\s+(-?\d+)", output, re.MULTILINE)]


@needs_mbpoll
@pytest.mark.process
async def test_mbpoll_reads_and_switches_the_simulated_modules() -> None:
    clock = RealClock()
    async with asyncio.timeout(GUARD_S), running(Room(clock)) as room:
        port = room.modules.port
        code, said = await polled(room, "-a", "1", "-t", "3", "-r", "0", port)
        assert code == 0, said
        assert [value / 10 for value in values(said)] == [pytest.approx(room.world.reading_c("control"), abs=0.7)]
        code, said = await polled(room, "-a", "2", "-t", "0", "-r", "2", port, "1")
        assert code == 0, said
        assert room.modules.pins.is_on(Pin.PUMP)
        code, said = await polled(room, "-a", "2", "-t", "0", "-r", "0", "-c", "3", port)
        assert (code, values(said)) == (0, [0, 0, 1]), said
        code, said = await polled(room, "-a", "1", "-t", "3", "-r", "900", port)
        assert code != 0
        assert "Illegal data address" in said
        code, said = await polled(room, "-a", "9", "-t", "3", "-r", "0", port)
        assert code != 0
        assert "timed out" in said
