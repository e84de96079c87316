"""Orders come from what a finished tick wants, and from nowhere else."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from kettlebridge.drivers.serial_line import SerialLine
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from tests.drivers.conftest import MakeLine
from tests.drivers.fake_board import GUARD_S, HELLO, PROBES, SESSION, FakeBoard
from tests.drivers.fake_inbox import FakeInbox
from tests.drivers.manual_clock import ManualClock

Run = Callable[[SerialLine], asyncio.Task[None]]
PERMILLE = {Output.HEATER: 350, Output.PUMP: 1000, Output.MAIN_CONTACTOR: 1000, Output.BUZZER: 2}


def demands(acted_on: int, ttl_ms: int = 3000, **changed: int) -> tuple[Demand, ...]:
    permille = PERMILLE | {Output(name): value for name, value in changed.items()}
    return tuple(
        Demand(output=output, permille=value, ttl_ms=ttl_ms, acted_on=acted_on) for output, value in permille.items()
    )


async def reported(board: FakeBoard, inbox: FakeInbox, up_ms: int) -> int:
    board.report(up_ms)
    await inbox.news()
    return up_ms


async def test_order_says_the_demands_and_which_report_they_follow(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    line.offer(demands(await reported(board, inbox, 184_460)))
    order = await board.next("O")
    assert order == {
        "seq": "3",
        "s": SESSION,
        "e": "184460",
        "ttl": "3000",
        "h": "350",
        "p": "1",
        "k": "1",
        "z": "2",
    }


async def test_output_without_a_demand_is_off(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    acted_on = await reported(board, inbox, 1000)
    line.offer((Demand(output=Output.PUMP, permille=1000, ttl_ms=3000, acted_on=acted_on),))
    order = await board.next("O")
    assert (order["h"], order["p"], order["k"], order["z"]) == ("0", "1", "0", "0")


async def test_demand_may_follow_an_older_report_of_the_session(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    await reported(board, inbox, 1000)
    await reported(board, inbox, 1500)
    line.offer(demands(1000))
    assert (await board.next("O"))["e"] == "1000"


async def test_demand_may_follow_the_report_that_a_drain_has_kept(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    await reported(board, inbox, 1000)
    clock.advance(2.9)
    line.offer(demands(await reported(board, inbox, 1500)))
    assert (await board.next("O"))["e"] == "1500"


async def test_nothing_but_an_offer_makes_an_order(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    line.offer(demands(await reported(board, inbox, 1000)))
    await board.next("O")
    for n in range(1, 200):
        clock.advance(0.5)
        await reported(board, inbox, 1000 + 500 * n)
    board.listen()
    assert board.letters() == "QCO"


async def test_empty_offer_sends_nothing(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    await reported(board, inbox, 1000)
    line.offer(())
    board.listen()
    assert board.letters() == "QC"


async def test_offer_before_there_is_a_session_is_ignored(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox
) -> None:
    line = make_line()
    line.offer(demands(1000))
    board.is_mute = True
    run(line)
    await board.next("Q")
    line.offer(demands(1000))
    board.say("0 " + HELLO, "0 " + PROBES)
    asked = await board.next("C")
    line.offer(demands(1000))
    board.say(f"{asked['seq']} A sid={SESSION}")
    await inbox.until_linked()
    line.offer(demands(1000))
    board.listen()
    assert board.letters() == "QC"
    assert line.counts()["ignored_offers"] == 4


async def test_demand_that_follows_from_no_report_of_this_session_is_ignored(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    await reported(board, inbox, 1000)
    line.offer(demands(999))
    line.offer(demands(1001))
    board.listen()
    assert "O" not in board.letters()


async def test_the_same_demands_twice_are_two_orders_with_different_bytes(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    acted_on = await reported(board, inbox, 1000)
    line.offer(demands(acted_on))
    line.offer(demands(acted_on))
    first, second = await board.next("O"), await board.next("O")
    assert first["seq"] != second["seq"]


async def test_sequence_number_wraps_to_zero(line: SerialLine, board: FakeBoard, inbox: FakeInbox) -> None:
    acted_on = await reported(board, inbox, 1000)
    for _ in range(65_535 - 3):
        next(line._numbers)
    numbers = []
    for _ in range(3):
        line.offer(demands(acted_on))
        numbers.append((await board.next("O"))["seq"])
    assert numbers == ["65535", "0", "1"]


@pytest.mark.parametrize(
    ("ttl_ms", "longest_of_board_ms", "lease_s", "expected"),
    [(3000, 5000, 3.0, "3000"), (3000, 2000, 3.0, "2000"), (3000, 5000, 1.5, "1500"), (1500, 5000, 3.0, "1500")],
)
async def test_lease_is_the_shortest_of_demand_kettle_file_and_board(
    make_line: MakeLine,
    run: Run,
    board: FakeBoard,
    inbox: FakeInbox,
    ttl_ms: int,
    longest_of_board_ms: int,
    lease_s: float,
    expected: str,
) -> None:
    board.answers["Q"] = ["0 " + HELLO.replace("max=5000", f"max={longest_of_board_ms}"), "0 " + PROBES]
    line = make_line(lease_s=lease_s)
    run(line)
    await inbox.until_linked()
    line.offer(demands(await reported(board, inbox, 1000), ttl_ms))
    assert (await board.next("O"))["ttl"] == expected


@pytest.mark.parametrize(
    "wrong",
    [
        demands(1000, heater=1001),
        demands(1000, heater=-1),
        demands(1000, pump=500),
        demands(1000, main_contactor=1),
        demands(1000, buzzer=10),
        demands(1000, ttl_ms=100),
        (*demands(1000), *demands(1000)),
        (demands(1000)[0], demands(999)[1]),
    ],
)
async def test_demand_that_makes_no_sense_is_a_bug_and_never_written(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox, wrong: tuple[Demand, ...]
) -> None:
    await reported(board, inbox, 999)
    await reported(board, inbox, 1000)
    with pytest.raises(ValueError, match=r".+"):
        line.offer(wrong)
    board.listen()
    assert "O" not in board.letters()


@pytest.mark.parametrize(
    ("why", "reason"),
    [
        ("lapsed", LinkReason.LAPSED),
        ("session", LinkReason.LAPSED),
        ("version", LinkReason.OTHER_VERSION),
        ("busy", LinkReason.BUSY),
    ],
)
async def test_refusal_that_means_the_session_is_over_ends_it(
    make_line: MakeLine, run: Run, board: FakeBoard, inbox: FakeInbox, why: str, reason: LinkReason
) -> None:
    board.answers["O"] = [f"# N why={why}"]
    line = make_line()
    task = run(line)
    await inbox.until_linked()
    line.offer(demands(await reported(board, inbox, 1000)))
    with pytest.raises(LinkError) as caught:
        async with asyncio.timeout(GUARD_S):
            await task
    assert caught.value.reason is reason
    line.offer(demands(1000))
    assert board.letters().count("O") == 1


async def test_other_refusals_are_counted_and_logged_once_and_the_session_goes_on(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox, caplog: pytest.LogCaptureFixture
) -> None:
    for n, why in enumerate(["stale", "stale", "order", "range"]):
        board.answers["O"] = [f"# N why={why}"]
        line.offer(demands(await reported(board, inbox, 1000 + n)))
        await board.next("O")
    await reported(board, inbox, 2000)
    assert {why: line.counts()[why] for why in ("stale", "order", "range")} == {"stale": 2, "order": 1, "range": 1}
    assert [record.getMessage() for record in caplog.records if "refused" in record.getMessage()] == [
        "board 28A4 refused an order: stale",
        "board 28A4 refused an order: order",
        "board 28A4 refused an order: range",
    ]


async def test_refusal_of_somebody_elses_order_changes_nothing(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox, caplog: pytest.LogCaptureFixture
) -> None:
    before = line.counts()
    board.say("77 N why=lapsed")
    acted_on = await reported(board, inbox, 1000)
    assert [record.getMessage() for record in caplog.records if "refused" in record.getMessage()] == []
    assert line.counts() == before
    line.offer(demands(acted_on))
    await board.next("O")
    assert board.letters() == "QCO"


async def test_all_off_is_sent_at_once_and_no_order_follows_it(
    line: SerialLine, board: FakeBoard, inbox: FakeInbox
) -> None:
    acted_on = await reported(board, inbox, 1000)
    line.offer(demands(acted_on))
    line.all_off()
    line.offer(demands(acted_on))
    await board.next("X")
    board.listen()
    assert board.letters() == "QCOX"


async def test_all_off_without_a_wire_does_nothing(make_line: MakeLine) -> None:
    make_line().all_off()


async def test_all_off_reaches_a_board_that_is_still_being_asked_who_it_is(
    make_line: MakeLine, run: Run, board: FakeBoard
) -> None:
    board.is_mute = True
    line = make_line()
    run(line)
    await board.next("Q")
    line.all_off()
    board.listen()
    assert board.letters() == "QX"


async def test_deaf_board_finds_the_newest_order_last_and_the_service_never_waits(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    acted_on = await reported(board, inbox, 1000)
    board.deafen()
    for offered in range(1, 5000):
        line.offer(demands(acted_on, heater=offered % 1000))
        if line.counts()["flushed_writes"]:
            break
    board.hearken()
    while (await board.next("O"))["h"] != str(offered % 1000):
        pass
    assert board.letters().count("O") < offered


async def test_every_byte_sent_is_counted_as_under_way(
    line: SerialLine, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    line.offer(demands(await reported(board, inbox, 1000)))
    await board.next("O")
    assert clock.gates[f"{board.path}>"].count == sum(len(f"@{body}*0000\r\n") for body in board.heard)


async def test_offer_to_a_board_just_unplugged_raises_nothing(
    make_line: MakeLine, run: Run, board: FakeBoard, clock: ManualClock, inbox: FakeInbox
) -> None:
    line = make_line()
    task = run(line)
    await inbox.until_linked()
    acted_on = await reported(board, inbox, 1000)
    under_way = clock.gates[f"{board.path}>"].count
    board.unplug()
    line.offer(demands(acted_on))
    line.all_off()
    with pytest.raises(LinkError) as caught:
        async with asyncio.timeout(GUARD_S):
            await task
    assert caught.value.reason is LinkReason.LOST
    assert clock.gates[f"{board.path}>"].count == under_way
