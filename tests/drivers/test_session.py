"""A session by itself, without a wire: which orders it makes, which reports it believes, and what ends it."""

from __future__ import annotations

import logging
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.drivers.serial_line.frames import (
    Ability,
    Board,
    Conversion,
    ForeignBoard,
    Heard,
    Order,
    ProbeList,
    Query,
    Refusal,
    Refused,
    Report,
    ResetCause,
    Version,
)
from kettlebridge.drivers.serial_line.handshake import Joined
from kettlebridge.drivers.serial_line.session import Count, News, Session, Tally
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import BoardInput, ReadingFault

OURS, OTHERS, NOBODYS = 0x9F3A1C07, 0x11111111, 0
HIGHER = 0xFFFFFFFF
BOOT = 0x5C21E07A
CLAIMED_S = 100.0
MASH_ROM, BACK_ROM = "28A1", "28B2"
MASH, BACK = ProbeName("mash"), ProbeName("back")
BOARD = Board(
    version=Version(major=1, minor=0),
    board_id="28A4",
    boot=BOOT,
    cause=ResetCause.POWER_ON,
    max_ttl_ms=5000,
    abilities=Ability.NONE,
)
BOTH = ProbeList(roms=((0, MASH_ROM), (1, BACK_ROM)))


def report(up_ms: int, *conversions: tuple[int, Conversion], session: int = OURS, **changed: Any) -> Report:
    fields: dict[str, Any] = {
        "heater_permille": 350,
        "heater_on_ms": 90_210,
        "pump_on": True,
        "contactor_on": True,
        "inputs": BoardInput.NONE,
        "lease_left_ms": 2410,
        "dropped_frames": 0,
    }
    return Report(up_ms=up_ms, session=session, conversions=conversions, **(fields | changed))


def at(value_c: float, age_ms: int) -> Conversion:
    return Conversion(value_c=value_c, age_ms=age_ms)


class Held:
    """A session whose frames a test hands over one by one."""

    def __init__(self, *, probes: ProbeList | None = BOTH, max_ttl_ms: int = 5000, lease_s: float = 3.0) -> None:
        board = replace(BOARD, max_ttl_ms=max_ttl_ms)
        joined = Joined(board=board, session=OURS, claimed_s=CLAIMED_S, probes=probes)
        settings = SerialLineSettings(
            port="nowhere",
            board_id=None,
            lease_s=lease_s,
            probes={MASH_ROM.lower(): MASH, BACK_ROM: BACK},
            require_simulated=False,
        )
        self.tally: Tally = Counter()
        self.session = Session(joined, settings, self.tally)

    def hear(self, frame: Any, now_s: float = CLAIMED_S, seq: int = 9) -> News | None:
        return self.session.take(Heard(seq=seq, frame=frame), now_s)

    def stale(self, frame: Any, now_s: float) -> bool:
        return self.session.is_stale(Heard(seq=9, frame=frame), now_s)

    def ended_by(self, frame: Any, now_s: float = CLAIMED_S, seq: int = 9) -> LinkError:
        with pytest.raises(LinkError) as caught:
            self.hear(frame, now_s, seq)
        return caught.value


def demand(output: Output, permille: int, *, acted_on: int = 1000, ttl_ms: int = 3000) -> Demand:
    return Demand(output, permille, ttl_ms, acted_on)


