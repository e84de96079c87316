"""One kettle, one profile, one brewer: over MQTT the day comes out as over the serial board."""

from __future__ import annotations

from itertools import pairwise

import pytest

from kettlebridge.cli.simulated_wires import REWIRED
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.mqtt import Broker
from tests.drivers_modbus.whole_day import Told, example, lived
from tests.drivers_mqtt.mosquitto import mosquitto, needs_mosquitto

pytestmark = [pytest.mark.slow, needs_mosquitto]

OF_THE_WIRE = (EventCode.PROBE, EventCode.ALARM_CHANGED)
"""A serial board boots before its probes have a reading; and an alarm that hovers at its threshold comes and goes with
the noise of a reading."""


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> tuple[Told, Told]:
    """The serial day and the MQTT day."""
    file, profile = example("thimble", "quillet_bitter")
    with mosquitto(tmp_path_factory.mktemp("broker")) as broker:
        at = Broker(host="127.0.0.1", port=broker.port)
        serial, mqtt = (
            lived(REWIRED[kind](file, at), profile, tmp_path_factory.mktemp(kind)) for kind in ("serial", "mqtt")
        )
    return serial, mqtt


def test_both_days_complete(days: tuple[Told, Told]) -> None:
    assert [day.state for day in days] == [BatchState.COMPLETE, BatchState.COMPLETE]


def test_the_same_things_happen_in_the_same_order(days: tuple[Told, Told]) -> None:
    serial, mqtt = days
    course = serial.course(without=OF_THE_WIRE)
    assert mqtt.course(without=OF_THE_WIRE) == course
    assert len(course) > 100


def test_each_step_takes_as_long_within_two_per_cent(days: tuple[Told, Told]) -> None:
    serial, mqtt = ([0.0, *(at_s for at_s, _ in day.step_ends)] for day in days)
    lasted = [[end_s - begin_s for begin_s, end_s in pairwise(ends)] for ends in (serial, mqtt)]
    assert lasted[1] == pytest.approx(lasted[0], rel=0.02, abs=2.0)


def test_each_step_ends_as_warm_within_a_fifth_of_a_degree(days: tuple[Told, Told]) -> None:
    serial, mqtt = ([end_c for _, end_c in day.step_ends] for day in days)
    assert mqtt == pytest.approx(serial, abs=0.2)
