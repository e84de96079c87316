"""What is read in one go: neighbouring places of one module and one area. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from kettlebridge.drivers.modbus.codec import BIT_AREAS, MOST_BITS, MOST_REGISTERS, Read
from kettlebridge.drivers.modbus.values import SHAPES
from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.modbus_map import Area, BitPlace, ModbusMap, RegisterPlace, RelayPlace
from kettlebridge.model.reading import BoardInput


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One place and whose it is: a probe's, a relay's read-back, or an input's."""

    owner: ProbeName | Output | BoardInput
    place: RegisterPlace | RelayPlace | BitPlace
    count: int

    @property
    def words(self) -> str:
        """As a person knows it."""
        match self.owner:
            case Output():
                return f"relay {self.owner.value}"
            case BoardInput():
                return f"input {(self.owner.name or '').lower()}"
            case name:
                return f"probe {name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One request for all of `points`. `vital`: without it nobody knows what the relays or the inputs do."""

    read: Read
    points: tuple[Point, ...]

    @property
    def vital(self) -> bool:
        """Whether it holds anything but probes."""
        return any(not isinstance(point.place, RegisterPlace) for point in self.points)

    @property
    def words(self) -> str:
        """Whose places they are, and on which module."""
        return f"{', '.join(point.words for point in self.points)} (unit {self.read.unit})"

    def values_of(self, point: Point, values: Sequence[int]) -> Sequence[int]:
        """The part of an answer that is the point's."""
        first = point.place.address - self.read.address
        return values[first : first + point.count]


def blocks_of(line: ModbusMap) -> tuple[Block, ...]:
    """Everything to be read. Relays and inputs come first; only what touches is read together.

    A gap may hold an address that the module refuses, and with it the whole block.
    """
    areas: dict[tuple[int, Area], list[Point]] = defaultdict(list)
    for point in _points(line):
        areas[point.place.unit, point.place.area].append(point)
    blocks = [block for (unit, area), points in areas.items() for block in _joined(unit, area, points)]
    return tuple(sorted(blocks, key=lambda block: not block.vital))


def _points(line: ModbusMap) -> list[Point]:
    relays = [Point(owner=output, place=relay, count=1) for output, relay in line.relays.items()]
    inputs = [Point(owner=flag, place=bit, count=1) for flag, bit in line.inputs.items()]
    probes = [
        Point(owner=name, place=place, count=SHAPES[place.encoding].registers) for name, place in line.probes.items()
    ]
    return [*relays, *inputs, *probes]


def _joined(unit: int, area: Area, points: list[Point]) -> list[Block]:
    most = MOST_BITS if area in BIT_AREAS else MOST_REGISTERS
    runs: list[list[Point]] = []
    end = first = -1
    for point in sorted(points, key=lambda point: point.place.address):
        address = point.place.address
        if runs and address <= end and address + point.count - first <= most:
            runs[-1].append(point)
        else:
            runs.append([point])
            first, end = address, -1
        end = max(end, address + point.count)
    return [_block(unit, area, run) for run in runs]


def _block(unit: int, area: Area, run: list[Point]) -> Block:
    address = run[0].place.address
    count = max(point.place.address + point.count for point in run) - address
    return Block(read=Read(unit=unit, area=area, address=address, count=count), points=tuple(run))
