"""Discovery in the convention of home-automation hubs: one message that describes a kettle as one device.

Sensors only: a hub that could switch the heater would be a second controller without any of the rules.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

from kettlebridge.model.kettle import Kettle
from kettlebridge.model.mqtt import Message
from kettlebridge.outbound.telemetry import OFFLINE, ONLINE, state_topic, status_topic

BIRTH_PAYLOAD = b"online"
ORIGIN = "kettlebridge"
PERIODS = 3.0
"""A sensor whose state was not renewed for so many periods is unavailable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One thing that the hub shows. `value` is the key of the state; the other words are the convention's."""

    key: str
    name: str
    value: str
    device_class: str | None = None
    unit: str | None = None
    state_class: str | None = "measurement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """One thing that is so or is not. `lit` is what its key of the state is then."""

    key: str
    name: str
    device_class: str | None = None


SENSORS: tuple[Sensor, ...] = (
    Sensor(key="says", name="Says", value="says | truncate(255, true, '')", state_class=None),
    Sensor(key="state", name="State", value="state", state_class=None),
    Sensor(key="step", name="Step", value="step", state_class=None),
    Sensor(key="temperature_c", name="Temperature", value="temperature_c", device_class="temperature", unit="°C"),
    Sensor(key="target_c", name="Target", value="target_c", device_class="temperature", unit="°C"),
    Sensor(key="remaining_min", name="Time left", value="remaining_min", device_class="duration", unit="min"),
    Sensor(key="heater_percent", name="Heater", value="heater_percent", unit="%"),
    Sensor(key="volume_l", name="Volume", value="volume_l", device_class="volume_storage", unit="L"),
    Sensor(
        key="energy_kwh",
        name="Energy",
        value="energy_kwh",
        device_class="energy",
        unit="kWh",
        state_class="total_increasing",
    ),
)
LAMPS: tuple[Lamp, ...] = (
    Lamp(key="pump", name="Pump", device_class="running"),
    Lamp(key="linked", name="Board", device_class="connectivity"),
    Lamp(key="alarm", name="Alarm", device_class="problem"),
    Lamp(key="waiting", name="Waits for you"),
)


def birth_topic(prefix: str) -> str:
    """Where a hub says that it has started and knows nothing yet."""
    return f"{prefix}/status"


def device_id(kettle: Kettle) -> str:
    """Of letters, digits, _ and - only, as the convention has it."""
    return f"kettlebridge_{re.sub('[^A-Za-z0-9_-]', '_', kettle.name)}"


def config(kettle: Kettle, base: str, prefix: str, *, period_s: float, version: str) -> Message:
    """The device with all its components."""
    device = device_id(kettle)
    described = {
        "dev": {
            "ids": [device],
            "name": kettle.name.capitalize(),
            "mf": ORIGIN,
            "mdl": f"{kettle.capacity_l:g} L, {kettle.heater_w:g} W",
            "sw": version,
        },
        "o": {"name": ORIGIN, "sw": version},
        "availability_topic": status_topic(base),
        "payload_available": ONLINE.decode(),
        "payload_not_available": OFFLINE.decode(),
        "state_topic": state_topic(base, kettle.name),
        "qos": 0,
        "cmps": _components(kettle, device, round(PERIODS * period_s)),
    }
    payload = json.dumps(described, ensure_ascii=False, separators=(",", ":")).encode()
    return Message(topic=f"{prefix}/device/{device}/config", payload=payload, retained=True)


def _components(kettle: Kettle, device: str, expire_s: int) -> dict[str, dict[str, Any]]:
    probes = (
        Sensor(
            key=f"probe_{probe.name}",
            name=f"Probe {probe.name}",
            value=f"probes['{probe.name}'].value_c",
            device_class="temperature",
            unit="°C",
        )
        for probe in kettle.probes
    )
    found = {sensor.key: _sensor(sensor, device, expire_s) for sensor in (*SENSORS, *probes)}
    return found | {lamp.key: _lamp(lamp, device, expire_s) for lamp in LAMPS}


def _sensor(sensor: Sensor, device: str, expire_s: int) -> dict[str, Any]:
    words = {
        "device_class": sensor.device_class,
        "unit_of_measurement": sensor.unit,
        "state_class": sensor.state_class,
    }
    return _component("sensor", sensor.key, sensor.name, device, expire_s) | {
        "value_template": f"{{{{ value_json.{sensor.value} }}}}",
        **{key: value for key, value in words.items() if value is not None},
    }


def _lamp(lamp: Lamp, device: str, expire_s: int) -> dict[str, Any]:
    words = {} if lamp.device_class is None else {"device_class": lamp.device_class}
    template = f"{{{{ 'ON' if value_json.{lamp.key} else 'OFF' }}}}"
    return _component("binary_sensor", lamp.key, lamp.name, device, expire_s) | {"value_template": template, **words}


def _component(platform: str, key: str, name: str, device: str, expire_s: int) -> dict[str, Any]:
    return {
        "p": platform,
        "name": name,
        "unique_id": f"{device}_{key}",
        "default_entity_id": f"{platform}.{device}_{key}".lower().replace("-", "_"),
        "expire_after": expire_s,
    }
