"""The description for a hub, against rules written from the convention's documentation, without its code.

Source: home-assistant.io, page "MQTT" (source/_integrations/mqtt.markdown), "Device discovery payload": `dev` and `o`
are mandatory; each of `cmps` needs a platform `p` and, for an entity, a `unique_id`.

Device-based discovery: `<prefix>/device/<object id>/config` with `dev`, `o` and `cmps`; each component has a platform
`p` and a `unique_id`; ids are of letters, digits, _ and -.
"""

from __future__ import annotations

import json
import re
from typing import Any

import jinja2

from kettlebridge.outbound import discovery, telemetry
from tests.outbound.views import THIMBLE, VIEW

ID = re.compile(r"^[A-Za-z0-9_-]+$")
ENTITY = re.compile(r"^(sensor|binary_sensor)\.[a-z0-9_]+$")
READ_ONLY = {"sensor", "binary_sensor"}

MESSAGE = discovery.config(THIMBLE, "kettlebridge", "homeassistant", period_s=5.0, version="1.0")
TOLD: dict[str, Any] = json.loads(MESSAGE.payload)


def test_topic_names_a_device() -> None:
    match = re.fullmatch(r"homeassistant/device/([^/]+)/config", MESSAGE.topic)
    assert match is not None
    assert ID.match(match[1])
    assert MESSAGE.retained


def test_required_parts_are_there() -> None:
    assert TOLD["dev"]["ids"]
    assert TOLD["o"]["name"]
    assert TOLD["cmps"]


def test_every_component_can_only_be_read() -> None:
    assert {component["p"] for component in TOLD["cmps"].values()} == READ_ONLY
    assert "command_topic" not in MESSAGE.payload.decode()


def test_ids_are_unique_and_of_the_allowed_letters() -> None:
    uniques = [component["unique_id"] for component in TOLD["cmps"].values()]
    assert len(set(uniques)) == len(uniques)
    assert all(ID.match(text) for text in (*uniques, *TOLD["cmps"], *TOLD["dev"]["ids"]))
    entities = [component["default_entity_id"] for component in TOLD["cmps"].values()]
    assert all(ENTITY.match(entity) for entity in entities)
    assert len(set(entities)) == len(entities)


def test_states_expire_after_three_periods() -> None:
    assert {component["expire_after"] for component in TOLD["cmps"].values()} == {15}


def test_availability_follows_the_status_topic() -> None:
    status = telemetry.status("kettlebridge", online=True)
    assert TOLD["availability_topic"] == status.topic
    assert TOLD["payload_available"].encode() == status.payload


def test_every_template_finds_its_value_in_a_state() -> None:
    state = telemetry.state("kettlebridge", VIEW)
    assert TOLD["state_topic"] == state.topic
    value_json = json.loads(state.payload)
    environment = jinja2.Environment(undefined=jinja2.StrictUndefined, autoescape=False)  # noqa: S701 - no HTML here
    shown = {
        key: environment.from_string(component["value_template"]).render(value_json=value_json)
        for key, component in TOLD["cmps"].items()
    }
    assert shown["temperature_c"] == "66.44"
    assert shown["probe_wall"] == "66.44"
    assert shown["pump"] == "ON"
    assert shown["alarm"] == "OFF"
    assert {shown[key] for key, one in TOLD["cmps"].items() if one["p"] == "binary_sensor"} <= {"ON", "OFF"}


def test_there_is_a_sensor_for_each_probe() -> None:
    assert {f"probe_{probe.name}" for probe in THIMBLE.probes} <= set(TOLD["cmps"])
