"""From a port to a session: the order on the wire, and each way in which there is none."""

from __future__ import annotations

import asyncio
import fcntl
import os
from collections.abc import Callable

import pytest

from kettlebridge.drivers.serial_line import SerialLine
from kettlebridge.model.errors import LinkError, LinkReason
from tests.drivers.conftest import MakeLine
from tests.drivers.fake_board import GUARD_S, HELLO, PROBES, FakeBoard
from tests.drivers.fake_inbox import FakeInbox
from tests.drivers.manual_clock import ManualClock

Run = Callable[[SerialLine], asyncio.Task[None]]


async def outcome(task: asyncio.Task[None]) -> LinkError:
    with pytest.raises(LinkError) as caught:
        async with asyncio.timeout(GUARD_S):
            await task
    return caught.value


async def refused(make_line: MakeLine, run: Run) -> LinkError:
    return await outcome(run(make_line()))


def must_be_free(board: FakeBoard) -> None:
    """The port can be locked by somebody else."""
    descriptor = os.open(board.path, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    os.close(descriptor)


async def test_query_then_claim_of_that_boot_and_nothing_that_ends_another_session(
    line: SerialLine, board: FakeBoard
) -> None:
    assert board.heard == ["1 Q v=1", "2 C v=1 boot=5C21E07A"]


async def test_board_that_boots_slowly_is_asked_again_every_half_second(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.is_mute = True
    run(make_line())
    for _ in range(8):
        await board.next("Q")
        await clock.step()
    assert clock.now_s() == 1004.0
    board.is_mute = False
    await inbox.until_linked()


async def test_silent_port_is_given_up_after_five_seconds(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.is_mute = True
    task = run(make_line())
    assert await clock.run_out(task) == pytest.approx(5.0)
    error = await outcome(task)
    assert error.reason is LinkReason.NO_ANSWER
    assert error.detail == f"nothing on {board.path} answered within 5 s"
    board.listen()
    assert board.letters() == "Q" * 10
    assert inbox.links == 0


async def test_garbled_answers_are_mentioned_when_nothing_else_came(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock
) -> None:
    board.is_mute = True
    task = run(make_line())
    await board.next("Q")
    board.say_bytes(b"@1 B v=1.0*0000\r\n@1 B v=\xff\xfe*1234\r\n")
    await clock.gate(f"{board.path}<").until_opened()
    await clock.run_out(task)
    assert "2 damaged frames came: check speed and wiring" in (await outcome(task)).detail


async def test_claim_that_is_not_answered_is_given_up_and_the_board_told_to_switch_off(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock
) -> None:
    board.answers["C"] = []
    task = run(make_line())
    await board.next("C")
    assert await clock.run_out(task) == pytest.approx(2.0)
    assert (await outcome(task)).reason is LinkReason.NO_ANSWER
    board.listen()
    assert board.letters() == "QCCCCX"


async def test_other_board_on_the_port_is_not_claimed(make_line: MakeLine, run: Run, board: FakeBoard) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("id=28A4", "id=77B0")]
    error = await refused(make_line, run)
    assert error.reason is LinkReason.OTHER_BOARD
    assert error.detail == f"board 77B0 answers on {board.path}, not 28A4"
    assert "C" not in board.letters()


async def test_any_board_will_do_where_the_kettle_file_names_none(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("id=28A4", "id=77B0")]
    run(make_line(board_id=None))
    await inbox.until_linked()


@pytest.mark.parametrize("hello", [HELLO.replace("v=1.0", "v=2.1"), "B v=2.1 other=keys"])
async def test_board_of_another_major_version_is_not_claimed(
    make_line: MakeLine, run: Run, board: FakeBoard, hello: str
) -> None:
    board.answers["Q"] = ["0 " + hello]
    error = await refused(make_line, run)
    assert error.reason is LinkReason.OTHER_VERSION
    assert "speaks version 2.1, not 1" in error.detail
    assert "C" not in board.letters()


async def test_board_of_a_later_minor_version_is_claimed(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("v=1.0", "v=1.7") + " colour=red"]
    run(make_line())
    await inbox.until_linked()
    assert board.letters() == "QC"


async def test_real_board_is_refused_where_a_simulated_one_is_required(
    make_line: MakeLine, run: Run, board: FakeBoard
) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("cap=3F", "cap=1F")]
    assert (await refused(make_line, run)).reason is LinkReason.NOT_SIMULATED
    assert "C" not in board.letters()


async def test_real_board_is_claimed_where_none_is_required_to_be_simulated(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("cap=3F", "cap=1F")]
    run(make_line(require_simulated=False))
    await inbox.until_linked()
    assert board.letters() == "QC"


@pytest.mark.parametrize(
    ("why", "reason"),
    [("busy", LinkReason.BUSY), ("version", LinkReason.OTHER_VERSION), ("session", LinkReason.LOST)],
)
async def test_refused_claim_ends_the_attempt_and_leaves_the_other_session_alone(
    make_line: MakeLine, run: Run, board: FakeBoard, why: str, reason: LinkReason
) -> None:
    board.answers["C"] = [f"# N why={why}"]
    assert (await refused(make_line, run)).reason is reason
    board.listen()
    assert board.letters() == "QC"


async def test_answer_to_an_earlier_claim_is_passed_by(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.answers["C"] = []
    run(make_line())
    first = await board.next("C")
    await clock.step()
    second = await board.next("C")
    assert first["seq"] != second["seq"]
    board.say(f"{first['seq']} A sid=00000001", f"{second['seq']} A sid=00000002")
    await inbox.until_linked()
    board.report(500, session="00000001")
    board.report(1000, session="00000002")
    _, report = await inbox.news()
    assert report.board.acted_on == 1000


async def test_second_service_on_the_same_port_is_refused(
    line: SerialLine, make_line: MakeLine, run: Run, board: FakeBoard
) -> None:
    error = await refused(make_line, run)
    assert error.reason is LinkReason.PORT_IN_USE
    assert board.letters() == "QC"


async def test_what_waited_in_the_port_is_not_taken_for_an_answer(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.say("0 " + HELLO.replace("5C21E07A", "00000001"), "3 A sid=00000001")
    run(make_line())
    await inbox.until_linked()
    assert (await board.next("C"))["boot"] == "5C21E07A"


async def test_line_can_run_again_and_its_numbers_go_on(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.answers["C"] = ["# N why=busy"]
    line = make_line()
    await outcome(run(line))
    board.answers["C"] = ["# A sid=00000005"]
    run(line)
    await inbox.until_linked()
    assert [body.split(" ")[0] for body in board.heard] == ["1", "2", "3", "4"]


async def test_cancelled_line_says_off_and_frees_the_port(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox, clock: ManualClock
) -> None:
    task = run(make_line())
    await inbox.until_linked()
    task.cancel()
    await asyncio.wait({task}, timeout=GUARD_S)
    assert task.cancelled()
    board.listen()
    assert board.letters() == "QCX"
    must_be_free(board)
    assert clock.gates[f"{board.path} port"].count == 0


async def test_cancelled_while_asking_frees_the_port(make_line: MakeLine, run: Run, board: FakeBoard) -> None:
    board.is_mute = True
    task = run(make_line())
    await board.next("Q")
    task.cancel()
    await asyncio.wait({task}, timeout=GUARD_S)
    assert task.cancelled()
    must_be_free(board)


async def test_probes_told_before_the_claim_are_known_in_the_session(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    board.report(500)
    samples, _ = await inbox.news()
    assert [sample.probe for sample in samples] == ["mash"]


async def test_probes_not_told_are_asked_for_again(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.answers["Q"] = ["0 " + HELLO]
    run(make_line())
    await inbox.until_linked()
    board.report(500)
    assert (await inbox.news())[0] == ()
    clock.advance(1.0)
    board.answers["Q"] = ["0 " + HELLO, "0 " + PROBES]
    board.report(1500)
    assert (await inbox.news())[0] == ()
    await board.next("Q")
    await board.next("Q")
    clock.advance(0.5)
    board.report(2000)
    samples, _ = await inbox.news()
    assert [sample.probe for sample in samples] == ["mash"]


async def test_probes_never_told_are_asked_for_once_a_second(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    board.answers["Q"] = ["0 " + HELLO]
    run(make_line())
    await inbox.until_linked()
    for n in range(1, 10):
        clock.advance(0.5)
        board.report(500 * n)
        assert (await inbox.news())[0] == ()
    board.listen()
    assert board.letters() == "QC" + "Q" * 4
