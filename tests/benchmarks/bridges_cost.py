"""What each driver adds: from a reading to the demand that follows, messages a second, memory over many of them.

The latency is from the moment a board lets go of a reading to the moment at which the demand that follows from it
reaches a board, with a tick that takes no time: the driver, the kernel, and for MQTT the broker. Live, a demand waits
for its tick besides, up to a second.
"""

from __future__ import annotations

import asyncio
import gc
import statistics
import tempfile
import time
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import aiomqtt
import psutil

from kettlebridge.drivers.modbus import ModbusLine
from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.drivers.serial_line import SerialLine, SerialLineSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Bridge
from kettlebridge.runtime.clock import RealClock
from kettlesim.wire_modbus.line import ModbusLine as SimulatedLine
from tests.benchmarks.figure import Figure
from tests.drivers.fake_board import FakeBoard
from tests.drivers_modbus.room import MAP, Room, running
from tests.drivers_modbus.room import lived as lived_on_modbus
from tests.drivers_mqtt.bench import Bench, in_real_time, settings
from tests.drivers_mqtt.mosquitto import PROGRAM, Mosquitto, mosquitto

READINGS = 200
BETWEEN_S = 0.05
MESSAGES = 100_000
CHUNK = 20
MQTT_CHUNK = 500
RECONNECTS = 1000
SETTLED_AFTER = 0.1
"""The part of a run after which memory counts: caches are filled by then."""

NO_BROKER = Figure(text="not measured", how="needs mosquitto")
MB = 1e6


@dataclass(slots=True, kw_only=True)
class Inbox:
    """Counts what it hears; `on_hear` stands for the tick."""

    heard: int = 0
    last_c: float | None = None
    token: int = 0
    on_hear: Callable[[], None] = lambda: None
    linked_once: asyncio.Event = field(default_factory=asyncio.Event)
    news: asyncio.Event = field(default_factory=asyncio.Event)

    def linked(self) -> None:
        """A session."""
        self.linked_once.set()

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """The keeper's affair."""
        raise AssertionError(reason, detail)

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """One frame's worth."""
        self.heard += 1
        if samples and samples[-1].value_c is not None:
            self.last_c = samples[-1].value_c
        if report is not None:
            self.token = report.board.acted_on
        self.on_hear()
        self.news.set()

    async def until(self, holds: Callable[[], bool]) -> None:
        """Waits until `holds`, at each thing heard."""
        while not holds():
            self.news.clear()
            await self.news.wait()


class Memory:
    """How the resident set grows over a long run, from when it had settled."""

    def __init__(self, whole: int) -> None:
        self._settled_at = round(SETTLED_AFTER * whole)
        self._settled: int | None = None
        self._now = 0

    def look(self, done: int) -> None:
        """Of the whole, so many are done."""
        if done < self._settled_at:
            return
        gc.collect()
        self._now = psutil.Process().memory_info().rss
        if self._settled is None:
            self._settled = self._now

    @property
    def grown_mb(self) -> float:
        """In megabytes."""
        return (self._now - (self._settled or 0)) / MB


def _demands(token: int) -> tuple[Demand, ...]:
    permille = {Output.HEATER: 0, Output.PUMP: 1000, Output.MAIN_CONTACTOR: 1000, Output.BUZZER: 0}
    return tuple(
        Demand(output=output, permille=asked, ttl_ms=3000, acted_on=token) for output, asked in permille.items()
    )


def _latency(latencies_s: list[float], how: str) -> Figure:
    p99_s = statistics.quantiles(latencies_s, n=100)[98]
    return Figure(
        text=f"median {1e3 * statistics.median(latencies_s):.1f} ms, p99 {1e3 * p99_s:.1f} ms",
        how=f"{len(latencies_s)} readings, {how}",
    )


def _flat(rate: float, messages: Memory, reconnects: Memory, how: str) -> Figure:
    return Figure(
        text=f"{rate:,.0f} a second; memory {messages.grown_mb:+.1f} MB over {MESSAGES:,} messages, "
        f"{reconnects.grown_mb:+.1f} MB over {RECONNECTS:,} sessions",
        how=how,
    )


