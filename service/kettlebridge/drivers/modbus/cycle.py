"""Rounds of reading, and the account they leave of relays and inputs. Pure: time is an argument."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kettlebridge.drivers.modbus.blocks import Block, Point
from kettlebridge.drivers.modbus.codec import Answer, Trouble, TroubleKind
from kettlebridge.drivers.modbus.relays import Relay
from kettlebridge.drivers.modbus.values import temperature_c
from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.modbus_map import BitPlace, RegisterPlace
from kettlebridge.model.reading import BoardInput, BoardState, ReadingFault
from kettlebridge.model.sample import BoardReport, Sample

FAULTS = {
    TroubleKind.SILENT: ReadingFault.NO_ANSWER,
    TroubleKind.GARBLED: ReadingFault.BAD_CRC,
    TroubleKind.REFUSED: ReadingFault.REFUSED,
}


class Account:
    """How relays and inputs stand, each as it was last read. A report is as old as the oldest of these readings."""

    def __init__(self, blocks: Sequence[Block], relays: Mapping[Output, Relay], now_s: float) -> None:
        self.vital = tuple(block for block in blocks if block.vital)
        self.relays = relays
        self.inputs = BoardInput.NONE
        self._read_s = dict.fromkeys(self.vital, now_s)

    def read(self, block: Block, asked_s: float) -> None:
        """A vital block was asked for at `asked_s`, and answered."""
        self._read_s[block] = asked_s

    def oldest(self) -> tuple[Block, float]:
        """The block that was not read for the longest time, and when it was."""
        return min(self._read_s.items(), key=lambda one: one[1])

    def report(self, number: int, now_s: float, dropped_frames: int) -> BoardReport:
        """The account of everything vital."""
        done = {output: relay.reported_permille(now_s) for output, relay in self.relays.items()}
        leases_s = [left_s for relay in self.relays.values() if (left_s := relay.lease_left_s(now_s)) is not None]
        heater = self.relays.get(Output.HEATER)
        state = BoardState(
            acted_on=number,
            heater_permille=done.get(Output.HEATER, 0),
            heater_on_ms=round(heater.on_s(now_s) * 1000) if heater else 0,
            pump_on=done.get(Output.PUMP, 0) > 0,
            main_contactor_closed=done.get(Output.MAIN_CONTACTOR, 0) > 0,
            lease_left_s=min(leases_s, default=0.0),
            inputs=self.inputs,
            dropped_frames=dropped_frames,
        )
        return BoardReport(board=state, taken_s=self.oldest()[1])


class Cycle:
    """One round of reading. `has_news` once anything vital was read in it."""

    def __init__(self, account: Account) -> None:
        self.samples: list[Sample] = []
        self.has_news = False
        self._account = account

    def take(self, block: Block, values: Answer, asked_s: float) -> None:
        """An answer to `block`."""
        if block.vital:
            self.has_news = True
            self._account.read(block, asked_s)
        for point in block.points:
            self._take(point, block.values_of(point, values), asked_s)

    def miss(self, block: Block, trouble: Trouble | None, asked_s: float) -> None:
        """No answer to it: each of its probes has a fault."""
        fault = ReadingFault.NO_ANSWER if trouble is None else FAULTS[trouble.kind]
        for point in block.points:
            if isinstance(point.place, RegisterPlace):
                self.samples.append(Sample(probe=_probe(point), fault=fault, taken_s=asked_s))

    def _take(self, point: Point, values: Sequence[int], asked_s: float) -> None:
        match point.place:
            case RegisterPlace() as place:
                read = temperature_c(place, values)
                fault = read if isinstance(read, ReadingFault) else None
                value_c = None if isinstance(read, ReadingFault) else read
                self.samples.append(Sample(probe=_probe(point), value_c=value_c, fault=fault, taken_s=asked_s))
            case BitPlace() as place if isinstance(point.owner, BoardInput):
                without = self._account.inputs & ~point.owner
                self._account.inputs = without | point.owner if bool(values[0]) != place.inverted else without
            case _:
                relay = self._account.relays[Output(point.owner)]
                relay.read_on = relay.says_on(values[0])


def _probe(point: Point) -> ProbeName:
    return ProbeName(str(point.owner))
