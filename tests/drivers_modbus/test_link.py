"""The driver on a pty with simulated modules: what it reads, what it switches, and what it makes of every trouble."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.modbus_map import Parity
from kettlebridge.model.reading import BoardInput, ReadingFault
from kettlesim.wire_modbus.cells import Word
from kettlesim.wire_modbus.module import Table
from kettlesim.wire_serial.pins import Pin
from tests.drivers_modbus.room import KITCHEN, MAP, OFF, ON, RELAYS, SENSORS, WALL, Room, lived, pins


def thermometer(room: Room, address: int) -> Word:
    cell = room.modules.modules[SENSORS].cells[Table.INPUT_REGISTERS, address]
    assert isinstance(cell, Word)
    return cell


def test_temperatures_and_inputs_are_read_twice_a_second() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.modules.pressed.add("stop")
        before = len(room.inbox.reports)
        await room.after(10.0)
        assert len(room.inbox.reports) - before == 20
        assert room.inbox.samples[WALL].value_c == pytest.approx(room.world.reading_c("control"), abs=0.7)
        assert room.inbox.samples[KITCHEN].value_c == pytest.approx(room.world.reading_c("ambient"), abs=0.7)
        assert room.inbox.board.board.inputs is BoardInput.STOP
        heard_s, report = room.inbox.reports[-1]
        assert heard_s - report.taken_s < 0.2
        assert room.modules.collisions == 0

    lived(scene)


def test_what_is_wanted_is_on_and_read_back_within_a_cycle() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        assert pins(room) == (False, False, False)
        room.inbox.wants = ON
        await room.after(2.0)
        assert pins(room) == (True, True, True)
        board = room.inbox.board.board
        assert (board.heater_permille, board.pump_on, board.main_contactor_closed) == (1000, True, True)
        assert 1.0 < board.lease_left_s <= 3.0

    lived(scene)


def test_when_demands_stop_every_output_goes_off_within_the_lease() -> None:
    """Promises 1 and 2: the modules drop heater and main contactor by themselves, the driver the pump."""

    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        room.inbox.wants = None
        await room.after(3.5)
        assert pins(room) == (False, False, False)

    lived(scene)


def test_a_killed_service_leaves_no_heater_and_no_contactor_on() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        room.modules.modules[RELAYS].silent = True  # from here on, nothing that is written has any effect
        await room.after(3.0)
        assert pins(room)[0::2] == (False, False)

    lived(scene)


def test_a_demand_that_was_held_up_switches_nothing_on() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        old = room.inbox.board.board.acted_on
        await room.after(1.6)
        room.inbox.offer(ON, old)
        await room.after(0.4)
        assert pins(room) == (False, False, False)
        assert room.line.counts() == {}

    lived(scene)


def test_per_mille_become_heat() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON | {Output.HEATER: 350}
        await room.after(20.0)
        begun_ms = room.modules.pins.heater_on_ms(room.modules.now_ms())
        begun_on_ms = room.inbox.board.board.heater_on_ms
        await room.after(600.0)
        on_ms = room.modules.pins.heater_on_ms(room.modules.now_ms()) - begun_ms
        assert on_ms == pytest.approx(210_000, rel=0.005)
        assert room.inbox.board.board.heater_on_ms - begun_on_ms == pytest.approx(on_ms, abs=1000)
        assert room.inbox.board.board.heater_permille == 350

    lived(scene)


def test_leaving_switches_everything_off() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        await room.leave()
        assert pins(room) == (False, False, False)

    lived(scene)


def test_all_off_goes_before_everything_else() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        room.inbox.wants = None
        room.line.all_off()
        await room.after(0.2)
        assert pins(room) == (False, False, False)

    lived(scene)


def test_an_open_sensor_is_this_probe_s_fault_alone() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        thermometer(room, 0).thermometer.is_open = True
        await room.after(1.0)
        assert room.inbox.samples[WALL].fault is ReadingFault.SENSOR_OPEN
        assert room.inbox.samples[KITCHEN].value_c is not None

    lived(scene)


def test_a_refused_address_is_told_with_probe_unit_and_reason(caplog: pytest.LogCaptureFixture) -> None:
    wrong = replace(MAP, probes={**MAP.probes, KITCHEN: replace(MAP.probes[KITCHEN], address=99)})

    async def scene(room: Room) -> None:
        await room.join()
        await room.after(5.0)
        assert room.inbox.samples[KITCHEN].fault is ReadingFault.REFUSED
        assert room.inbox.samples[WALL].value_c is not None

    lived(scene, wired=wrong)
    told = [record.getMessage() for record in caplog.records if "kitchen" in record.getMessage()]
    assert len(told) == 1
    assert told[0].startswith("probe kitchen (unit 1) on /dev/pts/")
    assert told[0].endswith("refuses with exception 2 (illegal data address)")


def test_a_silent_module_is_told_once_asked_rarely_and_welcomed_back(caplog: pytest.LogCaptureFixture) -> None:
    async def scene(room: Room) -> None:
        await room.join()
        module = room.modules.modules[SENSORS]
        module.silent = True
        await room.after(3.0)
        assert room.inbox.samples[WALL].fault is ReadingFault.NO_ANSWER
        asked = module.requests
        await room.after(30.0)
        assert module.requests - asked <= 2 * 7
        room.inbox.wants = ON
        await room.after(5.0)
        assert pins(room) == (True, True, True)
        module.silent = False
        await room.after(6.0)
        assert room.inbox.samples[WALL].value_c is not None

    lived(scene)
    told = [record.getMessage().partition(": ")[2] for record in caplog.records if "probe wall" in record.getMessage()]
    assert told == ["does not answer", "answers again"]


def test_a_silent_relay_module_ends_the_session_within_five_seconds() -> None:
    """Promise 6."""

    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(3.0)
        room.modules.modules[RELAYS].silent = True
        lost = await room.lost(within_s=5.0)
        assert lost.reason is LinkReason.LOST
        assert "relay heater, relay main_contactor, relay pump (unit 2)" in lost.detail
        assert "does not answer for 3 s" in lost.detail
        assert pins(room)[0::2] == (False, False)

    lived(scene)


def test_a_relay_address_that_is_not_there_ends_the_session_with_its_name() -> None:
    async def scene(room: Room) -> None:
        del room.modules.modules[RELAYS].cells[Table.COILS, 0x200]
        await room.join()
        room.inbox.wants = ON
        lost = await room.lost(within_s=3.0)
        assert lost.reason is LinkReason.OTHER_BOARD
        assert lost.detail.startswith("relay heater (unit 2 on ")
        assert pins(room)[0] is False

    lived(scene)


def test_a_module_that_is_not_there_is_named(caplog: pytest.LogCaptureFixture) -> None:
    elsewhere = replace(MAP, relays={output: replace(place, unit=9) for output, place in MAP.relays.items()})

    async def scene(room: Room) -> None:
        refused = await room.refused()
        assert refused.reason is LinkReason.NO_ANSWER
        assert "(unit 9)" in refused.detail
        assert refused.detail.endswith("does not answer")

    lived(scene, wired=elsewhere)


def test_an_output_that_somebody_else_switches_is_reported_as_it_is() -> None:
    """Promise 7: the read-back is the relay's, not the wish."""

    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = OFF
        await room.after(2.0)
        heater = next(relay for relay in room.modules.relays if relay.pin is Pin.HEATER)
        heater.switch(True, room.modules.now_ms())
        seen = len(room.inbox.reports)
        await room.after(0.7)
        assert 1000 in [report.board.heater_permille for _, report in room.inbox.reports[seen:]]
        await room.after(2.0)
        assert pins(room)[0] is False  # the next finished tick wanted it off, and the read-back said otherwise

    lived(scene)