class TestAnOrder:
    """The only thing that renews a lease."""

    def test_says_the_demands_of_one_report(self) -> None:
        held = Held()
        held.hear(report(1000))
        wanted = (
            demand(Output.HEATER, 350),
            demand(Output.PUMP, 1000),
            demand(Output.MAIN_CONTACTOR, 1000),
            demand(Output.BUZZER, 2),
        )
        assert held.session.order(wanted) == Order(
            session=OURS,
            acted_on=1000,
            ttl_ms=3000,
            heater_permille=350,
            pump_on=True,
            contactor_on=True,
            buzzer=2,
        )

    def test_takes_equal_numbers_for_the_same_report(self) -> None:
        held = Held()
        held.hear(report(184_460))
        both = tuple(demand(output, 0, acted_on=int("184460")) for output in (Output.HEATER, Output.PUMP))
        assert held.session.order(both) is not None

    @pytest.mark.parametrize("output", list(Output))
    def test_leaves_off_what_nobody_demands(self, output: Output) -> None:
        held = Held()
        held.hear(report(1000))
        order = held.session.order((demand(output, 0),))
        assert order is not None
        assert (order.heater_permille, order.pump_on, order.contactor_on, order.buzzer) == (0, False, False, 0)

    def test_is_none_before_the_first_report_and_for_one_that_never_came(self) -> None:
        held = Held()
        assert held.session.order((demand(Output.HEATER, 350),)) is None
        held.hear(report(1000))
        assert held.session.order((demand(Output.HEATER, 350, acted_on=999),)) is None
        assert held.session.order((demand(Output.HEATER, 350, acted_on=1001),)) is None
        held.hear(report(1500))
        assert held.session.order((demand(Output.HEATER, 350, acted_on=1001),)) is not None

    @pytest.mark.parametrize(
        ("ttls_ms", "max_ttl_ms", "lease_s", "expected"),
        [
            ((3000, 3000), 5000, 3.0, 3000),
            ((3000, 2500), 5000, 3.0, 2500),
            ((2500, 3000), 5000, 3.0, 2500),
            ((3000, 3000), 2000, 3.0, 2000),
            ((3000, 3000), 5000, 1.5, 1500),
        ],
    )
    def test_asks_for_the_shortest_lease_of_all(
        self, ttls_ms: tuple[int, int], max_ttl_ms: int, lease_s: float, expected: int
    ) -> None:
        held = Held(max_ttl_ms=max_ttl_ms, lease_s=lease_s)
        held.hear(report(1000))
        heater, pump = ttls_ms
        order = held.session.order((demand(Output.HEATER, 1, ttl_ms=heater), demand(Output.PUMP, 0, ttl_ms=pump)))
        assert order is not None
        assert order.ttl_ms == expected

    @pytest.mark.parametrize("acted_on", [999, 1001])
    def test_of_two_reports_is_a_bug(self, acted_on: int) -> None:
        held = Held()
        held.hear(report(1000))
        with pytest.raises(ValueError, match="contradict"):
            held.session.order((demand(Output.HEATER, 1), demand(Output.PUMP, 0, acted_on=acted_on)))

    def test_of_one_output_twice_is_a_bug(self) -> None:
        held = Held()
        held.hear(report(1000))
        with pytest.raises(ValueError, match="contradict"):
            held.session.order((demand(Output.HEATER, 1), demand(Output.HEATER, 1)))

    @pytest.mark.parametrize("output", [Output.PUMP, Output.MAIN_CONTACTOR])
    @pytest.mark.parametrize("permille", [1, 999, 1001, -1])
    def test_of_a_switch_half_on_is_a_bug(self, output: Output, permille: int) -> None:
        held = Held()
        held.hear(report(1000))
        with pytest.raises(ValueError, match="only off or on"):
            held.session.order((demand(output, permille),))


class TestAReport:
    """What a board says of itself."""

    def test_is_an_account_of_the_pins_dated_by_the_boards_clock(self) -> None:
        held = Held()
        news = held.hear(report(1000, lease_left_ms=2410, dropped_frames=3), 100.2)
        assert news is not None
        assert (news.samples, news.report.ended) == ((), False)
        board = news.report.board
        assert (board.acted_on, board.lease_left_s, board.dropped_frames) == (1000, 2.41, 3)
        assert (board.heater_permille, board.heater_on_ms, board.pump_on, board.main_contactor_closed) == (
            350,
            90_210,
            True,
            True,
        )
        assert news.report.taken_s == pytest.approx(100.2)
        later = held.hear(report(1500), 101.0)
        assert later is not None
        assert later.report.taken_s == pytest.approx(100.7)

    def test_that_is_fresh_gives_the_session_time(self) -> None:
        held = Held()
        assert held.session.fresh_s == CLAIMED_S
        held.hear(report(1000), 100.2)
        assert held.session.fresh_s == 100.2

    def test_is_late_when_it_took_a_second_more_than_the_quickest(self) -> None:
        held = Held()
        held.hear(report(1000), 100.0)
        assert not held.stale(report(2000), 102.0)
        assert held.stale(report(2000), 102.01)
        assert not held.stale(report(1000), 110.0)
        assert not held.stale(report(2000, session=OTHERS), 110.0)
        assert not held.stale(report(2000, session=HIGHER), 110.0)
        assert not held.stale(BOTH, 110.0)

    def test_that_came_before_is_counted_and_says_nothing(self) -> None:
        held = Held()
        held.hear(report(1000))
        assert held.hear(report(1000)) is None
        assert held.hear(report(900)) is None
        assert held.tally[Count.REPEATED_REPORTS] == 2
        assert held.session.fresh_s == CLAIMED_S

    @pytest.mark.parametrize("session", [NOBODYS, OTHERS, HIGHER])
    def test_from_before_the_claim_is_passed_over(self, session: int) -> None:
        held = Held()
        assert held.hear(report(900, session=session)) is None
        held.hear(report(1000))
        assert held.hear(report(1000, session=session)) is None
        assert held.session.last_word is None

    def test_that_the_board_let_go_ends_the_session_and_is_its_last_word(self) -> None:
        held = Held()
        held.hear(report(1000), 100.0)
        error = held.ended_by(report(1001, session=NOBODYS, heater_permille=0), 100.5)
        assert error.reason is LinkReason.LAPSED
        assert held.session.last_word is not None
        assert held.session.last_word.ended is True
        assert held.session.last_word.board.heater_permille == 0

    def test_of_somebody_elses_session_ends_ours_and_tells_nothing_of_our_outputs(self) -> None:
        held = Held()
        held.hear(report(1000))
        assert held.ended_by(report(1001, session=OTHERS)).reason is LinkReason.LAPSED
        assert held.session.last_word is None


