"""Promise 6 over whole days on the other two wires: a bad cable before Modbus modules, a bad radio before MQTT nodes.

The line protocol's day is in test_bad_cable. A module or a node has no clock that an order could be late by, so what
was held up may act when it comes; it may not come from nowhere.
"""

from __future__ import annotations

from bisect import bisect_left

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Output
from kettlebridge.model.mqtt import Broker
from kettlebridge.runtime.clock import run_paced
from kettlebridge.simulated.modbus import over_modbus
from kettlebridge.simulated.nodes import over_mqtt
from kettlesim.line_proxy import Damage as CableDamage
from kettlesim.wire_mqtt.radio import Damage, Radio
from tests.drivers_mqtt.mosquitto import mosquitto, needs_mosquitto
from tests.scenarios.paced_day import START_UTC_S, Day, Seen, Vessel
from tests.scenarios.spoilt_wires import on_modules, on_nodes
from tests.scenarios.whole_day import wire_day

LEASE_S = 3.0
MOST_HELD = 30
"""Pauses in a day of some 5,000 s; each ends with the brewer at the kettle. They come by chance, up to ten on a busy
machine whose answers come late; a day that no longer runs between them has hundreds."""

BAD_CABLE = CableDamage(
    drop=0.01, truncate=0.005, flip=0.02, duplicate=0.01, swap=0.01, least_delay_s=0.0, most_delay_s=0.1
)
BAD_RADIO = Damage(lost_fraction=0.008, doubled_fraction=0.03, late_fraction=0.04, late_s=0.9)
"""With 2 % lost and 10 % late, three reports in a row go missing some two hundred times a day."""

pytestmark = [pytest.mark.slow, needs_mosquitto]


@pytest.fixture(scope="module")
def modbus(tmp_path_factory: pytest.TempPathFactory) -> Seen:
    """A whole day over Modbus behind the bad cable."""
    file, profile = wire_day()
    vessel = Vessel(file=over_modbus(file), profile=profile, damage=BAD_CABLE)
    day = Day({"thimble": vessel}, tmp_path_factory.mktemp("modbus"))
    day.wired = on_modules()
    run_paced(day.live, start_utc_s=START_UTC_S)
    return day.seen["thimble"]


@pytest.fixture(scope="module")
def radio() -> Radio:
    """The bad one."""
    return Radio(BAD_RADIO, seed=5)


@pytest.fixture(scope="module")
def mqtt(tmp_path_factory: pytest.TempPathFactory, radio: Radio) -> Seen:
    """A whole day over MQTT behind the bad radio."""
    file, profile = wire_day()
    with mosquitto(tmp_path_factory.mktemp("broker")) as broker:
        vessel = Vessel(file=over_mqtt(file, Broker(host="127.0.0.1", port=broker.port)), profile=profile)
        day = Day({"thimble": vessel}, tmp_path_factory.mktemp("mqtt"))
        day.wired = on_nodes(radio)
        run_paced(day.live, start_utc_s=START_UTC_S)
    return day.seen["thimble"]


@pytest.fixture(params=["modbus", "mqtt"])
def seen(request: pytest.FixtureRequest) -> Seen:
    """Either day."""
    day = request.getfixturevalue(request.param)
    assert isinstance(day, Seen)
    return day


def unwanted(seen: Seen) -> list[tuple[float, Output]]:
    """What went on without having been offered within the lease before."""
    times_s = [at_s for at_s, _ in seen.offered]
    wrong = []
    for at_s, output in seen.raised:
        recent = seen.offered[bisect_left(times_s, at_s - LEASE_S) : bisect_left(times_s, at_s + 1e-9)]
        wants = [dict(zip(ORDER, triple, strict=True))[output] for _, triple in recent]
        if not any(wants):
            wrong.append((at_s, output))
    return wrong


ORDER = (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR)


def test_the_day_completes_all_the_same(seen: Seen) -> None:
    assert seen.state is BatchState.COMPLETE
    assert seen.held <= MOST_HELD


def test_nothing_went_on_that_the_controller_did_not_want(seen: Seen) -> None:
    assert {output for _, output in seen.raised} == set(ORDER)
    assert unwanted(seen) == []


def test_many_frames_were_spoilt_in_both_directions(modbus: Seen) -> None:
    assert modbus.proxy is not None
    for lane in (modbus.proxy.to_board, modbus.proxy.to_host):
        assert lane.damaged > 0.03 * lane.frames > 500
        assert set(lane.spoilt) == {"drop", "truncate", "flip", "duplicate", "swap"}


@pytest.mark.usefixtures("mqtt")
def test_many_messages_were_lost_doubled_and_overtaken(radio: Radio) -> None:
    assert min(radio.lost, radio.doubled, radio.late) > 300


def test_the_check_itself_finds_an_output_nobody_wanted() -> None:
    forged = Seen(offered=[(10.0, (300, True, True))], raised=[(11.0, Output.PUMP), (14.0, Output.HEATER)])
    assert unwanted(forged) == [(14.0, Output.HEATER)]