def test_hurried_time_is_for_simulated_modules_only(monkeypatch: pytest.MonkeyPatch) -> None:
    async def scene(room: Room) -> None:
        room.use(require_simulated=True)
        await room.join()
        await room.leave()
        monkeypatch.setattr("kettlesim.wire_modbus.module.SERVER_ID", b"oven")
        refused = await room.refused()
        assert refused.reason is LinkReason.NOT_SIMULATED

    lived(scene)


@pytest.mark.parametrize(("port", "why"), [("/dev/nowhere", "is not there"), ("/dev/null", "is not a serial port")])
def test_a_port_that_cannot_be_used_is_told_with_the_reason(port: str, why: str) -> None:
    async def scene(room: Room) -> None:
        room.use(port=port)
        refused = await room.refused()
        assert refused.reason is LinkReason.NO_PORT
        assert refused.detail == f"{port} {why}"

    lived(scene)


def test_a_port_that_does_not_take_the_parity_is_told_so() -> None:
    """A pseudo-terminal has none."""

    async def scene(room: Room) -> None:
        room.use(map=replace(MAP, parity=Parity.EVEN))
        refused = await room.refused()
        assert refused.reason is LinkReason.NO_PORT
        assert refused.detail.endswith("does not take this speed, parity or number of stop bits")

    lived(scene)


def test_a_port_that_goes_away_ends_the_session() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        room.unplug()
        lost = await room.lost(within_s=4.0)
        assert lost.reason is LinkReason.LOST

    lived(scene, proxied=True)


def test_an_unanswered_on_is_never_sent_twice() -> None:
    async def scene(room: Room) -> None:
        await room.join()
        module = room.modules.modules[RELAYS]
        await room.after(0.1)
        room.inbox.offer(ON, room.inbox.board.board.acted_on)
        module.silent = True
        asked = module.requests
        await room.after(1.4)
        writes = module.requests - asked
        assert writes <= 3 + 4  # three writes, once each; the rest is the read-back

    lived(scene)
