"""Promise 32: a node that comes back switched on after its own power cut heats nothing and is never left alone."""

from __future__ import annotations

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.unattended import unattended_findings
from tests.files.loader import Loader
from tests.files.test_mqtt_kettle import MQTT

CONTACTOR = """
[relay.main_contactor]
[relay.main_contactor.mqtt]
command = "contactor/set"
state = "contactor/state"
auto_off_s = 3
rated_a = 16
after_power_cut = "off"
"""
PUMP = """
[relay.pump]
[relay.pump.mqtt]
command = "pump/set"
"""
STAYS_OFF = 'after_power_cut = "off"\n'


@pytest.mark.parametrize("policy", ["on", "restore", None])
@pytest.mark.parametrize("relay", ["heater", "main_contactor"])
def test_a_heating_relay_that_may_come_back_on_is_refused_with_its_place(
    loader: Loader, relay: str, policy: str | None
) -> None:
    whole = MQTT + CONTACTOR
    begin = whole.index(f"[relay.{relay}.mqtt]")
    line = "" if policy is None else f'after_power_cut = "{policy}"\n'
    (mistake,) = loader.mistakes(loader.kettle, whole[:begin] + whole[begin:].replace(STAYS_OFF, line, 1))
    assert f"relay.{relay}.mqtt.after_power_cut: " in mistake


@pytest.mark.parametrize(
    ("policy", "said"),
    [
        ("on", "its node comes back switched on"),
        ("restore", "its node comes back switched on"),
        (None, "nobody says what its node does"),
    ],
)
def test_a_pump_that_may_come_back_on_keeps_the_kettle_from_being_left_alone(
    loader: Loader, policy: str | None, said: str
) -> None:
    line = "" if policy is None else f'after_power_cut = "{policy}"\n'
    (finding,) = unattended_findings(loader.kettle(MQTT + CONTACTOR + PUMP + line))
    assert finding.key == "relay.pump.mqtt.after_power_cut"
    assert finding.line is not None
    assert said in finding.what


def test_a_kettle_whose_nodes_all_stay_off_may_be_left_alone_as_far_as_its_file_tells(loader: Loader) -> None:
    assert unattended_findings(loader.kettle(MQTT + CONTACTOR + PUMP + STAYS_OFF)) == ()


@pytest.mark.parametrize("name", ["thimble", "lockhouse", "slipway"])
def test_the_example_kettles_have_nothing_against_it(name: str) -> None:
    """A board that is off in reset, timed-on relays, nodes that stay off."""
    assert unattended_findings(load_kettle(config_folder() / "kettles" / f"{name}.toml")) == ()
