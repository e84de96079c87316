"""The line in accelerated time: the clock waits for every byte, both ways, and for the port itself."""

from __future__ import annotations

import asyncio

from kettlebridge.drivers.serial_line import SerialLine, SerialLineSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.runtime.clock import PacedClock, run_paced
from tests.drivers.fake_board import FakeBoard
from tests.drivers.fake_inbox import FakeInbox

MINUTES = 10
REPORTS = MINUTES * 120


class OfferingInbox(FakeInbox):
    """Answers each report with a demand, and remembers when each report was made and heard."""

    def __init__(self, clock: PacedClock) -> None:
        super().__init__()
        self.heard: list[tuple[int, float, float, int]] = []
        self.line: SerialLine | None = None
        self._clock = clock

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """Offers at once."""
        assert report is not None
        assert self.line is not None
        acted_on = report.board.acted_on
        self.heard.append((acted_on, report.taken_s, self._clock.now_s(), len(samples)))
        self.line.offer((Demand(output=Output.HEATER, permille=500, ttl_ms=3000, acted_on=acted_on),))


async def ten_minutes(clock: PacedClock) -> tuple[OfferingInbox, FakeBoard]:
    board = FakeBoard()
    arriving, leaving = clock.gate(f"{board.path}<"), clock.gate(f"{board.path}>")
    board.on_write, board.on_handled = arriving.shut, leaving.open
    inbox = OfferingInbox(clock)
    settings = SerialLineSettings(
        port=board.path,
        board_id="28A4",
        lease_s=3.0,
        probes={"28A1B2C3040506B4": ProbeName("mash"), "28D4E5F6070809E6": ProbeName("return")},
        require_simulated=True,
    )
    inbox.line = SerialLine(settings, clock)
    running = asyncio.create_task(inbox.line.run(inbox))
    await inbox.until_linked()
    linked_s = clock.now_s()
    for n in range(1, REPORTS + 1):
        await clock.sleep_until(linked_s + 0.5 * n)
        board.report(round(500 * n), "t0=66.4375/0")
    await clock.sleep_until(clock.now_s() + 0.1)
    running.cancel()
    await asyncio.wait({running})
    board.listen()
    assert arriving.count == leaving.count == clock.gate(f"{board.path} port").count == 0
    board.unplug()
    return inbox, board


def test_ten_minutes_pass_without_a_byte_or_a_moment_lost() -> None:
    inbox, board = run_paced(ten_minutes)
    assert len(inbox.heard) == REPORTS
    assert all(samples == 1 for _, _, _, samples in inbox.heard)
    assert all(abs(heard_s - taken_s) < 1e-6 for _, taken_s, heard_s, _ in inbox.heard)
    assert board.letters() == "QC" + "O" * REPORTS + "X"
