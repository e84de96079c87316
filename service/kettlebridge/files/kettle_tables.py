"""The tables of a kettle file: their keys, ranges and meanings."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from kettlebridge.files.fields import (
    ID_WORDS,
    LONG_LINE_WORDS,
    Id,
    LongLine,
    SchemaOne,
    Table,
    choice,
    number,
    table,
    text,
)
from kettlebridge.files.modbus_tables import PLACE_WORDS as MODBUS_PLACE_WORDS
from kettlebridge.files.modbus_tables import ModbusInputTable, ModbusProbeTable, ModbusRelayTable, ModbusTable
from kettlebridge.files.mqtt_tables import PLACE_WORDS, MqttProbeTable, MqttRelayTable, MqttTable
from kettlebridge.model.kettle import ChillWay, HeaterDrive, MashTarget, ProbeRole, RegulatorKind

LOSS_W_PER_K_AT_25_L = 8.0
DEFAULT_LOSS_WORDS = "8 × (capacity_l / 25)^(2/3)"
HEATER_W = (300, 15_000)
LIMIT_OVER_BOIL_C = (1.0, 3.0)
DEFAULT_LIMIT_OVER_BOIL_C = 2.0
MARK_L = Annotated[float, Field(ge=0, le=200)]
MARK_CM = Annotated[float, Field(ge=0, le=200)]
CALIBRATION_C = Annotated[float, Field(ge=-10, le=110)]


class VesselTable(Table):
    """`[kettle]`: the vessel and its element."""

    name: Id = text(ID_WORDS, "how commands and records call this kettle")
    capacity_l: float = number("L", 3, 200, "volume to the brim")
    heater_w: float = number("W", *HEATER_W, "rated power of the element")
    mains_v: float = number("V", 100, 480, "rated voltage of the element")
    altitude_m: float | None = number(
        "m", -430, 5_000, "height above the sea, from which boil_c follows", default=None, default_words="or boil_c"
    )
    boil_c: float | None = number(
        "°C", 80, 103, "where water was seen to boil in this kettle", default=None, default_words="or altitude_m"
    )
    element_cover_l: float = number("L", 0.2, 100, "least volume that covers the element")
    under_basket_l: float = number("L", 0.2, 100, "volume below the floor of the grain basket")
    loss_w_per_k: float | None = number(
        "W/K", 0.5, 100, "heat lost for each kelvin above the room", default=None, default_words=DEFAULT_LOSS_WORDS
    )
    boil_off_l_per_h: float = number("L/h", 0.2, 30, "lost in an hour of the usual boil")
    dead_space_l: float = number("L", 0, 20, "left in kettle, pump and chiller after the transfer")
    grain_absorption_l_per_kg: float = number(
        "L/kg", 0.3, 1.5, "(water in - wort collected) / grain, both at 20 °C", default=0.65
    )
    basket_kg: float = number("kg", 0.1, 40, "the empty basket, for the warning before the lift")
    probe_delay_s: float = number("s", 1, 120, "delay from element to control probe, before it is learnt", default=20.0)
    pump_l_per_min: float = number("L/min", 0.5, 40, "what the pump moves through the grain", default=4.0)
    regulator: RegulatorKind = choice(
        "model: learns in every heat-up and knows where the heat is; pid: the plain one, tuned by these figures",
        default=RegulatorKind.MODEL,
    )
    mash_target: MashTarget = choice(
        "while the pump runs, a rest's temperature is that of the grain bed, or what the control probe reads",
        default=MashTarget.BED,
    )
    chill: ChillWay = choice("a coil in the kettle, or a chiller on the way to the fermenter")
    mark_l: list[MARK_L] | None = text(
        "2 to 40 rising numbers, 0 to 200 L",
        "litres poured in, basket out, of which mark_cm says how high they stood",
        default=None,
        min_length=2,
        max_length=40,
    )
    mark_cm: list[MARK_CM] | None = text(
        "2 to 40 rising numbers, 0 to 200 cm",
        "height of the surface above the floor, for each of mark_l",
        default=None,
        min_length=2,
        max_length=40,
    )


class SerialLineTable(Table):
    """`[bridge]` with `kind = "serial_line"`."""

    kind: Literal["serial_line"] = table("the wire to the board")
    port: LongLine = text(LONG_LINE_WORDS, "device of the serial port; a path under /dev/serial/by-id stays the same")
    board_id: str = text("1 to 16 upper-case hex digits", "the board's own id", pattern=r"^[0-9A-F]{1,16}$")


BridgeTable = Annotated[SerialLineTable | ModbusTable | MqttTable, Field(discriminator="kind")]


def _on_bridge() -> Any:
    return text(
        ID_WORDS,
        "NAME of the [also.NAME] that it hangs on",
        default=None,
        default_words="[bridge]",
    )


class ProbeTable(Table):
    """`[probe.NAME]`: one temperature probe."""

    source: LongLine = text(
        f"serial_line: the 16 hex digits of the probe's ROM id; modbus: {MODBUS_PLACE_WORDS}; mqtt: {PLACE_WORDS}",
        "what the board calls the probe",
    )
    role: ProbeRole = choice("where the probe sits; each role once, control always")
    offset_c: float = number("°C", -5, 5, "added to every reading", default=0.0)
    read_c: list[CALIBRATION_C] | None = text(
        "two numbers, -10 to 110 °C",
        "what the probe read at two known temperatures",
        default=None,
        min_length=2,
        max_length=2,
    )
    true_c: list[CALIBRATION_C] | None = text(
        "two numbers, -10 to 110 °C", "what those temperatures were", default=None, min_length=2, max_length=2
    )
    bridge: Id | None = _on_bridge()
    modbus: ModbusProbeTable | None = table('on a bridge of kind = "modbus"', default=None)
    mqtt: MqttProbeTable | None = table('on a bridge of kind = "mqtt"', default=None)


class PlainRelayTable(Table):
    """A relay that is there; it needs no figures."""

    bridge: Id | None = _on_bridge()
    modbus: ModbusRelayTable | None = table('on a bridge of kind = "modbus"', default=None)
    mqtt: MqttRelayTable | None = table('on a bridge of kind = "mqtt"', default=None)


class HeaterTable(PlainRelayTable):
    """`[relay.heater]`."""

    drive: HeaterDrive = choice("what switches the element: an SSR in bursts of 1 s, a contactor in steps of 10 s")


class RelaysTable(Table):
    """`[relay]`: what the board switches."""

    heater: HeaterTable = table("the element's own switch")
    main_contactor: PlainRelayTable | None = table("the safety switch before the element's own", default=None)
    pump: PlainRelayTable | None = table("the wort pump", default=None)


class InputTable(Table):
    """`[input.NAME]`: one digital input of the board."""

    role: Literal["foam", "flow", "level", "confirm", "cutout", "stop", "load"] = table(
        "what the input tells; each role once"
    )
    bridge: Id | None = _on_bridge()
    modbus: ModbusInputTable | None = table('on a bridge of kind = "modbus"', default=None)


class SafetyTable(Table):
    """`[safety]`: limits that may be tightened."""

    limit_c: float | None = number(
        "°C",
        81,
        106,
        "above it at the control probe the heater goes off, whatever the step; boil_c + 1 to boil_c + 3",
        default=None,
        default_words="boil_c + 2",
    )
    lease_s: float = number(
        "s",
        0.2,
        5,
        "how long the board keeps an output on without a fresh demand (one comes every second)",
        default=3.0,
    )
    code: str | None = text(
        "4 to 12 letters or digits",
        "posted at the kettle: who gives it counts as standing there; without it only the board's button does",
        default=None,
        pattern=r"^[A-Za-z0-9]{4,12}$",
    )


class SupplyTable(Table):
    """`[supply]`: the circuit that the kettle hangs on."""

    circuit: Id = text(ID_WORDS, "kettles that name the same circuit share it")
    max_w: float = number("W", 300, 50_000, "what the circuit may be loaded with, the same in every file")


class KettleTables(Table):
    """A kettle file."""

    schema_version: SchemaOne = Field(alias="schema", description="version of this form of file")
    kettle: VesselTable = table("the vessel and its element")
    bridge: BridgeTable = table("the board and the wire to it")
    also: dict[Id, BridgeTable] = table("further boards; what hangs on one says so with bridge", default={})
    probe: dict[Id, ProbeTable] = table("temperature probes")
    relay: RelaysTable = table("[relay.heater] at least")
    input: dict[Id, InputTable] = table("digital inputs", default={})
    safety: SafetyTable = table("limits", default=SafetyTable.model_construct())
    supply: SupplyTable | None = table("the circuit; without it the kettle has its power to itself", default=None)
