"""Several boards as one: who may be missing, whose token a demand carries, and what the whole reports."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest

from kettlebridge.core.by_board import began_anew
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import BoardInput, BoardStanding, BoardState, ReadingFault
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Inbox
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.several_bridges import Part, SeveralBridges

HEATERS = (Output.HEATER, Output.MAIN_CONTACTOR)
MASH, ROOM = ProbeName("mash"), ProbeName("room")


class Board:
    """A bridge that a test speaks through."""

    def __init__(self) -> None:
        self.offers: list[tuple[Demand, ...]] = []
        self.offs = 0
        self.runs = 0
        self.inbox: Inbox | None = None
        self.absent = False
        self._end: asyncio.Future[None] | None = None

    async def run(self, inbox: Inbox) -> None:
        """A session, unless the board is absent."""
        self.runs += 1
        if self.absent:
            raise LinkError(LinkReason.NO_PORT, "/dev/ttyX is not there")
        self.inbox = inbox
        self._end = asyncio.get_running_loop().create_future()
        inbox.linked()
        await self._end

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """Kept."""
        self.offers.append(demands)

    def all_off(self) -> None:
        """Counted."""
        self.offs += 1

    def fails(self, reason: LinkReason = LinkReason.LOST) -> None:
        """The session ends."""
        assert self._end is not None
        self._end.set_exception(LinkError(reason, "no fresh report for 3 s"))

    def says(self, acted_on: int, taken_s: float = 0.0, **more: object) -> None:
        """A report."""
        fields: dict[str, object] = {
            "heater_permille": 0,
            "heater_on_ms": 0,
            "pump_on": False,
            "main_contactor_closed": False,
            "lease_left_s": 0.0,
        }
        board = BoardState(acted_on=acted_on, **(fields | more))  # type: ignore[arg-type]
        assert self.inbox is not None
        self.inbox.hear((), BoardReport(board=board, taken_s=taken_s))


class Ears:
    """The kettle's inbox."""

    def __init__(self) -> None:
        self.links = 0
        self.samples: list[Sample] = []
        self.reports: list[BoardReport] = []

    def linked(self) -> None:
        """Counted."""
        self.links += 1

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """The keeper's affair."""
        raise AssertionError(reason, detail)

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """Kept."""
        self.samples.extend(samples)
        if report is not None:
            self.reports.append(report)


class Scene:
    """Heater and contactor on one board, the pump on another, a probe on a third."""

    def __init__(self, clock: PacedClock) -> None:
        self.clock = clock
        self.heating, self.pumping, self.feeling = Board(), Board(), Board()
        none = BoardInput.NONE
        self.whole = SeveralBridges(
            (
                Part(name="bridge", bridge=self.heating, probes=(MASH,), outputs=HEATERS, inputs=BoardInput.STOP),
                Part(name="wifi", bridge=self.pumping, probes=(), outputs=(Output.PUMP,), inputs=none),
                Part(name="rail", bridge=self.feeling, probes=(ROOM,), outputs=(), inputs=none),
            ),
            clock,
        )
        self.ears = Ears()
        self.serving: asyncio.Task[None] | None = None

    async def begin(self) -> None:
        """Starts it, and lets everybody have a turn."""
        self.serving = asyncio.create_task(self.whole.run(self.ears), name="several")
        await self.clock.sleep_until(self.clock.now_s() + 0.1)

    async def lost(self) -> LinkError:
        """What it ended with."""
        assert self.serving is not None
        await asyncio.wait({self.serving})
        error = self.serving.exception()
        assert isinstance(error, LinkError)
        return error

    async def end(self) -> None:
        """Stops it."""
        if self.serving is not None:
            self.serving.cancel()
            await asyncio.wait({self.serving})


def play(play_it: Callable[[Scene], Awaitable[None]]) -> None:
    async def main(clock: PacedClock) -> None:
        scene = Scene(clock)
        try:
            await play_it(scene)
        finally:
            await scene.end()

    run_paced(main)


def demands(acted_on: int) -> tuple[Demand, ...]:
    return tuple(
        Demand(output=output, permille=1000, ttl_ms=3000, acted_on=acted_on) for output in (*HEATERS, Output.PUMP)
    )


def test_it_is_linked_once_every_vital_board_is() -> None:
    async def scene(it: Scene) -> None:
        it.feeling.absent = True
        await it.begin()
        assert it.ears.links == 1

    play(scene)


def test_a_report_waits_for_every_vital_board_and_is_as_old_as_the_oldest() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.heating.says(184_460, 10.0, heater_permille=350, main_contactor_closed=True, inputs=BoardInput.STOP)
        assert it.ears.reports == []
        it.pumping.says(7, 9.5, pump_on=True, heater_permille=999, inputs=BoardInput.FOAM)
        (report,) = it.ears.reports
        assert report.taken_s == 9.5
        board = report.board
        assert (board.heater_permille, board.pump_on, board.main_contactor_closed) == (350, True, True)
        assert board.inputs is BoardInput.STOP

    play(scene)


