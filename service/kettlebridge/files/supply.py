"""Several kettles loaded together: what one file alone cannot get wrong."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence

from kettlebridge.files.kettle_file import KettleFile, SerialLineBridge, load_kettle
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.kettle import Supply


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
    """Names or ports used twice, circuits described in two ways or loaded beyond what they carry."""
    return [mistake for rule in RULES for mistake in rule(files)]


def _names(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    yield from _taken(files, ("kettle", "name"), lambda file: file.kettle.name)


def _ports(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    """The same device under two paths counts as one port where the device is there to be looked at."""
    yield from _taken(files, ("bridge", "port"), _port)


def _boards(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    yield from _taken(files, ("bridge", "board_id"), _board_id)


def _heaters(files: Sequence[KettleFile]) -> Iterator[Mistake]:
    yield from _taken(files, ("relay", "heater", "mqtt", "command"), _heater_topic)


def _port(file: KettleFile) -> str | None:
    return os.path.realpath(file.bridge.port) if isinstance(file.bridge, SerialLineBridge) else None


def _board_id(file: KettleFile) -> str | None:
    return file.bridge.board_id if isinstance(file.bridge, SerialLineBridge) else None


def _heater_topic(file: KettleFile) -> str | None:
    if not isinstance(file.bridge, MqttBridge):
        return None
    return f"{file.bridge.relays[Output.HEATER].command} at {file.bridge.broker}"


def _taken(files: Iterable[KettleFile], key: KeyPath, value: Callable[[KettleFile], str | None]) -> Iterator[Mistake]:
    """What two files have in common; None is nobody's."""
    first: dict[str, KettleFile] = {}
    for file in files:
        own = value(file)
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
    _heaters,
    _circuits,
)
