"""Arming: what must be so first, what is then shown in which order, and what it demands meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from kettlebridge.core.alarms import AlarmCause
from kettlebridge.core.arming_commands import REFUSALS
from kettlebridge.core.arming_phases import LEASE_MS, LIST_S, PHASES
from kettlebridge.core.arming_state import Phase
from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain
from kettlebridge.documents.arming import ARMING_REFUSALS, PHASE_WORDS
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.demand import Output
from tests.core.bench_kettle import BARE, plan_of
from tests.core.leased_bench import READY, TO_READY_S, LeasedBench, ready_plan

ORDER = (
    "list",
    "settle",
    "contactor_alone",
    "contactor_off",
    "heater_alone",
    "heater_off",
    "contactor_first",
    "drop",
    "rejoin",
    "call",
    "armed",
)


def evening(**changes: object) -> LeasedBench:
    """A kettle that waits for its time, as the test wants it otherwise."""
    bench = LeasedBench()
    bench.run(3)
    bench.state = bench.state._replace(**changes)  # type: ignore[arg-type]  # fields of the state by name
    return bench


def test_a_kettle_in_order_is_armed_in_that_order() -> None:
    bench = evening()
    bench.arm()
    assert tuple(bench.phases) == ORDER
    assert (bench.alarms, bench.batch, bench.off) == ([], BatchState.RUNNING, True)


def test_an_armed_kettle_heats_by_itself_when_it_is_time_and_calls_when_it_is_hot() -> None:
    bench = LeasedBench(ready_plan(to_ready_s=7200.0), liquid_c=60.0)
    bench.run(3)
    bench.arm()
    bench.until(lambda: bench.heater > 0, within_s=7200.0)
    assert bench.now_s > 6000.0
    bench.until(lambda: bench.stage == "hot_hold", within_s=1200.0)
    assert bench.armed
    bench.tick()
    assert bench.confirm(CallKind.PRESENT) is None
    bench.tick()
    assert (bench.armed, bench.refused) == (False, None)


def test_nothing_is_tested_before_the_evening_list_is_confirmed_at_the_kettle() -> None:
    bench = evening()
    bench.tell(CommandKind.ARM, at_kettle=False)
    bench.tick()
    assert bench.confirm(CallKind.EVENING_LIST, 1, at_kettle=False) == "at_kettle_only"
    bench.run(60)
    assert (bench.phase, bench.off) == ("list", True)
    assert bench.confirm(CallKind.EVENING_LIST, 1) is None
    bench.run(62)
    assert (bench.phase, bench.contactor, bench.heater) == ("contactor_alone", True, 0)


def test_each_switch_stands_alone_for_as_long_as_full_power_takes_for_a_degree_and_the_delay() -> None:
    """20 L at 2.5 kW: 20 x 4186 / 2500 = 33.5 s, 10 s that the probe takes, 15 s for a pocket without paste."""
    bench = evening()
    stood: dict[str, list[tuple[int, bool]]] = {}
    bench.tell(CommandKind.ARM)
    while bench.phase != "drop":
        assert bench.now_s < 300
        bench.reach(bench.phase)
        bench.tick()
        stood.setdefault(bench.phase, []).append((bench.heater, bench.contactor))
        bench._answers()
    for phase, outputs in (("contactor_alone", (0, True)), ("heater_alone", (1000, False))):
        assert set(stood[phase]) == {outputs}
        assert 58 <= len(stood[phase]) <= 60


def test_heat_into_an_open_main_contactor_is_no_energy() -> None:
    bench = evening()
    bench.reach("heater_off")
    assert bench.state.ledger.energy_j == 0.0
    bench.reach("armed")
    assert 2500.0 <= bench.state.ledger.energy_j <= 2 * 2500.0


def test_the_short_lease_is_demanded_once_and_then_nothing_until_the_board_has_dropped_it() -> None:
    bench = evening()
    bench.reach("drop")
    demanded = [bench.ticked.demands] if bench.ticked else []
    while bench.phase == "drop":
        assert bench.ticked is not None
        demanded.append(bench.tick().demands)
    (first, *silent) = demanded
    assert {(one.output, one.permille) for one in first} >= {(Output.HEATER, 1000), (Output.MAIN_CONTACTOR, 1000)}
    assert {one.ttl_ms for one in first} == {LEASE_MS}
    assert silent[:-1] == [()] * len(silent[:-1])
    assert len(silent) >= 2


def test_the_test_call_sounds_like_what_must_wake_somebody() -> None:
    bench = evening()
    bench.reach("call")
    bench.tick()
    assert (bench.demanded()[Output.BUZZER], bench.off) == (3, True)


def test_arming_again_asks_everything_again() -> None:
    bench = evening()
    bench.arm()
    assert bench.tell(CommandKind.DISARM) is None
    bench.phases.clear()
    bench.tell(CommandKind.ARM)
    bench.run(30)
    assert (bench.phase, bench.calls) == ("list", [CallKind.EVENING_LIST])


def test_disarming_is_obeyed_in_every_phase_and_everything_is_off() -> None:
    for phase in ORDER:
        bench = evening()
        bench.reach(phase)
        bench.tell(CommandKind.DISARM)
        bench.tick()
        assert (bench.phase, bench.refused, bench.calls) == ("not_armed", "arm_told", []), phase
        bench.run(4)
        assert bench.off, phase


def test_disarming_is_obeyed_in_view_of_any_picture() -> None:
    bench = evening()
    bench.arm()
    assert bench.tell(CommandKind.DISARM, seen_n=0, at_kettle=False) is None
    assert not bench.armed


def test_what_was_not_armed_cannot_be_disarmed() -> None:
    assert evening().tell(CommandKind.DISARM) == "arm_not_armed"


def test_stop_all_heat_ends_an_arming_at_once() -> None:
    bench = evening()
    bench.reach("heater_alone")
    bench.tell(CommandKind.STOP_HEAT)
    assert bench.told_off()
    bench.tick()
    assert bench.refused == "arm_left_running"


def of(plan: object = None, **changes: object) -> Callable[[], LeasedBench]:
    def made() -> LeasedBench:
        bench = evening(**changes)
        if plan is not None:
            bench.plan = plan  # type: ignore[assignment]  # a plan, whatever pytest was told
        return bench

    return made


def unsynchronised() -> LeasedBench:
    bench = evening()
    bench.synchronised = False
    return bench


def silent() -> LeasedBench:
    bench = evening()
    bench.linked = False
    bench.mute, bench.back_s = True, 1e9
    bench.tick()
    return bench


def on() -> LeasedBench:
    bench = evening()
    bench.pins = lambda board: replace(board, pump_on=True)
    bench.tick()
    return bench


def unread() -> LeasedBench:
    bench = evening()
    bench.reads = lambda: None
    bench.run(2)  # a tick before it is held for that
    return bench


EVENING = LeasedBench()
LEDGER = EVENING.state.ledger
DAY_S = 24 * 3600.0
NOT_READY: dict[str, Callable[[], LeasedBench]] = {
    "arm_no_ready_time": of(plan_of(READY)),
    "arm_not_waiting": of(stage=EVENING.state.stage._replace(name="heat")),
    "arm_begun": of(arming=EVENING.state.arming._replace(phase=Phase.ARMED, volume_l=20.0, clock_s=1_800_000_000.0)),
    "arm_no_contactor": of(replace(ready_plan(), kettle=BARE)),
    "arm_pumps": of(ready_plan(replace(READY, pump=True))),
    "arm_no_water_alone": of(ledger=LEDGER._replace(grain=Grain.IN)),
    "arm_no_litres": of(ledger=LEDGER._replace(volume_l=None)),
    "arm_not_covered": of(ledger=LEDGER._replace(volume_l=3.9)),
    "arm_too_late": of(ready_plan(to_ready_s=-1.0)),
    "arm_litres_too_old": of(ledger=LEDGER._replace(claimed_s=-DAY_S + TO_READY_S + 7200.0 - 5.0)),
    "arm_clock_adrift": unsynchronised,
    "arm_no_board": silent,
    "arm_something_on": on,
    "no_temperature": unread,
    "arm_relay_restores": of(ready_plan(against=("arm_relay_restores",))),
}


@pytest.mark.parametrize("reason", NOT_READY)
def test_arming_is_refused_with_its_reason(reason: str) -> None:
    bench = NOT_READY[reason]()
    before = bench.state.arming
    assert bench.tell(CommandKind.ARM) == reason
    assert bench.state.arming in (before, before._replace(phase=Phase.NOT_ARMED))


def test_arming_is_refused_while_there_is_an_alarm() -> None:
    standing = AlarmRecord(cause=AlarmCause.LINK.value, state=AlarmState.ACKNOWLEDGED, safety=False, since_s=0.0)
    bench = evening(alarms=(replace(standing, state=AlarmState.UNACKNOWLEDGED),))
    assert bench.tell(CommandKind.ARM) == "arm_alarm"


def test_every_reason_to_refuse_is_tried_here() -> None:
    assert {reason for _, reason in REFUSALS} - {"arm_alarm"} <= set(NOT_READY)


def test_every_phase_and_every_reason_has_words() -> None:
    assert set(PHASE_WORDS) == {phase.value for phase in Phase}
    reasons = {row.late for row in PHASES.values()} | {why for row in PHASES.values() for _, why in row.fails}
    assert {reason for reason in reasons if reason} <= set(ARMING_REFUSALS)


def test_a_list_that_nobody_confirms_ends_it() -> None:
    bench = evening()
    bench.tell(CommandKind.ARM)
    bench.run(LIST_S + 2)
    assert (bench.phase, bench.refused, bench.calls) == ("not_armed", "arm_list_unanswered", [])


def test_a_step_that_is_skipped_while_it_is_being_armed_ends_that() -> None:
    bench = evening()
    bench.tell(CommandKind.ARM)
    bench.run(3)
    assert bench.tell(CommandKind.SKIP) is None
    bench.run(2)
    assert (bench.phase, bench.refused) == ("not_armed", "arm_step_left")
