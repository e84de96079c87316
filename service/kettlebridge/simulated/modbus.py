"""Virtual modules as a kettle file describes them, on a pseudo-terminal: same units, addresses, encodings and times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe
from kettlebridge.model.modbus_map import Area, BitPlace, ModbusMap, RegisterPlace, RelayPlace, TimedOn, WordOrder
from kettlebridge.model.reading import BoardInput
from kettlebridge.ports import Clock
from kettlebridge.simulated.kettle import read_c
from kettlesim.wire_modbus.cells import Cell, Coil, Relay, Switch, SwitchRegister, Thermometer, Word
from kettlesim.wire_modbus.cells import TimedOn as TimedCell
from kettlesim.wire_modbus.line import ModbusLine
from kettlesim.wire_modbus.module import Module, Table
from kettlesim.wire_serial.line import Pace
from kettlesim.wire_serial.pins import Pin
from kettlesim.world import World

PINS: dict[Output, Pin] = {
    Output.HEATER: Pin.HEATER,
    Output.PUMP: Pin.PUMP,
    Output.MAIN_CONTACTOR: Pin.CONTACTOR,
}


PROBES_UNIT = 1
RELAYS_UNIT = 2
TIMED_COILS = 0x200
"""Where the timed-on coils of the demonstration's relay module begin."""

LEASED = frozenset({Output.HEATER, Output.MAIN_CONTACTOR})


def over_modbus(file: KettleFile) -> KettleFile:
    """The kettle with its probes on one module and its relays and inputs on another, whatever its file says."""
    kettle = file.kettle
    has = {
        Output.HEATER: True,
        Output.MAIN_CONTACTOR: kettle.has_main_contactor,
        Output.PUMP: kettle.has_pump,
    }
    wired = ModbusMap(
        probes={
            probe.name: RegisterPlace(unit=PROBES_UNIT, area=Area.INPUT_REGISTERS, address=address, scale=0.01)
            for address, probe in enumerate(kettle.probes)
        },
        relays={output: _relay_at(address, output) for address, output in enumerate(has) if has[output]},
        inputs={
            flag: BitPlace(unit=RELAYS_UNIT, area=Area.DISCRETE_INPUTS, address=address)
            for address, flag in enumerate(BoardInput)
            if flag in kettle.inputs
        },
    )
    return replace(file, bridge=ModbusBridge(port="", map=wired), also=())


def _relay_at(address: int, output: Output) -> RelayPlace:
    timed = TimedOn(area=Area.COILS, address=TIMED_COILS + address, step_ms=100)
    return RelayPlace(unit=RELAYS_UNIT, area=Area.COILS, address=address, timed_on=timed if output in LEASED else None)


def simulated_modules(
    wired: ModbusMap, probes: Mapping[ProbeName, Probe], clock: Clock, world: World, pace: Pace
) -> ModbusLine:
    """A line with every module that `wired` names, and nothing more at any address; `probes` are the kettle's."""
    line = ModbusLine(clock, world, baud=wired.baud, pace=pace)
    modules: dict[int, Module] = {}

    def put(unit: int, area: Area, address: int, cell: Cell) -> None:
        modules.setdefault(unit, Module(unit)).cells[Table(area.value), address] = cell

    for name, place in wired.probes.items():
        for index, word in enumerate(_words(place, world, probes[name])):
            put(place.unit, place.area, place.address + index, word)
    relays = []
    for output, relay_place in wired.relays.items():
        relay = Relay(line.pins, PINS[output])
        relays.append(relay)
        put(relay_place.unit, relay_place.area, relay_place.address, _switch(relay, relay_place))
        timed = relay_place.timed_on
        if timed is not None:
            cell = TimedCell(relay, timed.step_ms, timed.plus, timed.most_steps)
            put(relay_place.unit, timed.area, timed.address, cell)
    for flag, bit in wired.inputs.items():
        says = partial(line.says, (flag.name or "").lower())
        put(bit.unit, bit.area, bit.address, Switch(says, bit.inverted))
    line.add(modules.values(), relays)
    return line


def _words(place: RegisterPlace, world: World, probe: Probe) -> list[Word]:
    thermometer = Thermometer(partial(read_c, world, probe), place.encoding.value, place.scale, place.zero_c)
    thermometer.open_code = place.open_codes[0] if place.open_codes else None
    words = [Word(thermometer, index) for index in range(len(thermometer.words))]
    return words if place.word_order is WordOrder.HIGH_FIRST else words[::-1]


def _switch(relay: Relay, place: RelayPlace) -> Cell:
    return Coil(relay) if place.area is Area.COILS else SwitchRegister(relay, place.on, place.off)
