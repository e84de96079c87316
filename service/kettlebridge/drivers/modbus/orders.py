"""What finished ticks want of the relays, as single writes, most urgent first. Pure: time is an argument.

A demand that follows from a report older than the one before the newest is dropped: a board with a clock would call
it stale. Lowering comes before raising, the heater first down and last up.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from kettlebridge.drivers.modbus.codec import Write
from kettlebridge.drivers.modbus.relays import Relay
from kettlebridge.model.demand import Demand, Output

DOWN_ORDER = (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR)
UP_ORDER = (Output.MAIN_CONTACTOR, Output.PUMP, Output.HEATER)
REMEMBERED_REPORTS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One output's share of a demand, leased until `until_s`."""

    output: Output
    permille: int
    until_s: float


class Orders:
    """A latest-value slot: a newer demand takes the place of what is left of an older one."""

    def __init__(self, relays: Mapping[Output, Relay], lease_s: float) -> None:
        self.demanded_s: float | None = None
        self.ignored = 0
        self._relays = relays
        self._lease_s = lease_s
        self._waiting: deque[Order] = deque()
        self._reports: deque[tuple[int, float]] = deque(maxlen=REMEMBERED_REPORTS)

    def __bool__(self) -> bool:
        return bool(self._waiting)

    def reported(self, cycle: int, taken_s: float) -> None:
        """A report went out that a tick may act on."""
        self._reports.append((cycle, taken_s))

    def take(self, demands: tuple[Demand, ...], now_s: float) -> None:
        """What a finished tick wants. Raises ValueError for demands that contradict each other: a bug."""
        by_output = {demand.output: demand for demand in demands}
        if len(by_output) < len(demands) or any(demand.acted_on != demands[0].acted_on for demand in demands):
            raise ValueError(f"demands that contradict each other: {demands!r}")
        taken_s = dict(self._reports).get(demands[0].acted_on)
        if taken_s is None:
            self.ignored += 1
            return
        self.demanded_s = now_s
        wanted = [
            Order(
                output=output,
                permille=by_output[output].permille if output in by_output else 0,
                until_s=taken_s + min(self._lease_s, by_output[output].ttl_ms / 1000 if output in by_output else 0.0),
            )
            for output in self._relays
        ]
        self._replace(wanted)

    def all_off(self) -> None:
        """Everything is to go off, whatever was wanted."""
        self._replace([Order(output=output, permille=0, until_s=0.0) for output in self._relays])

    def plain_off_when_forgotten(self, now_s: float) -> None:
        """A relay without a lease of its own does not outlive the demands for it: nothing else would end it."""
        if self.demanded_s is None or now_s < self.demanded_s + self._lease_s:
            return
        self.demanded_s = None
        self._waiting.extend(
            Order(output=output, permille=0, until_s=0.0)
            for output, relay in self._relays.items()
            if relay.place.timed_on is None
        )

    def next_write(self, now_s: float) -> tuple[Order, Write] | None:
        """The most urgent write that has anything to do; it is no longer waiting then."""
        while self._waiting:
            order = self._waiting.popleft()
            write = self._relays[order.output].write(order.permille, order.until_s, now_s)
            if write is not None:
                return order, write
        return None

    def again(self, order: Order) -> None:
        """A write did not arrive. One that lowers is tried again, unless there is a newer one; others never."""
        newer = any(waiting.output is order.output for waiting in self._waiting)
        if order.permille == 0 and not newer:
            self._relays[order.output].wanted_permille = None
            self._waiting.append(order)

    def _replace(self, orders: list[Order]) -> None:
        lowering = [order for order in orders if order.permille < (self._wanted(order) or 0) or order.permille == 0]
        raising = [order for order in orders if order not in lowering]
        self._waiting = deque(
            [
                *sorted(lowering, key=lambda order: DOWN_ORDER.index(order.output)),
                *sorted(raising, key=lambda order: UP_ORDER.index(order.output)),
            ]
        )

    def _wanted(self, order: Order) -> int | None:
        return self._relays[order.output].wanted_permille
