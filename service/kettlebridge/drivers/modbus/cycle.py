"""One round of reading: its samples, and the report at its end. Pure: time is an argument."""

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


class Cycle:
    """Begun at `begun_s`, the age of everything in its report."""

    def __init__(self, relays: Mapping[Output, Relay], begun_s: float) -> None:
        self.begun_s = begun_s
        self.samples: list[Sample] = []
        self._relays = relays
        self._inputs = BoardInput.NONE
        self._read: set[Block] = set()

    def take(self, block: Block, values: Answer, asked_s: float) -> None:
        """An answer to `block`."""
        self._read.add(block)
        for point in block.points:
            self._take(point, block.values_of(point, values), asked_s)

    def miss(self, block: Block, trouble: Trouble | None, asked_s: float) -> None:
        """No answer to it: each of its probes has a fault."""
        fault = ReadingFault.NO_ANSWER if trouble is None else FAULTS[trouble.kind]
        for point in block.points:
            if isinstance(point.place, RegisterPlace):
                self.samples.append(Sample(probe=_probe(point), fault=fault, taken_s=asked_s))

    def vital_missing(self, blocks: Sequence[Block]) -> bool:
        """Whether a relay or an input was not read."""
        return any(block.vital and block not in self._read for block in blocks)

    def report(self, number: int, now_s: float, dropped_frames: int) -> BoardReport | None:
        """The account of a round in which everything vital was read. None for a line without relays and inputs."""
        if not self._relays and not self._inputs and not any(block.vital for block in self._read):
            return None
        done = {output: relay.reported_permille(now_s) for output, relay in self._relays.items()}
        leases_s = [left_s for relay in self._relays.values() if (left_s := relay.lease_left_s(now_s)) is not None]
        heater = self._relays.get(Output.HEATER)
        state = BoardState(
            acted_on=number,
            heater_permille=done.get(Output.HEATER, 0),
            heater_on_ms=round(heater.on_s(now_s) * 1000) if heater else 0,
            pump_on=done.get(Output.PUMP, 0) > 0,
            main_contactor_closed=done.get(Output.MAIN_CONTACTOR, 0) > 0,
            lease_left_s=min(leases_s, default=0.0),
            inputs=self._inputs,
            dropped_frames=dropped_frames,
        )
        return BoardReport(board=state, taken_s=self.begun_s)

    def _take(self, point: Point, values: Sequence[int], asked_s: float) -> None:
        place = point.place
        match place:
            case RegisterPlace():
                read = temperature_c(place, values)
                fault = read if isinstance(read, ReadingFault) else None
                value_c = None if isinstance(read, ReadingFault) else read
                self.samples.append(Sample(probe=_probe(point), value_c=value_c, fault=fault, taken_s=asked_s))
            case BitPlace():
                if bool(values[0]) != place.inverted and isinstance(point.owner, BoardInput):
                    self._inputs |= point.owner
            case _:
                relay = self._relays[Output(point.owner)]
                relay.read_on = relay.says_on(values[0])


def _probe(point: Point) -> ProbeName:
    return ProbeName(str(point.owner))
