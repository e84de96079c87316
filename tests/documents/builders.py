"""A plan of three steps and a snapshot in the middle of it, from the example kettle."""

from __future__ import annotations

from kettlebridge.files.examples import example_kettles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.forecast import Forecast, Need, Spell, StepTimes, When
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, BoilStep, Plan, Profile, RestStep, StepKind, Water
from kettlebridge.model.snapshot import CallView, OutputsView, Snapshot, StepView


def plan() -> Plan:
    (thimble,) = (path for path in example_kettles() if path.stem == "thimble")
    steps = (
        RestStep(name="Sugar rest", at_c=66.0, for_min=60.0),
        AskStep(name="Lift", what=AskKind.LIFT),
        BoilStep(name="Boil", for_min=60.0),
    )
    water = Water(fill_l=7.0, sparge_l=2.0, grain_kg=1.9)
    return Plan(kettle=load_kettle(thimble).kettle, profile=Profile(name="Short day", water=water, steps=steps))


def foreseen(*, in_s: float = 1320.0, spread_s: float = 0.0, hands_s: float = 480.0) -> Forecast:
    """At batch time 100: the lift in so many seconds, the boil after it."""
    lift = When(at_s=100.0 + in_s, spread_s=spread_s)
    need = Need(index=1, kind="ask", subject="lift", begins=lift, hands_s=hands_s)
    boil = When(at_s=lift.at_s + hands_s, spread_s=spread_s)
    steps = (
        StepTimes(index=0, begins=When(at_s=10.0, spread_s=0.0), ends=lift),
        StepTimes(index=1, begins=lift, ends=boil),
        StepTimes(index=2, begins=boil, ends=When(at_s=boil.at_s + 4000.0, spread_s=spread_s)),
    )
    spell = Spell(need=need, begins=lift, lasts_s=hands_s)
    return Forecast(made_s=100.0, steps=steps, needs=(need,), next_spell=spell)


def snapshot(
    *, index: int = 0, name: str = "Sugar rest", kind: StepKind = StepKind.REST, stage: str = "hold"
) -> Snapshot:
    return Snapshot(
        kettle=KettleId("thimble"),
        batch=BatchId("thimble-20270115T080000"),
        profile="Short day",
        n=100,
        now_s=100.0,
        at_utc_s=1_800_000_100.0,
        state=BatchState.RUNNING,
        hold_cause=None,
        temperature_c=66.4,
        step=StepView(
            index=index,
            count=3,
            name=name,
            kind=kind,
            stage=stage,
            target_c=66.0,
            begun_s=10.0,
            remaining_s=1320.0,
        ),
        calls=(),
        probes=(),
        outputs=OutputsView(
            heater_duty_fraction=0.0,
            heater_permille=0,
            pump_on=False,
            main_contactor_on=False,
            board_heater_permille=0,
            board_pump_on=False,
            board_main_contactor_closed=False,
        ),
        alarms=(),
        linked=True,
        volume_l=7.0,
        energy_kwh=0.5,
        recorded=True,
        forecast=foreseen(),
    )


def call(
    *,
    kind: str,
    subject: str = "",
    at_kettle: bool = False,
    litres: float | None = None,
    kg: float | None = None,
    text: str = "",
) -> CallView:
    return CallView(
        id=f"0.{kind}.0",
        kind=kind,
        subject=subject,
        due_s=50.0,
        raised_s=50.0,
        at_kettle=at_kettle,
        text=text,
        litres=litres,
        kg=kg,
    )
