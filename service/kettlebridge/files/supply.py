"""Several kettles loaded together: what one file alone cannot get wrong."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence

from kettlebridge.files.kettle_file import Board, KettleFile, SerialLineBridge, load_kettle
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.kettle import ProbeRole, Supply


def load_kettles(paths: Sequence[str | os.PathLike[str]]) -> tuple[KettleFile, ...]:
    """Reads several kettle files for one service. Raises FileError with the mistakes of all of them."""
    files: list[KettleFile] = []
    mistakes: list[Mistake] = []
    for path in paths:
        try:
            files.append(load_kettle(path))
        except FileError as error:
            mistakes += error.mistakes
    mistakes += together_mistakes(files)
    if mistakes:
        raise FileError(tuple(mistakes))
    return tuple(files)


def together_mistakes(files: Sequence[KettleFile]) -> list[Mistake]:
    """Names, ports, probes or nodes used twice, circuits described in two ways or loaded beyond what they carry."""
    return [mistake for rule in RULES for mistake in rule(files)]


def _names(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    first: dict[str, KettleFile] = {}
    for file in files:
        yield from _told(file, ("kettle", "name"), file.kettle.name, first)


def _ports(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    """The same device under two paths counts as one port where the device is there to be looked at."""
    yield from _taken(files, "port", _port)


def _boards(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    yield from _taken(files, "board_id", lambda board: getattr(board.bridge, "board_id", None))


def _orders(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    """Topics that order a node: what one kettle tells it, another would take for a stranger's word."""
    first: dict[str, KettleFile] = {}
    for file in files:
        for broker, bridge in _on_brokers(file):
            for output, relay in bridge.relays.items():
                yield from _told(file, ("relay", output.value, "mqtt", "command"), f"{relay.command}{broker}", first)


OF_ITS_LIQUID = frozenset({ProbeRole.CONTROL, ProbeRole.SAME_PLACE, ProbeRole.RETURN})


def _probes(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    """A probe is in one kettle's liquid; the other would be heated by what this one's says. A room may be shared."""
    first: dict[str, KettleFile] = {}
    for file in files:
        roles = {probe.name: probe.role for probe in file.kettle.probes}
        for broker, bridge in _on_brokers(file):
            for name, probe in bridge.probes.items():
                if roles[name] in OF_ITS_LIQUID:
                    yield from _told(file, ("probe", name, "source"), f"{probe.place}{broker}", first)


def _port(board: Board) -> str | None:
    return os.path.realpath(board.bridge.port) if isinstance(board.bridge, SerialLineBridge | ModbusBridge) else None


def _on_brokers(file: KettleFile) -> Iterator[tuple[str, MqttBridge]]:
    """Each of its bridges over MQTT, behind the words that name its broker."""
    for board in file.boards:
        if isinstance(board.bridge, MqttBridge):
            yield f" at {board.bridge.broker}", board.bridge


def _taken(files: Iterable[KettleFile], key: str, value: Callable[[Board], str | None]) -> Iterator[Mistake]:
    """What boards of two files have in common; None is nobody's."""
    first: dict[str, KettleFile] = {}
    for file in files:
        for board in file.boards:
            table: KeyPath = ("also", board.name) if board.name else ("bridge",)
            yield from _told(file, (*table, key), value(board), first)


def _told(file: KettleFile, key: KeyPath, own: str | None, first: dict[str, KettleFile]) -> Iterator[Mistake]:
    holder = file if own is None else first.setdefault(own, file)
    if holder is not file:
        yield file.mistake(key, f'"{own}" is taken by {holder.path}: each kettle has its own')


def _circuits(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    circuits: dict[str, list[tuple[KettleFile, Supply]]] = defaultdict(list)
    for file in files:
        if file.kettle.supply is not None:
            circuits[file.kettle.supply.circuit].append((file, file.kettle.supply))
    for circuit, members in circuits.items():
        yield from _one_circuit(circuit, members)


def _one_circuit(circuit: str, members: Sequence[tuple[KettleFile, Supply]]) -> Iterator[Mistake]:
    first, supply = members[0]
    for file, other in members[1:]:
        if other.max_w != supply.max_w:
            yield file.mistake(
                ("supply", "max_w"),
                f'{other.max_w:g} W for circuit "{circuit}", but {first.path} says {supply.max_w:g} W',
            )
    least_w = min(other.max_w for _, other in members)
    total_w = sum(file.kettle.heater_w for file, _ in members)
    if len(members) > 1 and total_w > least_w:
        names = ", ".join(file.kettle.name for file, _ in members)
        for file, _ in members:
            yield file.mistake(
                ("supply", "circuit"),
                f'"{circuit}" carries {least_w:g} W, but {names} may draw {total_w:g} W together: '
                "start fewer of them, or put one on another circuit",
            )


RULES: tuple[Callable[[Sequence[KettleFile]], Iterator[Mistake]], ...] = (
    _names,
    _ports,
    _boards,
    _orders,
    _probes,
    _circuits,
)
