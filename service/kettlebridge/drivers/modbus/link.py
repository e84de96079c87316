"""A line of Modbus modules as a Bridge: renewals first, then reads; what was written is read back.

A cycle reads everything once and ends with a report; its number is what a demand acts on. Relays that lease are
renewed by `offer` alone, once for each finished tick. No timer here switches anything on; some switch off.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from contextlib import suppress

from kettlebridge.drivers.modbus.blocks import Block, blocks_of
from kettlebridge.drivers.modbus.codec import Answer, Trouble, TroubleKind, WhoAreYou
from kettlebridge.drivers.modbus.cycle import Account, Cycle
from kettlebridge.drivers.modbus.exchange import Exchange
from kettlebridge.drivers.modbus.orders import DOWN_ORDER, Orders
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.drivers.modbus.relays import Relay
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.modbus.watch import Watch
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock, Inbox

POLL_S = 0.5
SILENCE_S = 3.0
"""Without relays and inputs read for so long, the line counts as lost."""

JOIN_TRIES = 3
READ_TRIES = 2
"""Of relays and inputs in one cycle."""

SIMULATED = b"kettlesim"
"""What every simulated module puts into its server id; no other does."""

PASSING_EXCEPTIONS = frozenset({4, 5, 6, 11})
"""Exceptions that a later attempt may not meet. The others mean that the kettle file does not fit the module."""


class ModbusLine:
    """One port with its modules. `run` may be called again after it has ended."""

    def __init__(self, settings: ModbusSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._blocks = blocks_of(settings.map)
        self._watch = Watch(settings.port)
        self._tally: Counter[str] = Counter()
        self._cycles = 0
        self._orders: Orders | None = None
        self._relays: dict[Output, Relay] = {}
        self._bell = asyncio.Event()

    async def run(self, inbox: Inbox) -> None:
        """Opens, looks whether the line is free, and serves until cancelled. Raises LinkError."""
        settings = self._settings
        port = await open_port(settings.port, settings.map, self._clock)
        exchange = Exchange(port, settings, self._clock)
        joined = False
        try:
            await self._join(exchange)
            joined = True
            self._orders = Orders(self._relays, settings.lease_s)
            inbox.linked()
            await self._serve(exchange, self._orders, inbox)
        finally:
            self._orders = None
            try:
                if joined:
                    await self._leave(exchange)
            finally:
                port.close()

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """What a finished tick wants; never waits. Without a session, or empty: nothing is written."""
        if not demands:
            return
        if self._orders is None:
            self._tally["ignored_offers"] += 1
            return
        self._orders.take(demands, self._clock.now_s())
        self._bell.set()

    def all_off(self) -> None:
        """Every relay goes off before anything else is said on the line."""
        if self._orders is not None:
            self._orders.all_off()
            self._bell.set()

    def counts(self) -> dict[str, int]:
        """Oddities since the start, by name."""
        return dict(self._tally)

    async def _join(self, exchange: Exchange) -> None:
        """Nothing is switched: a relay that is on belongs to another master, or to a lease that ends by itself."""
        if self._settings.require_simulated:
            for unit in sorted({block.read.unit for block in self._blocks}):
                await self._see_that_it_is_simulated(exchange, unit)
        bursts = self._settings.bursts
        self._relays = {
            output: Relay(place, bursts=bursts and output is Output.HEATER)
            for output, place in self._settings.map.relays.items()
        }
        account = Account(self._blocks, self._relays, self._clock.now_s())
        for block in account.vital:
            Cycle(account).take(block, await self._first_answer(exchange, block), self._clock.now_s())
        taken = [output.value for output, relay in self._relays.items() if relay.read_on and relay.place.timed_on]
        if taken:
            detail = f"relay {' and '.join(taken)} on {self._settings.port} is on already"
            raise LinkError(LinkReason.BUSY, detail)

    async def _see_that_it_is_simulated(self, exchange: Exchange, unit: int) -> None:
        said = await exchange.ask(WhoAreYou(unit=unit))
        if isinstance(said, Trouble) or SIMULATED not in bytes(said):
            detail = f"unit {unit} on {self._settings.port} does not say it is simulated"
            raise LinkError(LinkReason.NOT_SIMULATED, detail)

    async def _first_answer(self, exchange: Exchange, block: Block) -> Answer:
        said: Answer | Trouble = ()
        for _ in range(JOIN_TRIES):
            said = await exchange.ask(block.read)
            if not isinstance(said, Trouble):
                return said
        detail = f"{block.words} on {self._settings.port} {said}"
        raise LinkError(_REASONS[said.kind] if isinstance(said, Trouble) else LinkReason.NO_ANSWER, detail)

    async def _serve(self, exchange: Exchange, orders: Orders, inbox: Inbox) -> None:
        account = Account(self._blocks, self._relays, self._clock.now_s())
        next_s = self._clock.now_s()
        while True:
            cycle = Cycle(account)
            for block in self._blocks:
                for _ in range(READ_TRIES if block.vital else 1):
                    await self._write_all(exchange, orders)
                    if await self._read(exchange, block, cycle):
                        break
                    if block.vital:
                        self._see_that_it_is_there(account)
            report = None
            if cycle.has_news:
                self._cycles += 1
                report = account.report(self._cycles, self._clock.now_s(), self._lost())
                orders.reported(self._cycles, report.taken_s)
            inbox.hear(tuple(cycle.samples), report)
            next_s = max(next_s + POLL_S, self._clock.now_s())
            await self._until(next_s, exchange, orders)

    def _see_that_it_is_there(self, account: Account) -> None:
        """Raises LinkError once relays or inputs have been unread for too long."""
        block, read_s = account.oldest()
        if self._clock.now_s() < read_s + SILENCE_S:
            return
        detail = f"{block.words} on {self._settings.port} {self._watch.trouble(block)} for {SILENCE_S:g} s"
        raise LinkError(LinkReason.LOST, detail)

    async def _until(self, when_s: float, exchange: Exchange, orders: Orders) -> None:
        """Writes what comes in until then."""
        sleeping = asyncio.create_task(self._ring_at(when_s), name=f"{self._settings.port} next cycle")
        try:
            while not sleeping.done():
                await self._write_all(exchange, orders)
                self._bell.clear()
                if not orders and not sleeping.done():
                    await self._bell.wait()
        finally:
            sleeping.cancel()
            await asyncio.wait({sleeping})

    async def _ring_at(self, when_s: float) -> None:
        try:
            await self._clock.sleep_until(when_s)
        finally:
            self._bell.set()

    async def _write_all(self, exchange: Exchange, orders: Orders) -> None:
        """Writes that wait. One that failed waits for the next round: the line is read in between."""
        failed = []
        orders.plain_off_when_forgotten(self._clock.now_s())
        while (todo := orders.next_write(self._clock.now_s())) is not None:
            order, write = todo
            said = await exchange.ask(write)
            if isinstance(said, Trouble):
                self._tally[f"writes_{said.kind.value}"] += 1
                self._see_that_it_may_pass(order.output, write.unit, said)
                failed.append(order)
        for order in failed:
            orders.again(order)

    def _see_that_it_may_pass(self, output: Output, unit: int, trouble: Trouble) -> None:
        if trouble.kind is TroubleKind.REFUSED and trouble.code not in PASSING_EXCEPTIONS:
            detail = f"relay {output.value} (unit {unit} on {self._settings.port}) {trouble}"
            raise LinkError(LinkReason.OTHER_BOARD, detail)

    async def _read(self, exchange: Exchange, block: Block, cycle: Cycle) -> bool:
        """Whether its values came."""
        asked_s = self._clock.now_s()
        if not self._watch.is_due(block, asked_s):
            cycle.miss(block, self._watch.trouble(block), asked_s)
            return False
        said = await exchange.ask(block.read)
        if isinstance(said, Trouble):
            self._tally[f"reads_{said.kind.value}"] += 1
            self._watch.failed(block, said, self._clock.now_s())
            cycle.miss(block, said, asked_s)
            return False
        self._watch.answered(block)
        cycle.take(block, said, asked_s)
        return True

    def _lost(self) -> int:
        return self._tally["reads_garbled"] + self._tally["writes_garbled"]

    async def _leave(self, exchange: Exchange) -> None:
        """Everything off, one attempt each; what does not arrive ends with its lease."""
        with suppress(LinkError):
            for output in DOWN_ORDER:
                if output in self._relays:
                    await exchange.ask(self._relays[output].off(self._clock.now_s()))


_REASONS = {
    TroubleKind.SILENT: LinkReason.NO_ANSWER,
    TroubleKind.GARBLED: LinkReason.NO_ANSWER,
    TroubleKind.REFUSED: LinkReason.OTHER_BOARD,
}
