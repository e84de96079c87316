"""One kettle, one profile, one brewer, three wires: the day comes out alike.

An MQTT day is not the same to the millisecond in two runs: how long a session listens before it begins is drawn, and
which of several connections is served first within an instant is the broker's affair.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.mqtt import Broker
from kettlebridge.simulated.wires import REWIRED
from tests.drivers_mqtt.mosquitto import mosquitto, needs_mosquitto
from tests.scenarios.whole_day import Told, example, lived, wire_day

pytestmark = [pytest.mark.slow, needs_mosquitto]

SEED = 1
"""A day on which no rest comes near the bound of its alarm: there, a tenth of a degree decides what is told."""

OTHERS = ("modbus", "mqtt")

FOUND_WITHIN_S = 180.0
"""With other noise in its readings the boil of that day was found up to 107 s sooner or later; half as much again."""

OF_THE_WIRE = (EventCode.PROBE, EventCode.ALARM_CHANGED)
"""A serial board boots before its probes have a reading, modules have one at once; and an alarm that hovers at its
threshold comes and goes with the noise of a reading, which is another one for another converter."""


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Told]:
    """The day over each wire."""
    file, profile = wire_day()
    with mosquitto(tmp_path_factory.mktemp("broker")) as broker:
        at = Broker(host="127.0.0.1", port=broker.port)
        return {
            wire: lived(rewired(file, at), profile, tmp_path_factory.mktemp(wire), seed=SEED)
            for wire, rewired in REWIRED.items()
        }


def test_every_kind_of_wire_is_among_them(days: dict[str, Told]) -> None:
    assert set(days) == {"serial", *OTHERS}
    assert [day.state for day in days.values()] == [BatchState.COMPLETE] * 3


@pytest.mark.parametrize("wire", OTHERS)
def test_the_same_things_happen_in_the_same_order(days: dict[str, Told], wire: str) -> None:
    course = days["serial"].course(without=OF_THE_WIRE)
    assert days[wire].course(without=OF_THE_WIRE) == course
    assert len(course) > 100


@pytest.mark.parametrize("wire", OTHERS)
def test_each_step_takes_as_long_within_two_per_cent(days: dict[str, Told], wire: str) -> None:
    """The boil from when it was found: that comes sooner or later with the noise of the readings."""
    (until_found_s, serial), (other_until_found_s, other) = (lasted(days[one]) for one in ("serial", wire))
    assert other == pytest.approx(serial, rel=0.02, abs=2.0)
    assert other_until_found_s == pytest.approx(until_found_s, abs=FOUND_WITHIN_S)


def lasted(day: Told) -> tuple[float, list[float]]:
    """How long the boil took to be found, and then how long each step did."""
    assert day.boil_found_s is not None
    marks_s = sorted([0.0, day.boil_found_s, *(at_s for at_s, _ in day.step_ends)])
    spans_s = [end_s - begin_s for begin_s, end_s in pairwise(marks_s)]
    return spans_s.pop(marks_s.index(day.boil_found_s) - 1), spans_s


@pytest.mark.parametrize("wire", OTHERS)
def test_each_step_ends_as_warm_within_a_fifth_of_a_degree(days: dict[str, Told], wire: str) -> None:
    serial, other = ([end_c for _, end_c in days[one].step_ends] for one in ("serial", wire))
    assert len(serial) == len(example("thimble", "quillet_bitter")[1].steps)
    assert other == pytest.approx(serial, abs=0.2)