class TestASample:
    """A reading of a probe, once."""

    def test_is_dated_by_the_end_of_its_conversion(self) -> None:
        news = Held().hear(report(1000, (0, at(66.5, 310)), (1, at(64.0, 20))), 100.0)
        assert news is not None
        assert [(one.probe, one.value_c, one.fault) for one in news.samples] == [(MASH, 66.5, None), (BACK, 64.0, None)]
        assert [one.taken_s for one in news.samples] == pytest.approx([99.69, 99.98])

    @pytest.mark.parametrize(("apart_ms", "new"), [(20, False), (-20, False), (21, True), (-21, True), (0, False)])
    def test_is_of_another_conversion_when_that_ended_more_than_20_ms_apart(self, apart_ms: int, new: bool) -> None:
        held = Held()
        held.hear(report(1000, (0, at(66.5, 300))))
        news = held.hear(report(1500, (0, at(66.5, 800 - apart_ms))), 100.5)
        assert news is not None
        assert bool(news.samples) is new

    def test_of_a_probe_that_nobody_named_is_left_out(self) -> None:
        news = Held().hear(report(1000, (2, at(20.0, 0)), (0, at(66.5, 0))))
        assert news is not None
        assert [one.probe for one in news.samples] == [MASH]

    def test_that_is_a_fault_is_told_each_time(self) -> None:
        held = Held()
        fault = Conversion(fault=ReadingFault.BAD_CRC, age_ms=0)
        for up_ms in (1000, 1001):
            news = held.hear(report(up_ms, (0, fault)))
            assert news is not None
            assert [one.fault for one in news.samples] == [ReadingFault.BAD_CRC]

    def test_has_no_name_until_the_board_listed_its_probes(self) -> None:
        held = Held(probes=None)
        news = held.hear(report(1000, (0, at(66.5, 0))))
        assert news is not None
        assert news.samples == ()
        knew = held.session.knows_probes
        held.hear(BOTH)
        assert (knew, held.session.knows_probes) == (False, True)
        news = held.hear(report(1001, (0, at(66.5, 0))))
        assert news is not None
        assert [one.probe for one in news.samples] == [MASH]

    def test_of_a_list_that_says_the_same_is_not_told_twice(self) -> None:
        held = Held()
        held.hear(report(1000, (0, at(66.5, 300))))
        held.hear(BOTH)
        news = held.hear(report(1500, (0, at(66.5, 800))), 100.5)
        assert news is not None
        assert news.samples == ()


class TestAProbeThatIsMissing:
    """Gives no answer once a second."""

    ONE = ProbeList(roms=((1, BACK_ROM), (3, "28FF")))

    def test_is_told_at_once_and_again_after_a_second(self) -> None:
        held = Held(probes=self.ONE)
        told = []
        for up_ms, now_s in ((1000, 100.0), (1500, 100.99), (2000, 101.0), (2500, 101.5)):
            news = held.hear(report(up_ms), now_s)
            assert news is not None
            told.append([(one.probe, one.fault) for one in news.samples])
        absent = [(MASH, ReadingFault.NO_ANSWER)]
        assert told == [absent, [], absent, []]

    def test_is_told_from_the_first_moment_of_a_clock(self) -> None:
        held = Held(probes=self.ONE)
        news = held.hear(report(1000), 0.0)
        assert news is not None
        assert [one.probe for one in news.samples] == [MASH]

    def test_is_warned_of_and_a_stranger_is_told(self, caplog: pytest.LogCaptureFixture) -> None:
        Held(probes=self.ONE)
        assert [(record.levelno, record.getMessage()) for record in caplog.records] == [
            (logging.WARNING, "board 28A4 does not have the probes mash"),
            (logging.INFO, "board 28A4 has probes that no kettle file names: 28FF"),
        ]

    def test_that_nobody_misses_is_no_matter(self, caplog: pytest.LogCaptureFixture) -> None:
        held = Held()
        news = held.hear(report(1000))
        assert news is not None
        assert (news.samples, caplog.records) == ((), [])