def test_each_board_gets_its_own_outputs_with_its_own_token() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.heating.says(184_460)
        it.pumping.says(7)
        it.heating.says(184_960)
        it.whole.offer(demands(it.ears.reports[0].board.acted_on))
        assert [(demand.output, demand.acted_on) for demand in it.heating.offers[-1]] == [
            (Output.HEATER, 184_460),
            (Output.MAIN_CONTACTOR, 184_460),
        ]
        assert [(demand.output, demand.acted_on) for demand in it.pumping.offers[-1]] == [(Output.PUMP, 7)]
        assert it.feeling.offers[-1] == ()

    play(scene)


def test_a_demand_after_no_known_report_goes_nowhere() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.heating.says(1)
        it.pumping.says(1)
        it.whole.offer(demands(99))
        it.whole.offer(())
        assert it.heating.offers == it.pumping.offers == []

    play(scene)


def test_the_loss_of_a_board_with_outputs_ends_the_session_and_names_it() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.pumping.fails()
        lost = await it.lost()
        assert lost.reason is LinkReason.LOST
        assert lost.detail == "board wifi: no fresh report for 3 s"

    play(scene)


def test_a_board_of_probes_may_go_and_come_back(caplog: pytest.LogCaptureFixture) -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.feeling.absent = True
        it.feeling.fails()
        await it.clock.sleep_until(it.clock.now_s() + 10.0)
        assert it.serving is not None
        assert not it.serving.done()
        faults = [sample.fault for sample in it.ears.samples if sample.probe == ROOM]
        assert 9 <= len(faults) <= 12
        assert set(faults) == {ReadingFault.NO_ANSWER}
        assert not any(sample.probe == MASH for sample in it.ears.samples)
        it.feeling.absent = False
        await it.clock.sleep_until(it.clock.now_s() + 3.0)
        heard = len(it.ears.samples)
        await it.clock.sleep_until(it.clock.now_s() + 5.0)
        assert len(it.ears.samples) == heard

    play(scene)
    warned = [record.getMessage() for record in caplog.records if record.levelname == "WARNING"]
    assert warned == ["board rail: lost: no fresh report for 3 s", "board rail: no_port: /dev/ttyX is not there"]


def test_all_off_reaches_every_board() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.whole.all_off()
        assert [board.offs for board in (it.heating, it.pumping, it.feeling)] == [1, 1, 1]

    play(scene)


def test_a_second_session_knows_nothing_of_the_first() -> None:
    async def scene(it: Scene) -> None:
        await it.begin()
        it.heating.says(1)
        it.pumping.says(1)
        old = it.ears.reports[-1].board.acted_on
        it.pumping.fails()
        await it.lost()
        await it.begin()
        it.whole.offer(demands(old))
        assert it.heating.offers == []
        it.heating.says(2)
        assert len(it.ears.reports) == 1

    play(scene)


@pytest.mark.parametrize(("after_ms", "falls"), [(1_000, True), (903_000, False)])
def test_a_board_that_starts_anew_shows_through_and_a_line_that_was_lost_does_not(after_ms: int, falls: bool) -> None:
    async def two_sessions(scene: Scene) -> None:
        await scene.begin()
        for k in range(3):
            scene.pumping.says(7 + k)
            scene.heating.says(900_000 + 500 * k)
        before = scene.ears.reports[-1].board
        scene.heating.fails()
        await scene.lost()
        await scene.begin()
        scene.pumping.says(10)
        scene.heating.says(after_ms)
        after = scene.ears.reports[-1].board
        assert began_anew(before.acted_on, after.acted_on) is falls
        scene.whole.offer((Demand(output=Output.HEATER, permille=350, ttl_ms=3000, acted_on=after.acted_on),))
        assert [one.acted_on for one in scene.heating.offers[-1]] == [after_ms]
        scene.heating.offers.clear()
        scene.whole.offer((Demand(output=Output.HEATER, permille=350, ttl_ms=3000, acted_on=before.acted_on),))
        assert scene.heating.offers == []

    play(two_sessions)


def test_a_report_says_how_each_board_stands() -> None:
    async def scene(it: Scene) -> None:
        it.feeling.absent = True
        await it.begin()
        it.heating.says(1)
        it.pumping.says(1)
        assert it.ears.reports[-1].boards == (
            BoardStanding(name="bridge", linked=True),
            BoardStanding(name="wifi", linked=True),
            BoardStanding(name="rail", linked=False, trouble=LinkReason.NO_PORT, detail="/dev/ttyX is not there"),
        )
        it.feeling.absent = False
        await it.clock.sleep_until(it.clock.now_s() + 3.0)
        it.heating.says(2)
        assert it.ears.reports[-1].boards[-1] == BoardStanding(name="rail", linked=True)
        it.feeling.fails()
        await it.clock.sleep_until(it.clock.now_s() + 0.1)
        it.heating.says(3)
        assert it.ears.reports[-1].boards[-1].trouble is LinkReason.LOST

    play(scene)
