"""What the inbox keeps, drops, ages and wakes for."""

from __future__ import annotations

import asyncio
import logging
import math
from dataclasses import replace

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import UNLINKED, BoardHealth, BoardInput, BoardStanding, Reading, ReadingFault
from kettlebridge.model.sample import Sample
from kettlebridge.ports import Verdict
from kettlebridge.runtime.clock import PacedClock
from kettlebridge.runtime.inbox import COMMANDS, PROBES, SAMPLES_A_PROBE, KettleInbox
from tests.runtime.fakes import COPPER, MASH, command, demands, report, sample

SPARGE = ProbeName("sparge")


@pytest.fixture
def inbox() -> KettleInbox:
    return KettleInbox(COPPER, PacedClock(start_utc_s=0.0))


def test_times_become_ages_and_readings_come_oldest_first(inbox: KettleInbox) -> None:
    inbox.hear((sample(66.0, 9.0), sample(70.0, 8.5, SPARGE)), None)
    inbox.hear((sample(66.1, 9.5),), None)
    assert inbox.take(10.0).readings == (
        Reading(probe=SPARGE, value_c=70.0, age_s=1.5),
        Reading(probe=MASH, value_c=66.0, age_s=1.0),
        Reading(probe=MASH, value_c=66.1, age_s=0.5),
    )
    assert inbox.take(11.0).readings == ()


def felt(inbox: KettleInbox, now_s: float) -> BoardInput:
    board = inbox.take(now_s).health.board
    assert board is not None
    return board.inputs


@pytest.mark.parametrize("name", [BoardInput.STOP, BoardInput.CUTOUT, BoardInput.CONFIRM, BoardInput.FOAM])
async def test_a_press_that_is_over_before_the_tick_is_told_to_that_tick_alone(
    inbox: KettleInbox, name: BoardInput
) -> None:
    inbox.linked()
    for k, inputs in enumerate((BoardInput.NONE, name, BoardInput.NONE)):
        inbox.hear((), report(0.1 * k, inputs=inputs))
    assert felt(inbox, 1.0) is name
    assert felt(inbox, 2.0) is BoardInput.NONE


@pytest.mark.parametrize("name", [BoardInput.LEVEL, BoardInput.FLOW, BoardInput.LOAD])
async def test_of_a_level_the_newest_report_counts(inbox: KettleInbox, name: BoardInput) -> None:
    inbox.linked()
    inbox.hear((), report(0.1, inputs=name))
    inbox.hear((), report(0.2))
    assert felt(inbox, 1.0) is BoardInput.NONE


async def test_a_lost_link_loses_no_press_that_lowers_and_every_one_that_may_raise(inbox: KettleInbox) -> None:
    inbox.linked()
    inbox.hear((), report(0.1, inputs=BoardInput.STOP | BoardInput.CONFIRM))
    inbox.link_lost(LinkReason.LOST, "pulled")
    assert inbox.take(1.0).health.board is None
    inbox.linked()
    inbox.hear((), report(2.0))
    assert felt(inbox, 2.0) is BoardInput.STOP


def test_sample_from_the_future_has_no_negative_age(inbox: KettleInbox) -> None:
    inbox.hear((sample(66.0, 10.2),), None)
    assert inbox.take(10.0).readings[0].age_s == 0.0