class TestARefusal:
    """Counts where it answers an order of this session."""

    @pytest.mark.parametrize(
        ("why", "reason"),
        [
            (Refusal.LAPSED, LinkReason.LAPSED),
            (Refusal.SESSION, LinkReason.LAPSED),
            (Refusal.BUSY, LinkReason.BUSY),
            (Refusal.VERSION, LinkReason.OTHER_VERSION),
        ],
    )
    def test_that_means_the_end_is_the_end(self, why: Refusal, reason: LinkReason) -> None:
        held = Held()
        held.session.ordered(5)
        error = held.ended_by(Refused(why=why), seq=5)
        assert (error.reason, held.tally[why]) == (reason, 1)
        assert error.detail == f"board 28A4 refused an order: {why.value}"

    @pytest.mark.parametrize("why", [Refusal.STALE, Refusal.RANGE, Refusal.KEY, Refusal.ORDER, Refusal.INPUT])
    def test_of_another_kind_is_counted_and_warned_of_once(
        self, why: Refusal, caplog: pytest.LogCaptureFixture
    ) -> None:
        held = Held()
        for seq, times in ((5, 1), (6, 2)):
            held.session.ordered(seq)
            assert held.hear(Refused(why=why), seq=seq) is None
            assert held.tally[why] == times
            assert [record.getMessage() for record in caplog.records] == [f"board 28A4 refused an order: {why.value}"]

    def test_of_none_of_the_last_64_orders_is_somebody_elses(self) -> None:
        held = Held()
        for seq in range(65):
            held.session.ordered(seq)
        assert held.hear(Refused(why=Refusal.LAPSED), seq=0) is None
        assert held.hear(Refused(why=Refusal.LAPSED), seq=65) is None
        assert held.tally == Counter()
        assert held.ended_by(Refused(why=Refusal.LAPSED), seq=1).reason is LinkReason.LAPSED


class TestABoard:
    """Answers who it is."""

    def test_that_restarted_is_lost(self) -> None:
        again = replace(BOARD, boot=BOOT + 1, cause=ResetCause.WATCHDOG)
        assert Held().ended_by(again).detail == "board 28A4 restarted (wdt)"

    def test_of_the_same_boot_is_no_news(self) -> None:
        assert Held().hear(replace(BOARD, boot=int("5C21E07A", 16))) is None

    def test_of_another_version_is_another_board(self) -> None:
        error = Held().ended_by(ForeignBoard(version=Version(major=2, minor=0)))
        assert (error.reason, error.detail) == (LinkReason.LOST, "another board answers")


class TestABacklog:
    """All that a drain brought: the newest report counts, for what the board does and not for temperatures."""

    def test_is_as_good_as_its_newest_report(self) -> None:
        held = Held()
        held.hear(report(1000), 100.0)
        late = tuple(
            Heard(seq=n, frame=report(up_ms, (0, at(60.0, 0)), heater_permille=n))
            for n, up_ms in enumerate((1500, 2500, 2000))
        )
        news = held.session.take_backlog(late, 110.0)
        assert news is not None
        assert (news.samples, news.report.board.acted_on, news.report.board.heater_permille) == ((), 2500, 1)
        assert news.report.taken_s == pytest.approx(101.5)
        assert held.tally == {Count.STALE_REPORTS: 3}
        assert held.session.fresh_s == 100.0
        assert held.hear(report(2500), 110.0) is None

    def test_keeps_what_was_pressed_in_any_of_its_reports_and_of_levels_the_newest(self) -> None:
        held = Held()
        held.hear(report(1000), 100.0)
        inputs = (BoardInput.STOP | BoardInput.FLOW, BoardInput.CUTOUT | BoardInput.FOAM, BoardInput.LEVEL)
        late = tuple(Heard(seq=n, frame=report(1500 + 100 * n, inputs=on)) for n, on in enumerate(inputs))
        news = held.session.take_backlog(late, 110.0)
        assert news is not None
        pressed = BoardInput.STOP | BoardInput.CUTOUT | BoardInput.FOAM | BoardInput.LEVEL
        assert (news.report.board.acted_on, news.report.board.inputs) == (1700, pressed)

    def test_without_a_report_of_ours_says_nothing(self) -> None:
        held = Held()
        old = Heard(seq=1, frame=report(900, session=OTHERS))
        assert held.session.take_backlog((old, Heard(seq=2, frame=BOARD)), 110.0) is None
        assert held.tally[Count.STALE_REPORTS] == 1

    def test_is_heard_for_everything_else_that_was_said_in_it(self) -> None:
        held = Held(probes=None)
        held.session.take_backlog((Heard(seq=1, frame=BOTH), Heard(seq=2, frame=report(1000))), 110.0)
        assert held.session.knows_probes
        held.session.ordered(5)
        with pytest.raises(LinkError):
            held.session.take_backlog((Heard(seq=5, frame=Refused(why=Refusal.LAPSED)),), 110.0)


def test_a_frame_that_only_a_host_sends_is_no_news() -> None:
    assert Held().hear(Query()) is None
