"""All off without a session: certain only once the board says so."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.switching_off import PATIENCE_S, switch_off
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.runtime.clock import RealClock
from tests.drivers.fake_board import FakeBoard, report
from tests.drivers.manual_clock import ManualClock

OFF: dict[str, Any] = {"h": 0, "p": 0, "k": 0, "session": "0"}


def at(board: FakeBoard) -> SerialLineSettings:
    return SerialLineSettings(port=board.path, board_id="28A4", lease_s=3.0, probes={}, require_simulated=False)


async def test_a_board_that_reports_everything_off_is_off(board: FakeBoard) -> None:
    board.answers["X"] = [report(1000, **OFF), report(1500, **OFF)]
    await switch_off(at(board), RealClock())
    assert board.letters() == "X"


async def test_a_report_that_was_on_its_way_proves_nothing(board: FakeBoard, clock: ManualClock) -> None:
    board.answers["X"] = [report(1000, **OFF)]
    going_off = asyncio.create_task(switch_off(at(board), clock))
    await board.next("X")
    board.report(1500, h=1000)
    board.answers["X"] = []
    await clock.step()
    await board.next("X")
    assert not going_off.done()
    board.report(2000, **OFF)
    await going_off


async def test_another_board_obeys_too(board: FakeBoard) -> None:
    """Whatever hangs on this port must not heat."""
    board.answers["X"] = [report(1000, **OFF), report(1500, **OFF)]
    board.answers["Q"] = []
    await switch_off(at(board), RealClock())


@pytest.mark.parametrize(("pin", "words"), [("h", "an output that is on"), (None, "does not answer")])
async def test_a_board_that_does_not_obey_is_told_of(
    board: FakeBoard, clock: ManualClock, pin: str | None, words: str
) -> None:
    if pin is not None:
        board.answers["X"] = [report(1000, **(OFF | {pin: 1}))]
    going_off = asyncio.create_task(switch_off(at(board), clock))
    if pin is not None:
        await clock.gate(f"{board.path}<").until_opened()  # the first report is heard
    assert PATIENCE_S - 0.5 <= await clock.run_out(going_off) <= PATIENCE_S
    with pytest.raises(LinkError, match=words) as raised:
        await going_off
    assert raised.value.reason is LinkReason.NO_ANSWER
