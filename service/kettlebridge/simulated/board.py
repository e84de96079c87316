"""A virtual board as a kettle file describes it: its id, its inputs, its probes by ROM id, on a pseudo-terminal."""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from kettlebridge.files.kettle_file import KettleFile, SerialLineBridge
from kettlebridge.model.errors import UsageError
from kettlebridge.ports import Clock
from kettlebridge.simulated.kettle import read_c
from kettlesim.wire_serial.board import VirtualBoard
from kettlesim.wire_serial.fittings import Drive, Fittings, Input
from kettlesim.wire_serial.line import ACCELERATED, SerialBoard
from kettlesim.wire_serial.probes import Probe, ProbeBus
from kettlesim.world import World


class Ported(Protocol):
    """What a host may open."""

    @property
    def port(self) -> str:
        """The path."""


def simulated_board(file: KettleFile, clock: Clock, world: World, *, seed: int) -> SerialBoard:
    """A board that answers as the file's own would, in accelerated time, with probes that need its calibration."""
    by_name = {str(probe.name): probe for probe in file.kettle.probes}
    bus = ProbeBus(
        tuple(Probe(name, probe.source) for name, probe in by_name.items()),
        lambda name: read_c(world, by_name[name]),
    )
    fittings = Fittings(
        id=_serial(file).board_id,
        drive=Drive(file.kettle.drive.value),
        inputs=Input(file.kettle.inputs.value),  # both are the bits of the wire
    )
    return SerialBoard(clock, world, VirtualBoard(fittings, bus, seed=seed), pace=ACCELERATED)


def wired_to(end: Ported, file: KettleFile) -> KettleFile:
    """The kettle file with its bridge at that port: a board's, or that of a cable before it."""
    return replace(file, bridge=replace(_serial(file), port=end.port))


def _serial(file: KettleFile) -> SerialLineBridge:
    if not isinstance(file.bridge, SerialLineBridge):
        raise UsageError(f"{file.path}: its bridge is no serial line")
    return file.bridge
