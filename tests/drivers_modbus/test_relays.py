"""What is written to a relay, and what its read-back means."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from kettlebridge.drivers.modbus.codec import COIL_OFF, COIL_ON, Write
from kettlebridge.drivers.modbus.orders import Orders
from kettlebridge.drivers.modbus.relays import Relay
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.modbus_map import Area, RelayPlace, TimedOn

TIMED = TimedOn(area=Area.COILS, address=0x200, step_ms=100)
LEASED = RelayPlace(unit=2, area=Area.COILS, address=0, timed_on=TIMED)
PLAIN = RelayPlace(unit=2, area=Area.COILS, address=1)


def timed(steps: int) -> Write:
    return Write(unit=2, area=Area.COILS, address=0x200, value=steps)


def plain(value: int, address: int = 0) -> Write:
    return Write(unit=2, area=Area.COILS, address=address, value=value)


def test_full_power_is_leased_until_the_demand_ends_and_no_longer() -> None:
    relay = Relay(LEASED, bursts=False)
    assert relay.write(1000, until_s=13.0, now_s=10.25) == timed(27)
    assert relay.lease_left_s(11.0) == pytest.approx(1.95)


def test_a_demand_whose_lease_has_ended_switches_off() -> None:
    assert Relay(LEASED, bursts=False).write(1000, until_s=13.0, now_s=13.0) == plain(COIL_OFF)


def test_a_lease_is_never_longer_than_the_module_can_count() -> None:
    assert Relay(LEASED, bursts=False).write(1000, until_s=100.0, now_s=0.0) == timed(255)


def test_a_register_takes_its_own_offset_and_values() -> None:
    in_seconds = TimedOn(area=Area.HOLDING_REGISTERS, address=3, step_ms=1000, plus=0x0600)
    place = RelayPlace(unit=2, area=Area.HOLDING_REGISTERS, address=3, on=0x0100, off=0x0200, timed_on=in_seconds)
    relay = Relay(place, bursts=False)
    assert relay.write(1000, 3.0, 0.25) == Write(unit=2, area=Area.HOLDING_REGISTERS, address=3, value=0x0602)
    assert relay.off(1.0) == Write(unit=2, area=Area.HOLDING_REGISTERS, address=3, value=0x0200)


def on_time_s(relay: Relay, ticks: Iterable[tuple[float, int]]) -> float:
    """What the module's contact does, simulated here by the newest write alone."""
    on_s, since_s, until_s = 0.0, 0.0, 0.0
    for now_s, permille in ticks:
        write = relay.write(permille, until_s=now_s + 3.0, now_s=now_s)
        if write is None:
            continue
        on_s += max(0.0, min(now_s, until_s) - since_s)
        since_s = now_s
        until_s = now_s + (write.value * 0.1 if write.address == TIMED.address else 0.0)
    return on_s + max(0.0, until_s - since_s)


@pytest.mark.parametrize("permille", [10, 55, 333, 350, 777, 990])
def test_bursts_come_to_the_wanted_mean(permille: int) -> None:
    relay = Relay(LEASED, bursts=True)
    total_s = on_time_s(relay, [(float(n), permille) for n in range(1000)])
    assert total_s == pytest.approx(permille, abs=0.2)
    assert relay.on_s(1001.0) == pytest.approx(total_s, abs=0.11)


def test_a_burst_never_outlives_its_second() -> None:
    relay = Relay(LEASED, bursts=True)
    writes = [relay.write(990, now_s + 3.0, now_s) for now_s in map(float, range(100))]
    assert max(write.value for write in writes if write is not None) <= 10


def test_a_tick_between_times_adds_nothing_to_a_burst() -> None:
    relay = Relay(LEASED, bursts=True)
    assert relay.write(500, 3.0, 0.0) == timed(5)
    assert relay.write(500, 3.0, 0.3) is None
    assert relay.write(900, 3.0, 0.4) is None


def test_lowering_acts_within_a_burst() -> None:
    relay = Relay(LEASED, bursts=True)
    relay.write(800, 3.0, 0.0)
    assert relay.write(500, 3.0, 0.3) == timed(2)
    assert relay.write(100, 3.0, 0.4) == plain(COIL_OFF)


def test_from_full_power_to_a_little_the_long_lease_is_cut() -> None:
    relay = Relay(LEASED, bursts=True)
    relay.write(1000, 3.0, 0.0)
    assert relay.write(20, 4.0, 1.0) == plain(COIL_OFF)


def test_off_is_written_once_and_again_while_the_read_back_says_on() -> None:
    relay = Relay(LEASED, bursts=False)
    assert relay.write(0, 0.0, 0.0) == plain(COIL_OFF)
    relay.read_on = False
    assert relay.write(0, 0.0, 1.0) is None
    relay.read_on = True
    assert relay.write(0, 0.0, 2.0) == plain(COIL_OFF)


def test_a_plain_relay_is_written_when_it_is_not_as_wanted() -> None:
    relay = Relay(PLAIN, bursts=False)
    assert relay.write(1000, 3.0, 0.0) == plain(COIL_ON, address=1)
    relay.read_on = True
    assert relay.write(1000, 4.0, 1.0) is None
    relay.read_on = False
    assert relay.write(1000, 5.0, 2.0) == plain(COIL_ON, address=1)


