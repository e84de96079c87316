"""What holds for any input whatever. The laws themselves are bench_kettle.laws_broken, asserted in every tick."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from kettlebridge.core.evidence import Evidence
from kettlebridge.core.felt import Felt
from kettlebridge.core.heat_watch import HeatWatch
from kettlebridge.core.interlocks import IDLE_TIMERS, INTERLOCKS, apply
from kettlebridge.core.ledger import Grain
from kettlebridge.core.outputs import Lowers, Outputs, lowered
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import initial
from kettlebridge.core.tick import tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId, ProbeName
from kettlebridge.model.inputs import Inputs, Resumed
from kettlebridge.model.kettle import HeaterDrive, Kettle, MashTarget, RegulatorKind
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    RestStep,
    StepKind,
)
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardState, Reading, ReadingFault
from tests.core.bench_kettle import BARE, KETTLE, MASH, BenchKettle, laws_broken, plan_of
from tests.core.evidence_with import evidence_with

SUGAR = Addition(name="candi", kind=AdditionKind.SUGAR, grams=500.0, before_end_min=0.1)
DAY: tuple[AnyStep, ...] = (
    AskStep(name="fill", what=AskKind.FILL),
    HeatStep(name="strike", to_c=70.0, pump=True, ready=True),
    AskStep(name="dough in", what=AskKind.DOUGH_IN),
    RestStep(name="rest", at_c=66.0, for_min=0.2, pump_after_min=0.0),
    AskStep(name="lift", what=AskKind.LIFT),
    AskStep(name="sparge", what=AskKind.SPARGE, keep_c=75.0),
    BoilStep(name="boil", for_min=0.5, additions=(SUGAR,), sanitise_last_min=0.2),
    HopStandStep(name="stand", at_c=80.0, for_min=0.1, pump=True),
    ChillStep(name="chill", to_c=20.0, water_c=12.0),
    CirculateStep(name="clean", at_c=60.0, for_min=0.1),
)
FIRST_STAGES: dict[StepKind, str] = {
    StepKind.HEAT: "heat",
    StepKind.ASK: "ask",
    StepKind.REST: "hold",
    StepKind.BOIL: "approach",
    StepKind.HOP_STAND: "stand",
    StepKind.CHILL: "fall",
    StepKind.CIRCULATE: "circulate",
}
KETTLES = [
    KETTLE,
    BARE,
    replace(KETTLE, drive=HeaterDrive.CONTACTOR),
    replace(KETTLE, regulator=RegulatorKind.MODEL, mash_target=MashTarget.BED),
    replace(BARE, regulator=RegulatorKind.MODEL, drive=HeaterDrive.CONTACTOR),
    replace(KETTLE, inputs=~BoardInput.NONE),
]
NUMBERS = st.one_of(st.none(), st.sampled_from([0.0, -1.0, 5.0, 66.0, 1e9, float("nan"), float("inf"), float("-inf")]))
TEMPERATURES = st.sampled_from(
    [-127.0, 0.0, 15.0, 66.0, 67.0, 70.0, 80.5, 85.0, 90.5, 97.0, 99.9, 103.0, 850.0, float("nan"), float("inf")]
)
READINGS = st.one_of(
    st.none(),
    st.sampled_from(ReadingFault),
    TEMPERATURES,
    st.tuples(st.just("again"), st.sampled_from([0.0, 0.4, 5.0, 1e6])),
)
BOARDS = st.builds(
    BoardState,
    acted_on=st.sampled_from([0, 0, 1, 5]),
    heater_permille=st.sampled_from([0, 500, 1000]),
    heater_on_ms=st.just(0),
    pump_on=st.booleans(),
    main_contactor_closed=st.sampled_from([True, True, False]),
    lease_left_s=st.just(1.0),
    inputs=st.sampled_from([*BoardInput, BoardInput.NONE, BoardInput.NONE, BoardInput.FLOW | BoardInput.LEVEL]),
)
COMMANDS: st.SearchStrategy[dict[str, object]] = st.builds(
    dict,
    kind=st.sampled_from(CommandKind),
    at_kettle=st.sampled_from([True, True, False]),
    seen_n=st.one_of(st.none(), st.integers(-5, 40)),
    call=st.one_of(st.none(), st.sampled_from(["0.ask.0", "2.hands_clear.0", "6.boiling.0", "6.hoses.0", "x"])),
    alarm=st.one_of(st.none(), st.just("stale")),
    minutes=NUMBERS,
    target_c=NUMBERS,
    litres=NUMBERS,
    on=st.sampled_from([None, True, False]),
)
MOMENTS = st.tuples(
    st.sampled_from([1.0, 1.0, 1.0, 0.0, 0.2, 4.9, 6.0, 3600.0, -1.0]),
    READINGS,
    st.one_of(st.none(), BOARDS, BOARDS, BOARDS),
    st.lists(COMMANDS, max_size=2),
    st.sampled_from([1.0, 1.0, 0.3, 0.0, 7.0, -1.0, float("nan")]),
    st.sampled_from([None] * 9 + [Resumed(away_s=60.0)]),
)
Moment = tuple[float, object, BoardState | None, list[dict[str, object]], float, Resumed | None]


def inputs_of(moment: Moment, now_s: float, n: int) -> Inputs:
    _, read, board, told, limit, resumed = moment
    readings: tuple[Reading, ...] = ()
    if isinstance(read, ReadingFault):
        readings = (Reading(probe=MASH, fault=read, age_s=0.4),)
    elif isinstance(read, float):
        readings = tuple(Reading(probe=probe, value_c=read, age_s=0.4) for probe in (MASH, ProbeName("x")))
    elif isinstance(read, tuple):
        readings = (Reading(probe=MASH, value_c=66.0, age_s=read[1]),)
    return Inputs(
        now_s=now_s,
        at_utc_s=1.8e9 + now_s,
        readings=readings,
        health=BoardHealth(linked=board is not None, age_s=0.4, board=board),
        commands=tuple(
            Command(id=CommandId(f"{n}.{i}"), who="anybody", **given)  # type: ignore[arg-type]
            for i, given in enumerate(told)
        ),
        heater_limit_fraction=limit,
        resumed=resumed,
    )


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    start=st.sampled_from([None, *range(len(DAY))]),
    kettle=st.sampled_from(KETTLES),
    moments=st.lists(MOMENTS, min_size=5, max_size=25),
)
def test_no_input_raises_or_breaks_a_law(start: int | None, kettle: Kettle, moments: list[Moment]) -> None:
    plan = plan_of(*DAY, kettle=kettle)
    if start is None:
        state = initial(plan)
    else:
        warm = BenchKettle(plan, liquid_c=66.0, stage=FIRST_STAGES[DAY[start].kind], grain=Grain.IN)
        state = warm.state._replace(stage=warm.state.stage._replace(step_index=start))
    now_s = 0.0
    for n, moment in enumerate(moments):
        now_s += moment[0]
        inputs = inputs_of(moment, now_s, n)
        ticked = tick(plan, state, inputs)
        assert laws_broken(plan, state, inputs, ticked) == []
        again = tick(plan, state, inputs)
        assert (again.demands, again.events) == (ticked.demands, ticked.events)
        snapshot(plan, BatchId("b"), ticked.state)
        state = ticked.state


EVIDENCE = st.builds(
    evidence_with,
    st.just(Evidence()),
    batch=st.sampled_from([BatchState.RUNNING, BatchState.RUNNING, BatchState.HELD, BatchState.IDLE]),
    kind=st.one_of(st.none(), st.sampled_from(StepKind)),
    control_c=st.one_of(st.none(), st.floats(-10.0, 115.0)),
    stale_s=st.floats(0.0, 10.0),
    bad_streak=st.integers(0, 6),
    mostly_bad=st.booleans(),
    limit_c=st.just(102.0),
    over_c=st.one_of(st.none(), st.floats(-50.0, 50.0)),
    armed=st.booleans(),
    overdue_s=st.floats(-1e4, 1e4),
    hold_limit_s=st.one_of(st.none(), st.just(7200.0)),
    held_s=st.floats(0.0, 1e4),
    hands_in=st.booleans(),
    sinking=st.booleans(),
    mash=st.booleans(),
    hot_pump=st.booleans(),
    heats_with_pump=st.booleans(),
    drawing_off=st.booleans(),
    volume_l=st.one_of(st.none(), st.floats(0.0, 30.0)),
    cover_l=st.just(4.0),
    wants_heat=st.booleans(),
    wants_pump=st.booleans(),
)
WANTS = st.builds(
    Outputs,
    heater_permille=st.integers(0, 1000),
    pump_on=st.booleans(),
    main_contactor_on=st.booleans(),
    buzzer=st.integers(0, 3),
)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(evidence=EVIDENCE, wants=WANTS, held_s=st.floats(0.0, 30.0))
def test_interlocks_only_lower(evidence: Evidence, wants: Outputs, held_s: float) -> None:
    _, timers, _ = apply(evidence, wants, IDLE_TIMERS, 0.0)
    left, _, acting = apply(evidence, wants, timers, held_s)
    assert left.heater_permille in {0, wants.heater_permille}
    assert left.pump_on <= wants.pump_on
    assert left.main_contactor_on <= wants.main_contactor_on
    assert left.buzzer == wants.buzzer
    if any(row.trips for row in acting):
        assert (left.heater_permille, left.main_contactor_on) == (0, False)


ODD: dict[str, tuple[object, ...]] = {
    "batch": (BatchState.RUNNING, BatchState.RUNNING, BatchState.HELD),
    "kind": (None, *StepKind),
    "control_c": (None, 60.01, 66.0, 80.01, 90.01, 102.01),
    "stale_s": (0.4, 3.01),
    "bad_streak": (0, 4),
    "mostly_bad": (False, True),
    "limit_c": (60.0, 102.0),
    "over_c": (None, -1.0, 2.51, 5.01),
    "armed": (False, True),
    "overdue_s": (-1e9, 7200.1),
    "hold_limit_s": (None, 7200.0),
    "held_s": (0.0, 7200.1),
    "hands_in": (False, True),
    "sinking": (False, True),
    "mash": (False, True),
    "hot_pump": (False, True),
    "heats_with_pump": (False, True),
    "drawing_off": (False, True),
    "volume_l": (None, 3.99, 4.79, 20.0),
    "cover_l": (4.0,),
    "wants_heat": (False, True),
    "wants_pump": (False, True),
    "watch": (
        HeatWatch(),
        HeatWatch(lack_c=0.61),
        HeatWatch(fast_c=2.0),
        HeatWatch(stray_c=1.0),
        HeatWatch(same_c=-2.0),
        HeatWatch(left_j=-1.0),
    ),
    "open_s": (0.0, 121.0),
    "risen_c": (0.0, 5.0),
    "unlinked_s": (0.0, 3.01),
    "fallen_c": (0.0, 3.01),
    "apart_c": (0.0, 5.01),
    "bed_lag_c": (0.0, 5.01),
    "felt": (Felt(), Felt(level=True), Felt(cut_out=True), Felt(foam=True), Felt(stop=True)),
    "wet": (False, True),
    "beyond_told": (False, True),
    "below_told": (False, True),
    "flow_wanted": (False, True),
    "flow_stray": (False, True),
    "boots_s": ((), (0.0, 1.0, 2.0)),
    "unattended": (False, True),
}
"""What the rules look at, on either side of where they begin to hold."""


def test_a_rule_holds_nowhere_but_on_its_ground() -> None:
    rng = Random(0)  # noqa: S311  # the same each time
    held: set[str] = set()
    for _ in range(3000):
        evidence = evidence_with(Evidence(), **{name: rng.choice(values) for name, values in ODD.items()})
        holding = [row for row in INTERLOCKS if row.when(evidence)]
        assert [row.code for row in holding if not row.where(evidence)] == []
        held.update(row.code for row in holding)
    assert held == {row.code for row in INTERLOCKS}


def test_lowering_takes_down_what_it_names_and_nothing_else() -> None:
    everything = product((Lowers(bits) for bits in range(8)), (0, 700), (False, True), (False, True))
    for what, heater, pump, contactor in everything:
        left = lowered(Outputs(heater, pump, contactor, 2), what)
        assert left.heater_permille == (0 if Lowers.HEATER in what else heater)
        assert left.pump_on is (pump and Lowers.PUMP not in what)
        assert left.main_contactor_on is (contactor and Lowers.CONTACTOR not in what)
        assert left.buzzer == 2


def test_a_rule_needs_its_time_without_a_break() -> None:
    slow = [row for row in INTERLOCKS if row.for_s]
    assert [row.code for row in slow] == [
        "over_set_point",
        "over_limit",
        "beyond_told",
        "below_told",
        "apart",
        "no_heat",
        "no_flow",
        "level_low",
        "stray_flow",
        "bed_stuck",
    ]
    hot = Evidence(batch=BatchState.RUNNING, control_c=103.0, stale_s=0.0, limit_c=102.0, volume_l=20.0)
    cool = hot._replace(control_c=60.0)
    timers = IDLE_TIMERS
    codes = []
    for second, evidence in enumerate([hot] * 4 + [cool] + [hot] * 6):
        _, timers, acting = apply(evidence, Outputs(), timers, float(second))
        codes.append("over_limit" in [row.code for row in acting])
    assert codes == [False] * 10 + [True]


def _same_day(plan: Plan) -> list[object]:
    bench = BenchKettle(plan, liquid_c=65.0, stage="hold", grain=Grain.IN)
    bench.run(40)
    return [bench.events, bench.state]


def test_the_same_inputs_make_the_same_state_and_events() -> None:
    plan = plan_of(RestStep(name="r", at_c=66.0, for_min=0.2, pump_after_min=0.0), DAY[4])
    assert _same_day(plan) == _same_day(plan)


FAULTS: dict[str, dict[str, object]] = {
    "silence": {"reads": lambda: None},
    "bad readings": {"reads": lambda: ReadingFault.BAD_CRC},
    "not a number": {"reads": lambda: float("nan")},
    "cut-out": {"inputs_on": BoardInput.CUTOUT},
    "level": {"inputs_on": BoardInput.LEVEL},
    "hot": {"reads": lambda: 103.0, "liquid_c": 103.0},
}
RESETS = frozenset({CommandKind.CARRY_ON, CommandKind.RESET, CommandKind.START})
ANYTHING = st.lists(st.lists(COMMANDS, max_size=2), min_size=3, max_size=15)


def faulty(fault: str) -> BenchKettle:
    """A kettle that was heating until a fault held it."""
    bench = BenchKettle(plan_of(HeatStep(name="water", to_c=100.0), kettle=KETTLES[-1]), liquid_c=50.0, stage="heat")
    bench.run(20)
    assert bench.heater == 1000
    for name, value in FAULTS[fault].items():
        setattr(bench, name, value)
    bench.run(15)
    assert bench.batch is BatchState.HELD
    return bench


@settings(max_examples=20, deadline=None, derandomize=True)
@given(fault=st.sampled_from(sorted(FAULTS)), said=ANYTHING)
def test_a_latched_trip_leaves_only_by_its_reset(fault: str, said: list[list[dict[str, object]]]) -> None:
    bench = faulty(fault)
    bench.reads, bench.liquid_c, bench.inputs_on = lambda: bench.liquid_c, 50.0, BoardInput.NONE
    for n, told in enumerate(said):
        others = [given for given in told if given["kind"] not in RESETS]
        bench.tick(*(Command(id=CommandId(f"{n}.{i}"), who="anybody", **given) for i, given in enumerate(others)))  # type: ignore[arg-type]
        assert bench.batch in {BatchState.HELD, BatchState.STOPPING, BatchState.STOPPED, *ABORTS}
        assert bench.off
        assert any(record.safety for record in bench.state.alarms)


ABORTS = (BatchState.ABORTING, BatchState.ABORTED)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(fault=st.sampled_from(["silence", "bad readings", "not a number"]), said=ANYTHING)
def test_whatever_is_said_an_old_or_bad_reading_heats_nothing(fault: str, said: list[list[dict[str, object]]]) -> None:
    bench = faulty(fault)
    for n, told in enumerate(said):
        bench.tick(*(Command(id=CommandId(f"{n}.{i}"), who="anybody", **given) for i, given in enumerate(told)))  # type: ignore[arg-type]
        assert bench.off


@settings(max_examples=20, deadline=None, derandomize=True)
@given(start=st.sampled_from(range(len(DAY))), said=ANYTHING, age=st.sampled_from([None, -5, 0, 10**6]))
def test_stop_all_heat_is_obeyed_in_its_tick_whatever_was_said_before(
    start: int, said: list[list[dict[str, object]]], age: int | None
) -> None:
    bench = BenchKettle(plan_of(*DAY), liquid_c=66.0, stage=FIRST_STAGES[DAY[start].kind], grain=Grain.IN)
    bench.state = bench.state._replace(stage=bench.state.stage._replace(step_index=start))
    for n, told in enumerate(said):
        bench.tick(*(Command(id=CommandId(f"{n}.{i}"), who="anybody", **given) for i, given in enumerate(told)))  # type: ignore[arg-type]
    bench.tick(Command(id=CommandId("stop"), kind=CommandKind.STOP_HEAT, who="anybody", at_kettle=False, seen_n=age))
    assert bench.off
