"""One kettle, one profile, one brewer: over Modbus the day comes out as over the serial board."""

from __future__ import annotations

from itertools import pairwise

import pytest

from kettlebridge.cli.simulated_modbus import over_modbus
from kettlebridge.cli.simulated_wires import over_serial
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from tests.drivers_modbus.whole_day import Told, example, lived

pytestmark = pytest.mark.slow

SEED = 1
"""A day on which no rest comes near the bound of its alarm: there, a tenth of a degree decides what is told."""

OF_THE_WIRE = (EventCode.PROBE, EventCode.ALARM_CHANGED)
"""A serial board boots before its probes have a reading, modules have one at once; and an alarm that hovers at its
threshold comes and goes with the noise of a reading, which is another one for another converter."""


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> tuple[Told, Told]:
    """The serial day and the Modbus day."""
    file, profile = example("thimble", "quillet_bitter")
    serial, modbus = (
        lived(rewired(file), profile, tmp_path_factory.mktemp("state"), seed=SEED)
        for rewired in (over_serial, over_modbus)
    )
    return serial, modbus


def test_both_days_complete(days: tuple[Told, Told]) -> None:
    assert [day.state for day in days] == [BatchState.COMPLETE, BatchState.COMPLETE]


def test_the_same_things_happen_in_the_same_order(days: tuple[Told, Told]) -> None:
    serial, modbus = days
    course = serial.course(without=OF_THE_WIRE)
    assert modbus.course(without=OF_THE_WIRE) == course
    assert len(course) > 100


def test_each_step_takes_as_long_within_two_per_cent(days: tuple[Told, Told]) -> None:
    serial, modbus = ([0.0, *(at_s for at_s, _ in day.step_ends)] for day in days)
    lasted = [[end_s - begin_s for begin_s, end_s in pairwise(ends)] for ends in (serial, modbus)]
    assert lasted[1] == pytest.approx(lasted[0], rel=0.02, abs=2.0)


def test_each_step_ends_as_warm_within_a_fifth_of_a_degree(days: tuple[Told, Told]) -> None:
    serial, modbus = ([end_c for _, end_c in day.step_ends] for day in days)
    assert modbus == pytest.approx(serial, abs=0.2)