def test_a_share_of_full_power_needs_bursts() -> None:
    with pytest.raises(ValueError, match="500 per mille"):
        Relay(LEASED, bursts=False).write(500, 3.0, 0.0)
    with pytest.raises(ValueError, match="500 per mille"):
        Relay(PLAIN, bursts=True).write(500, 3.0, 0.0)


@pytest.mark.parametrize(
    ("wanted", "read_on", "now_s", "reported"),
    [
        (0, False, 0.5, 0),
        (0, True, 0.5, 1000),
        (1000, True, 0.5, 1000),
        (1000, False, 0.5, 0),
        (300, True, 0.1, 300),
        (300, False, 0.6, 300),
        (300, True, 0.9, 1000),
    ],
)
def test_what_a_read_back_means(wanted: int, read_on: bool, now_s: float, reported: int) -> None:
    relay = Relay(LEASED, bursts=True)
    relay.write(wanted, 3.0, 0.0)
    relay.read_on = read_on
    assert relay.reported_permille(now_s) == reported


def test_a_register_that_holds_neither_value_is_not_off() -> None:
    place = RelayPlace(unit=2, area=Area.HOLDING_REGISTERS, address=3, on=1, off=2)
    relay = Relay(place, bursts=False)
    assert [relay.says_on(value) for value in (1, 2, 3)] == [True, False, True]


def orders(now_s: float = 0.0) -> Orders:
    relays = {
        Output.HEATER: Relay(LEASED, bursts=False),
        Output.MAIN_CONTACTOR: Relay(
            RelayPlace(
                unit=2, area=Area.COILS, address=2, timed_on=TimedOn(area=Area.COILS, address=0x202, step_ms=100)
            ),
            bursts=False,
        ),
        Output.PUMP: Relay(PLAIN, bursts=False),
    }
    made = Orders(relays, lease_s=3.0)
    made.reported(1, now_s)
    return made


def demands(permille: int, acted_on: int = 1, ttl_ms: int = 3000) -> tuple[Demand, ...]:
    return tuple(
        Demand(output=output, permille=permille, ttl_ms=ttl_ms, acted_on=acted_on)
        for output in (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR, Output.BUZZER)
    )


def written(made: Orders, now_s: float) -> list[tuple[Output, int]]:
    writes = []
    while (todo := made.next_write(now_s)) is not None:
        writes.append((todo[0].output, todo[1].value))
    return writes


def test_the_heater_is_first_down_and_last_up() -> None:
    made = orders()
    made.take(demands(1000), 0.0)
    up = [output for output, _ in written(made, 0.0)]
    made.take(demands(0), 1.0)
    down = [output for output, _ in written(made, 1.0)]
    assert up == [Output.MAIN_CONTACTOR, Output.PUMP, Output.HEATER]
    assert down == [Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR]


def test_the_lease_counts_from_the_report_and_not_from_the_write() -> None:
    made = orders(now_s=10.0)
    made.take(demands(1000), 12.0)
    assert (Output.HEATER, 10) in written(made, 12.0)


def test_no_demand_asks_for_more_than_the_kettle_s_lease() -> None:
    made = orders()
    made.take(demands(1000, ttl_ms=60_000), 0.0)
    assert (Output.HEATER, 30) in written(made, 0.0)


def test_only_the_newest_two_reports_can_be_acted_on() -> None:
    made = orders()
    made.reported(2, 0.5)
    made.reported(3, 1.0)
    made.take(demands(1000, acted_on=1), 1.0)
    assert written(made, 1.0) == []
    assert made.ignored == 1
    made.take(demands(1000, acted_on=2), 1.0)
    assert (Output.HEATER, 25) in written(made, 1.0)


def test_a_newer_demand_takes_the_place_of_an_older_one() -> None:
    made = orders()
    made.take(demands(1000), 0.0)
    made.take(demands(0), 0.1)
    assert all(value == COIL_OFF for _, value in written(made, 0.1))


def test_a_lost_switching_off_is_tried_again_and_a_lost_switching_on_is_not() -> None:
    made = orders()
    made.take(demands(1000), 0.0)
    todo = made.next_write(0.0)
    assert todo is not None
    written(made, 0.0)
    made.again(todo[0])
    assert written(made, 0.1) == []
    made.take(demands(0), 0.2)
    off = made.next_write(0.2)
    assert off is not None
    written(made, 0.2)
    made.again(off[0])
    assert written(made, 0.3) == [(Output.HEATER, COIL_OFF)]


def test_a_relay_without_a_lease_goes_off_when_demands_stop() -> None:
    made = orders()
    made.take(demands(1000), 0.0)
    written(made, 0.0)
    made.plain_off_when_forgotten(2.9)
    assert written(made, 2.9) == []
    made.plain_off_when_forgotten(3.0)
    assert written(made, 3.0) == [(Output.PUMP, COIL_OFF)]


def test_demands_that_contradict_each_other_are_a_bug() -> None:
    with pytest.raises(ValueError, match="contradict"):
        orders().take(demands(0) + demands(1000), 0.0)