async def _sessions(bridge: Bridge, memory: Memory) -> None:
    """One after the other."""
    for number in range(1, RECONNECTS + 1):
        inbox = Inbox()
        session = asyncio.create_task(bridge.run(inbox), name="session")
        linked = asyncio.create_task(inbox.linked_once.wait(), name="linked")
        await asyncio.wait({session, linked}, return_when=asyncio.FIRST_COMPLETED)
        linked.cancel()
        session.cancel()
        with suppress(asyncio.CancelledError):
            await session
        if number % (RECONNECTS // 10) == 0:
            memory.look(number)


def _serial_line(board: FakeBoard) -> SerialLine:
    probes = {"28A1B2C3040506B4": ProbeName("mash"), "28D4E5F6070809E6": ProbeName("return")}
    told = SerialLineSettings(port=board.path, board_id="28A4", lease_s=3.0, probes=probes, require_simulated=True)
    return SerialLine(told, RealClock())


async def _on_serial(body: Callable[[FakeBoard, SerialLine, Inbox], Awaitable[None]]) -> None:
    board, inbox = FakeBoard(), Inbox()
    line = _serial_line(board)
    session = asyncio.create_task(line.run(inbox), name="session")
    try:
        await inbox.linked_once.wait()
        await body(board, line, inbox)
    finally:
        session.cancel()
        with suppress(asyncio.CancelledError):
            await session
        board.unplug()


def serial_latency() -> Figure:
    """Serial line, over a pty without any time of its own."""
    latencies_s: list[float] = []

    async def body(board: FakeBoard, line: SerialLine, inbox: Inbox) -> None:
        inbox.on_hear = lambda: line.offer(_demands(inbox.token))
        begun_s = time.perf_counter()
        for _ in range(READINGS):
            now_s = time.perf_counter()
            board.report(1000 + round(1000 * (now_s - begun_s)))
            await board.next("O")
            latencies_s.append(time.perf_counter() - now_s)
            await asyncio.sleep(BETWEEN_S)

    asyncio.run(_on_serial(body))
    return _latency(latencies_s, "over a pty; 38,400 baud would add 47 ms for the two frames")


def serial_load() -> Figure:
    """Reports as fast as the driver takes them, then sessions."""
    messages, reconnects, rates = Memory(MESSAGES), Memory(RECONNECTS), []

    async def body(board: FakeBoard, line: SerialLine, inbox: Inbox) -> None:
        begun_s = time.perf_counter()
        for sent in range(0, MESSAGES, CHUNK):
            for up_ms in range(sent, sent + CHUNK):
                board.report(1000 + up_ms)
            await inbox.until(lambda sent=sent: inbox.heard >= sent + CHUNK)  # type: ignore[misc]  # bound now
            if sent % (MESSAGES // 10) == 0:
                messages.look(sent)
        messages.look(MESSAGES)
        rates.append(MESSAGES / (time.perf_counter() - begun_s))

    async def again() -> None:
        board = FakeBoard()
        await _sessions(_serial_line(board), reconnects)
        board.unplug()

    asyncio.run(_on_serial(body))
    asyncio.run(again())
    return _flat(rates[0], messages, reconnects, "reports over a pty")


class _Stamps:
    """When a module let go of a temperature, and when a write reached one."""

    def __init__(self, line: SimulatedLine) -> None:
        self.latencies_s: list[float] = []
        self.enough = asyncio.Event()
        self._read_s: float | None = None
        write = line._port.write
        for module in line.modules.values():
            self._watch(module)

        def written(data: bytes) -> None:
            write(data)
            if data[1] in READS:
                self._read_s = time.perf_counter()

        line._port.write = written  # type: ignore[method-assign]  # seen from inside the wire

    def _watch(self, module: object) -> None:
        answer = module.answer  # type: ignore[attr-defined]  # as above

        def answered(request: object, at_ms: int) -> object:
            if request.function in WRITES and self._read_s is not None:  # type: ignore[attr-defined]  # as above
                self.latencies_s.append(time.perf_counter() - self._read_s)
                self._read_s = None
                if len(self.latencies_s) == READINGS:
                    self.enough.set()
            return answer(request, at_ms)

        module.answer = answered  # type: ignore[attr-defined]  # as above


READS = frozenset({3, 4})
WRITES = frozenset({5, 6, 15, 16})


def modbus_latency() -> Figure:
    """Modbus in real time, with the time that bytes take on the line."""

    async def main() -> list[float]:
        async with running(Room(RealClock())) as room:
            stamps = _Stamps(room.modules)
            line, inbox = room.line, Inbox()
            inbox.on_hear = lambda: line.offer(_demands(inbox.token))
            session = asyncio.create_task(line.run(inbox), name="session")
            await stamps.enough.wait()
            session.cancel()
            await asyncio.wait({session})
            return stamps.latencies_s

    return _latency(asyncio.run(main()), f"two modules at {MAP.baud} baud, whose time on the line is in it")


def modbus_load() -> Figure:
    """Answers and sessions in accelerated time: without the line's own time."""
    messages, reconnects = Memory(MESSAGES), Memory(RECONNECTS)

    async def answers(room: Room) -> float:
        session = asyncio.create_task(room.line.run(Inbox()), name="session")
        modules = room.modules.modules.values()
        looked, begun_s = 0, time.perf_counter()
        while (done := sum(module.requests for module in modules)) < MESSAGES:
            await room.after(10.0)
            if done - looked >= MESSAGES // 10:
                looked = done
                messages.look(done)
        messages.look(MESSAGES)
        rate = done / (time.perf_counter() - begun_s)
        session.cancel()
        await asyncio.wait({session})
        return rate

    async def again(room: Room) -> None:
        await _sessions(ModbusLine(room.settings, room.clock), reconnects)

    rate = lived_on_modbus(answers)
    lived_on_modbus(again)
    return _flat(rate, messages, reconnects, "questions and answers over a pty, the simulated modules' work included")


def mqtt_latency() -> Figure:
    """MQTT in real time, through a mosquitto on the same machine."""
    if PROGRAM is None:
        return NO_BROKER
    latencies_s: list[float] = []

    async def body(on: Bench) -> None:
        pump, arrived, inbox, answered = on.node(Output.PUMP), asyncio.Event(), Inbox(), set[float | None]({None})
        receive = pump.receive

        def received(topic: str, payload: bytes, now_s: float) -> None:
            receive(topic, payload, now_s)
            arrived.set()

        def tick() -> None:
            if inbox.last_c not in answered:
                answered.add(inbox.last_c)
                on.link.offer(_demands(inbox.token))

        on.session = on.beside(on.link.run(inbox), "session")
        await inbox.linked_once.wait()
        on.nodes.nodes[-1].deaf = True  # its place is taken by readings whose time is known
        pump.receive = received  # type: ignore[method-assign]  # the node's ear
        inbox.on_hear = tick
        async with aiomqtt.Client("127.0.0.1", on.broker.port) as node:
            for number in range(READINGS):
                arrived.clear()
                begun_s = time.perf_counter()
                await node.publish("sensors", _reading(number))
                await arrived.wait()
                latencies_s.append(time.perf_counter() - begun_s)
                await asyncio.sleep(BETWEEN_S)

    with tempfile.TemporaryDirectory() as folder, mosquitto(Path(folder)) as broker:
        in_real_time(broker, body, require_simulated=False)
    return _latency(latencies_s, "through a mosquitto on the same machine, which passes each message on twice")


def mqtt_load() -> Figure:
    """Readings from a program of its own as fast as the driver takes them, then sessions with a broker."""
    if PROGRAM is None:
        return NO_BROKER
    with tempfile.TemporaryDirectory() as folder, mosquitto(Path(folder)) as broker:
        return asyncio.run(_mqtt_load(broker))


async def _mqtt_load(broker: Mosquitto) -> Figure:
    messages, reconnects, inbox = Memory(MESSAGES), Memory(RECONNECTS), Inbox()
    link = MqttNodes(settings(broker.port, relays={}, require_simulated=False), RealClock())
    session = asyncio.create_task(link.run(inbox), name="session")
    await inbox.linked_once.wait()
    publisher = await asyncio.create_subprocess_exec(
        "mosquitto_pub",
        *("-h", "127.0.0.1", "-p", str(broker.port), "-t", "sensors", "-l"),
        stdin=asyncio.subprocess.PIPE,
    )
    assert publisher.stdin is not None
    begun_s = time.perf_counter()
    for sent in range(0, MESSAGES, MQTT_CHUNK):
        last = sent + MQTT_CHUNK - 1
        publisher.stdin.write("".join(f"{_reading(number)}\n" for number in range(sent, last + 1)).encode())
        await inbox.until(lambda last=last: inbox.last_c == _reading_c(last))  # type: ignore[misc]  # bound now
        if sent % (MESSAGES // 10) == 0:
            messages.look(sent)
    messages.look(MESSAGES)
    rate = MESSAGES / (time.perf_counter() - begun_s)
    publisher.stdin.close()
    await publisher.wait()
    session.cancel()
    with suppress(asyncio.CancelledError, LinkError):
        await session
    await _sessions(link, reconnects)
    return _flat(
        rate, messages, reconnects, "readings through a mosquitto; of those that wait, only the newest is told"
    )


def _reading_c(number: int) -> float:
    """A temperature that no other of the last thousand readings has."""
    return 20.0 + number % 1000 / 100


def _reading(number: int) -> str:
    return f'{{"wall": {{"c": {_reading_c(number)}}}}}'
