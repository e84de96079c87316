"""Promise 5: no output heats that does not switch off by itself, or that cannot carry the load."""

from __future__ import annotations

from itertools import product

import pytest

from kettlebridge.model.demand import Output
from tests.files.loader import Loader
from tests.files.test_modbus_kettle import LOCKHOUSE
from tests.files.test_mqtt_kettle import MQTT
from tests.files.texts import swapped

HEATING = ("heater", "main_contactor")
LOAD_A = 2500 / 230

MQTT_RELAY = """
[relay.{name}]
{drive}[relay.{name}.mqtt]
command = "{name}/set"
state = "{name}/state"
after_power_cut = "off"
{lease}{rated}"""

HEATER_BEGINS = "[relay.heater]\n"
LEASES = {"auto_off_s = 3\n": True, "": False}
RATINGS = {f"rated_a = {1.25 * LOAD_A + 0.1:.1f}\n": True, f"rated_a = {1.25 * LOAD_A - 0.1:.1f}\n": False, "": False}


def on_mqtt(leases: dict[str, str], ratings: dict[str, str]) -> str:
    """The kettle with these relays on nodes; a pump has neither lease nor rating."""
    text = MQTT[: MQTT.index(HEATER_BEGINS)]
    for name in (*HEATING, "pump"):
        drive = 'drive = "contactor"\n' if name == "heater" else ""
        text += MQTT_RELAY.format(name=name, drive=drive, lease=leases.get(name, ""), rated=ratings.get(name, ""))
    return text


@pytest.mark.parametrize(
    "states", list(product(LEASES, LEASES, RATINGS, RATINGS)), ids=lambda one: ",".join("".join(one).split())
)
def test_a_node_heats_only_with_auto_off_and_a_rating_of_one_and_a_quarter_times_the_load(
    loader: Loader, states: tuple[str, str, str, str]
) -> None:
    heater_lease, contactor_lease, heater_rating, contactor_rating = states
    leases = dict(zip(HEATING, (heater_lease, contactor_lease), strict=True))
    ratings = dict(zip(HEATING, (heater_rating, contactor_rating), strict=True))
    text = on_mqtt(leases, ratings)
    wrong = {f"relay.{name}.mqtt.auto_off_s" for name in HEATING if not LEASES[leases[name]]}
    wrong |= {f"relay.{name}.mqtt.rated_a" for name in HEATING if not RATINGS[ratings[name]]}
    if wrong:
        assert {mistake.split(": ")[1] for mistake in loader.mistakes(loader.kettle, text)} == wrong
    else:
        assert loader.kettle(text).kettle.has_main_contactor


@pytest.mark.parametrize("name", HEATING)
def test_a_modbus_relay_heats_only_with_timed_on(loader: Loader, name: str) -> None:
    begin = LOCKHOUSE.index(f"[relay.{name}.modbus]")
    timed = next(line for line in LOCKHOUSE[begin:].splitlines() if line.startswith("timed_on"))
    step = next(line for line in LOCKHOUSE[begin:].splitlines() if line.startswith("step_ms"))
    plain = LOCKHOUSE[:begin] + LOCKHOUSE[begin:].replace(f"{timed}\n", "", 1).replace(f"{step}\n", "", 1)
    (mistake,) = loader.mistakes(loader.kettle, plain)
    assert f"relay.{name}.modbus.timed_on: missing: a relay without timed-on may drive a pump" in mistake


def test_a_plain_relay_may_drive_the_pump(loader: Loader) -> None:
    file = loader.kettle(on_mqtt(dict.fromkeys(HEATING, "auto_off_s = 3\n"), dict.fromkeys(HEATING, "rated_a = 16\n")))
    assert Output.PUMP in file.boards[0].outputs


@pytest.mark.parametrize("kind", ["gpio", "plug", ""])
def test_no_bridge_without_a_lease_can_be_named(loader: Loader, kind: str) -> None:
    """The computer's own pins among them: there is no such kind."""
    mistakes = loader.mistakes(loader.kettle, swapped(MQTT, 'kind = "mqtt"', f'kind = "{kind}"'))
    assert any("bridge.kind" in mistake for mistake in mistakes)