@pytest.mark.parametrize("value_c", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_becomes_a_fault_at_the_port(inbox: KettleInbox, value_c: float) -> None:
    inbox.hear((sample(value_c, 9.0),), None)
    assert inbox.take(10.0).readings == (Reading(probe=MASH, fault=ReadingFault.NOT_A_NUMBER, age_s=1.0),)


def test_fault_of_a_probe_passes_as_it_is(inbox: KettleInbox) -> None:
    inbox.hear((Sample(probe=MASH, fault=ReadingFault.BAD_CRC, taken_s=9.0),), None)
    assert inbox.take(10.0).readings[0].fault is ReadingFault.BAD_CRC


def test_chatty_probe_loses_its_oldest_samples_only_and_it_is_said(
    inbox: KettleInbox, caplog: pytest.LogCaptureFixture
) -> None:
    inbox.hear((sample(20.0, 0.0, SPARGE),), None)
    for k in range(SAMPLES_A_PROBE + 5):
        inbox.hear((sample(float(k), float(k)),), None)
    readings = inbox.take(100.0).readings
    assert [reading.value_c for reading in readings if reading.probe == SPARGE] == [20.0]
    kept = [reading.value_c for reading in readings if reading.probe == MASH]
    assert kept == [float(k) for k in range(5, SAMPLES_A_PROBE + 5)]
    assert "5 readings dropped" in caplog.text


def test_endless_probe_names_do_not_fill_memory(inbox: KettleInbox) -> None:
    for k in range(1000):
        inbox.hear((sample(20.0, 0.0, ProbeName(f"p{k}")),), None)
    assert len(inbox.take(1.0).readings) == PROBES


async def test_health_is_that_of_the_living_session() -> None:
    clock = PacedClock(start_utc_s=0.0)
    inbox = KettleInbox(COPPER, clock)
    assert inbox.take(0.0).health == UNLINKED
    inbox.linked()
    silent = inbox.take(2.0).health
    assert (silent.linked, silent.age_s, silent.board) == (True, 2.0, None)
    inbox.hear((), report(2.5))
    heard = inbox.take(3.0).health
    assert (heard.linked, heard.age_s, heard.board) == (True, 0.5, report(2.5).board)
    inbox.link_lost(LinkReason.LOST, "hung up")
    lost = BoardStanding(name="", linked=False, trouble=LinkReason.LOST, detail="hung up")
    assert inbox.take(4.0).health == BoardHealth(linked=False, age_s=0.0, boards=(lost,))
    inbox.linked()
    assert inbox.take(5.0).health.board is None


def test_loss_and_return_are_one_log_line_each(inbox: KettleInbox, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    for _ in range(20):
        inbox.link_lost(LinkReason.NO_PORT, "/dev/absent")
    inbox.link_lost(LinkReason.PORT_IN_USE, "/dev/taken")
    inbox.linked()
    assert [record.getMessage() for record in caplog.records] == [
        "kettle copper: no board: no_port: /dev/absent",
        "kettle copper: no board: port_in_use: /dev/taken",
        "kettle copper: the board is there",
    ]


def first_report(inbox: KettleInbox) -> None:
    """The report that begins a session, and the tick that it wakes."""
    inbox.hear((), report())
    assert inbox.wake.is_set()
    inbox.wake.clear()


@pytest.mark.parametrize(
    "name", [BoardInput.FOAM, BoardInput.LEVEL, BoardInput.CUTOUT, BoardInput.STOP, BoardInput.CONFIRM]
)
def test_safety_input_and_button_wake_the_tick_on_both_edges(inbox: KettleInbox, name: BoardInput) -> None:
    first_report(inbox)
    inbox.hear((), report(inputs=name))
    assert inbox.wake.is_set()
    inbox.wake.clear()
    inbox.hear((), report(inputs=name))
    assert not inbox.wake.is_set()
    inbox.hear((), report())
    assert inbox.wake.is_set()


def test_first_report_of_a_session_wakes_so_that_nobody_waits_for_the_beat(inbox: KettleInbox) -> None:
    first_report(inbox)
    inbox.link_lost(LinkReason.LOST, "unplugged")
    inbox.wake.clear()
    inbox.linked()
    inbox.hear((), report())
    assert inbox.wake.is_set()


@pytest.mark.parametrize("name", [BoardInput.FLOW, BoardInput.LOAD])
def test_fluttering_input_wakes_nobody(inbox: KettleInbox, name: BoardInput) -> None:
    first_report(inbox)
    inbox.hear((sample(66.0, 1.0),), report(inputs=name))
    assert not inbox.wake.is_set()


def test_pin_that_follows_a_demand_is_no_news(inbox: KettleInbox) -> None:
    first_report(inbox)
    inbox.expect(demands(350))
    inbox.hear((), report())
    inbox.hear((), report(heater_permille=350))
    inbox.expect(demands(400))
    inbox.hear((), report(heater_permille=400))
    inbox.expect(())
    inbox.hear((), report(heater_permille=400))
    assert not inbox.wake.is_set()


def test_pin_that_nobody_asked_for_wakes_once(inbox: KettleInbox) -> None:
    first_report(inbox)
    inbox.hear((), report(heater_permille=1000))
    assert inbox.wake.is_set()
    inbox.wake.clear()
    inbox.hear((), report(heater_permille=1000))
    assert not inbox.wake.is_set()


def test_heater_that_drops_by_itself_wakes(inbox: KettleInbox) -> None:
    inbox.expect(demands(350))
    inbox.hear((), report(heater_permille=350))
    inbox.wake.clear()
    inbox.hear((), report())
    assert inbox.wake.is_set()


async def test_command_wakes_and_waits_for_its_verdict(inbox: KettleInbox) -> None:
    verdict = inbox.submit(command(CommandKind.CONFIRM))
    assert inbox.wake.is_set()
    (waiting,) = inbox.take(0.0).waiting
    waiting.answer(Verdict(refused=None, n=3, recorded=True))
    waiting.answer(Verdict(refused="late", n=4, recorded=False))
    assert await verdict == Verdict(refused=None, n=3, recorded=True)
    assert inbox.take(1.0).waiting == ()


async def test_same_command_twice_waits_as_one(inbox: KettleInbox) -> None:
    assert inbox.submit(command(CommandKind.CONFIRM)) is inbox.submit(command(CommandKind.CONFIRM))
    assert len(inbox.take(0.0).waiting) == 1


async def test_a_stop_under_an_id_that_waits_for_something_else_waits_by_itself(inbox: KettleInbox) -> None:
    confirm, stop = (inbox.submit(command(kind, "1")) for kind in (CommandKind.CONFIRM, CommandKind.STOP_HEAT))
    assert confirm is not stop
    assert [one.command.kind for one in inbox.take(0.0).waiting] == [CommandKind.CONFIRM, CommandKind.STOP_HEAT]


async def test_full_queue_refuses_what_raises_and_never_what_lowers(inbox: KettleInbox) -> None:
    for k in range(COMMANDS):
        inbox.submit(command(CommandKind.CONFIRM, f"c{k}"))
    refused = inbox.submit(command(CommandKind.CARRY_ON, "one more"))
    assert (await refused).refused == "queue_full"
    stops = [inbox.submit(command(CommandKind.STOP_HEAT, f"stop{k}")) for k in range(50)]
    holds = [inbox.submit(command(CommandKind.HOLD, f"hold{k}")) for k in range(50)]
    waiting = inbox.take(0.0).waiting
    assert [one.command.kind for one in waiting[COMMANDS:]] == [CommandKind.STOP_HEAT, CommandKind.HOLD]
    for one in waiting:
        one.answer(Verdict(refused=None, n=0, recorded=False))
    assert all(stop.done() for stop in stops + holds)


async def test_refusing_answers_those_picked_and_keeps_the_rest(inbox: KettleInbox) -> None:
    confirm = inbox.submit(command(CommandKind.CONFIRM, "a"))
    inbox.submit(command(CommandKind.STOP_HEAT, "b"))
    inbox.refuse("restarted", lambda told: told.kind is CommandKind.CONFIRM)
    assert (await confirm).refused == "restarted"
    assert [one.command.kind for one in inbox.take(0.0).waiting] == [CommandKind.STOP_HEAT]


async def test_answer_to_somebody_who_left_is_no_error(inbox: KettleInbox) -> None:
    verdict = inbox.submit(command(CommandKind.CONFIRM))
    verdict.cancel()
    with pytest.raises(asyncio.CancelledError):
        await verdict
    inbox.take(0.0).waiting[0].answer(Verdict(refused=None, n=0, recorded=False))


def test_of_a_lost_session_only_the_boards_own_last_word_is_kept_until_the_next(inbox: KettleInbox) -> None:
    inbox.linked()
    inbox.hear((), report(8.0, heater_permille=1000))
    inbox.hear((), replace(report(9.5), ended=True))
    inbox.link_lost(LinkReason.LAPSED, "the board ended the session")
    kept = inbox.take(10.0).health
    assert (kept.linked, kept.age_s, kept.board) == (False, 0.5, report(9.5).board)
    inbox.linked()
    assert inbox.take(11.0).health.board is None


def test_a_report_before_a_loss_is_no_last_word(inbox: KettleInbox) -> None:
    inbox.linked()
    inbox.hear((), report(8.0, heater_permille=1000))
    inbox.link_lost(LinkReason.LAPSED, "an order was refused")
    assert inbox.take(10.0).health.board is None
