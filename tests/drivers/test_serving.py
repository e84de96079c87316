"""A session on a real pty: what reports say, what counts as fresh, what ends it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from kettlebridge.drivers.serial_line import SerialLine
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.reading import BoardInput, BoardState, ReadingFault
from tests.drivers.conftest import MASH, RETURN, MakeLine
from tests.drivers.fake_board import GUARD_S, HELLO, SESSION, FakeBoard, report
from tests.drivers.fake_inbox import FakeInbox
from tests.drivers.manual_clock import ManualClock

Run = Callable[[SerialLine], asyncio.Task[None]]


@pytest.fixture
async def task(make_line: MakeLine, run: Run, inbox: FakeInbox) -> asyncio.Task[None]:
    """A line in a session."""
    task = run(make_line())
    await inbox.until_linked()
    return task


async def end(task: asyncio.Task[None]) -> LinkError:
    with pytest.raises(LinkError) as caught:
        async with asyncio.timeout(GUARD_S):
            await task
    return caught.value


async def test_report_says_what_the_pins_do(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    board.report(184_460, h=350, on=90_210, p=1, k=0, d="24", l=2410, n=3)
    _, said = await inbox.news()
    assert said.taken_s == 1000.0
    assert said.board == BoardState(
        acted_on=184_460,
        heater_permille=350,
        heater_on_ms=90_210,
        pump_on=True,
        main_contactor_closed=False,
        lease_left_s=2.41,
        inputs=BoardInput.FOAM | BoardInput.CONFIRM,
        dropped_frames=3,
    )


async def test_sample_has_the_name_of_its_rom_and_the_time_of_its_conversion(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.report(1000, "t0=66.4375/310 t1=64.0/20")
    samples, _ = await inbox.news()
    assert [(sample.probe, sample.value_c) for sample in samples] == [(MASH, 66.4375), (RETURN, 64.0)]
    assert [sample.taken_s for sample in samples] == pytest.approx([999.69, 999.98])


async def test_one_conversion_told_in_two_reports_is_one_sample(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    told = []
    for up_ms, age_ms in [(1000, 310), (1500, 810), (2000, 560), (2500, 1060)]:
        board.report(up_ms, f"t0=66.4375/{age_ms}")
        told.append(len((await inbox.news())[0]))
        clock.advance(0.5)
    assert told == [1, 0, 1, 0]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("E1", ReadingFault.NO_ANSWER),
        ("E2", ReadingFault.BAD_CRC),
        ("E3", ReadingFault.LINE_SHORT),
        ("E4", ReadingFault.LOST_POWER),
        ("E5", ReadingFault.NONE_YET),
        ("nan", ReadingFault.NOT_A_NUMBER),
        ("inf", ReadingFault.NOT_A_NUMBER),
    ],
)
async def test_probe_fault_is_told_each_time_and_never_as_a_temperature(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox, text: str, fault: ReadingFault
) -> None:
    for up_ms in (1000, 1500):
        board.report(up_ms, f"t0={text}/{up_ms}")
        (sample,), _ = await inbox.news()
        assert (sample.value_c, sample.fault) == (None, fault)


async def test_garbage_for_a_temperature_costs_the_report_and_not_the_session(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.report(1000, "t0=6x.4/310")
    board.report(1500)
    assert (await inbox.news())[1].board.acted_on == 1500
    assert not inbox.has_news()


async def test_eight_probes_are_told_apart(make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox) -> None:
    roms = [f"28A1B2C3040506{n:02X}" for n in range(8)]
    board.answers["Q"] = ["0 " + HELLO, "0 P " + " ".join(f"t{n}={rom}" for n, rom in enumerate(roms))]
    run(make_line(probes={rom: f"probe-{n}" for n, rom in enumerate(roms)}))
    await inbox.until_linked()
    board.report(1000, " ".join(f"t{n}={60 + n}.0625/{n}" for n in range(8)))
    samples, _ = await inbox.news()
    assert [(sample.probe, sample.value_c) for sample in samples] == [(f"probe-{n}", 60.0625 + n) for n in range(8)]


async def test_swapped_probes_keep_their_names(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    board.say("5 P t0=28D4E5F6070809E6 t1=28A1B2C3040506B4", report(1000, "t0=20.0/0 t1=66.0/0"))
    samples, _ = await inbox.news()
    assert {sample.probe: sample.value_c for sample in samples} == {RETURN: 20.0, MASH: 66.0}


async def test_swapped_probe_is_new_even_with_a_conversion_of_the_same_moment(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.report(1000, "t0=66.0/0")
    await inbox.news()
    board.say("5 P t0=28D4E5F6070809E6", report(1010, "t0=20.0/10"))
    samples, _ = await inbox.news()
    assert (RETURN, 20.0) in {(sample.probe, sample.value_c) for sample in samples}


async def test_probe_that_the_board_lacks_gives_no_answer_once_a_second(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox, caplog: pytest.LogCaptureFixture
) -> None:
    told = []
    board.say("5 P t1=28D4E5F6070809E6 t2=2800000000000000")
    for n in range(5):
        board.report(1000 + 500 * n, "t1=64.0/0 t2=21.0/0")
        samples, _ = await inbox.news()
        told.append([(sample.probe, sample.fault) for sample in samples if sample.fault is not None])
        assert [sample.probe for sample in samples if sample.fault is None] == [RETURN]
        clock.advance(0.5)
    assert told == [[(MASH, ReadingFault.NO_ANSWER)], [], [(MASH, ReadingFault.NO_ANSWER)], [], told[0]]
    about_probes = [record.getMessage() for record in caplog.records if "probes" in record.getMessage()]
    assert about_probes == [
        "board 28A4 does not have the probes mash",
        "board 28A4 has probes that no kettle file names: 2800000000000000",
    ]


async def test_reports_from_before_the_claim_say_nothing(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    board.report(500, session="0")
    board.report(600, session="11111111")
    board.report(1000)
    assert (await inbox.news())[1].board.acted_on == 1000
    assert not inbox.has_news()


async def test_report_that_comes_twice_or_late_by_another_is_heard_once(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    for up_ms in (1000, 1500, 1500, 1000, 2000):
        board.report(up_ms)
    assert [(await inbox.news())[1].board.acted_on for _ in range(3)] == [1000, 1500, 2000]
    assert not inbox.has_news()
    assert line.counts()["repeated_reports"] == 2


async def test_report_held_up_a_little_is_dated_by_the_quickest_of_the_minute(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.report(1000)
    await inbox.news()
    clock.advance(1.4)
    board.report(1500, "t0=66.0/100")
    (sample,), said = await inbox.news()
    assert said.taken_s == pytest.approx(1000.5)
    assert sample.taken_s == pytest.approx(1000.4)


async def test_stale_backlog_is_drained_to_its_newest_report_without_a_temperature(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.report(1000)
    await inbox.news()
    clock.advance(2.9)  # the line held the bytes back
    board.say(*(report(1000 + 500 * n, h=n) for n in range(1, 6)))
    samples, said = await inbox.news()
    assert samples == ()
    assert said.board.acted_on == 3500
    assert said.board.heater_permille == 5
    assert said.taken_s == pytest.approx(1002.5)
    assert line.counts()["stale_reports"] == 5
    board.report(4000)
    samples, _ = await inbox.news()
    assert len(samples) == 1
    assert not inbox.has_news()


async def test_backlog_larger_than_one_read_is_drained_in_one_go(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.report(1000)
    await inbox.news()
    clock.advance(2.9)
    board.say(*(report(1000 + n) for n in range(1, 30)))
    assert (await inbox.news())[1].board.acted_on == 1029
    assert not inbox.has_news()


async def test_backlog_after_the_claim_is_stale_from_its_first_report(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    clock.advance(1.5)  # nothing has come since the claim: how old may this one be?
    board.report(1000)
    samples, said = await inbox.news()
    assert samples == ()
    assert said.taken_s == 1000.0


async def test_time_from_the_claim_to_its_answer_counts_towards_the_first_report(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.answers["C"] = []
    run(make_line())
    asked = await board.next("C")
    clock.advance(0.4)
    board.say(f"{asked['seq']} A sid={SESSION}")
    await inbox.until_linked()
    clock.advance(0.7)
    board.report(1000)
    assert (await inbox.news())[0] == ()


async def test_reports_that_stay_behind_end_the_session(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.report(1000)
    await inbox.news()
    clock.advance(1.6)
    for n in range(1, 4):
        board.report(1000 + 500 * n)  # ever 1.1 s behind
        assert (await inbox.news())[0] == ()
        clock.advance(0.5)
    assert (await end(task)).detail == "no fresh report for 3 s"


async def test_backlog_that_ends_a_lease_ends_the_session(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.report(1000)
    await inbox.news()
    clock.advance(2.9)
    board.say(report(1500), report(3500, session="0"))
    assert (await end(task)).reason is LinkReason.LAPSED


async def test_uptime_may_wrap_within_a_session(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    first_up_ms = 2**32 - 1000
    for n in range(5):
        board.report(first_up_ms + 500 * n, f"t0={60 + n}.0/0")
        (sample,), said = await inbox.news()
        assert said.board.acted_on == (first_up_ms + 500 * n) % 2**32
        assert sample.taken_s == pytest.approx(1000.0 + 0.5 * n)
        clock.advance(0.5)


async def test_silence_of_three_seconds_ends_the_session_and_says_off(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock
) -> None:
    assert await clock.run_out(task) == pytest.approx(3.0)
    error = await end(task)
    assert error.reason is LinkReason.LOST
    assert error.detail == "no fresh report for 3 s"
    board.listen()
    assert board.letters() == "QCX"


async def test_each_fresh_report_gives_another_three_seconds(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    for n in range(10):
        clock.advance(0.9)
        board.report(1000 + 900 * n)
        await inbox.news()
    assert await clock.run_out(task) == pytest.approx(3.0)
    assert (await end(task)).reason is LinkReason.LOST


async def test_late_report_gives_no_more_time(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    clock.advance(2.0)
    board.report(1000)
    await inbox.news()
    assert await clock.run_out(task) == pytest.approx(1.0)


async def test_unplugged_board_is_lost_at_once(task: asyncio.Task[None], board: FakeBoard, clock: ManualClock) -> None:
    board.unplug()
    error = await end(task)
    assert error.reason is LinkReason.LOST
    assert error.detail == f"{board.path} hung up"
    assert clock.now_s() == 1000.0


async def test_board_that_restarts_ends_the_session(task: asyncio.Task[None], board: FakeBoard) -> None:
    board.say("0 " + HELLO.replace("5C21E07A", "00000001").replace("rc=por", "rc=wdt"))
    error = await end(task)
    assert error.reason is LinkReason.LOST
    assert error.detail == "board 28A4 restarted (wdt)"


async def test_second_answer_to_a_query_is_no_restart(
    task: asyncio.Task[None], board: FakeBoard, inbox: FakeInbox
) -> None:
    board.say("0 " + HELLO)
    board.report(1000)
    assert (await inbox.news())[1].ended is False
    assert not task.done()
    board.report(1500)
    assert (await inbox.news())[1].ended is False
    assert board.letters() == "QC"


@pytest.mark.parametrize(("session", "tells"), [("0", True), ("11111111", False)])
async def test_the_last_word_of_a_board_that_ended_the_session_itself_is_handed_on(
    task: asyncio.Task[None], board: FakeBoard, inbox: FakeInbox, session: str, tells: bool
) -> None:
    """What reads off under a session of somebody else says nothing about ours."""
    board.report(1000, h=1000, k=1)
    assert (await inbox.news())[1].ended is False
    board.report(1500, h=0, k=0, on=900, session=session)
    await end(task)
    assert inbox.has_news() is tells
    if tells:
        samples, said = await inbox.news()
        assert (samples, said.ended, said.board.heater_permille, said.board.heater_on_ms) == ((), True, 0, 900)


@pytest.mark.parametrize("session", ["0", "11111111"])
async def test_session_that_is_no_longer_ours_ends_ours(
    task: asyncio.Task[None], board: FakeBoard, clock: ManualClock, inbox: FakeInbox, session: str
) -> None:
    board.report(1000)
    await inbox.news()
    arriving = clock.gates[f"{board.path}<"]
    before = arriving.count
    board.report(1500, session=session)
    error = await end(task)
    assert error.reason is LinkReason.LAPSED
    assert error.detail == "the board ended the session"
    assert before - arriving.count == len(report(1500, session=session)) + len("@*0000\r\n")


async def test_noise_on_the_line_costs_nothing_but_the_frames_it_hits(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.say_bytes(b"\x00\xff@9 T up=12\xfe@@*\r\n" + b"@" + b"x" * 300)
    board.report(1000)
    assert (await inbox.news())[1].board.acted_on == 1000


async def test_every_byte_that_comes_is_counted_as_handled(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    arriving = clock.gates[f"{board.path}<"]
    before = arriving.count
    board.say_bytes(b"noise" * 10)
    board.report(1000)
    await inbox.news()
    board.say_bytes(b"@9 T up=")
    board.report(1500)
    await inbox.news()
    await asyncio.sleep(0)
    sent = 50 + 8 + len(report(1000)) + len(report(1500)) + 2 * len("@*0000\r\n")
    assert before - arriving.count == sent
