"""A day's worth of plain values for the journal's tests."""

from __future__ import annotations

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId, ProbeName
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle, Probe, ProbeRole, Safety, Supply
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    Profile,
    RestStep,
    Water,
)
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardState, Reading
from kettlebridge.ports import BatchHeader, TickEntry

MASH = ProbeName("mash")

PLAN = Plan(
    kettle=Kettle(
        name=KettleId("copper"),
        capacity_l=35.0,
        heater_w=3000.0,
        mains_v=230.0,
        boil_c=99.4,
        element_cover_l=6.0,
        under_basket_l=7.5,
        loss_w_per_k=3.1,
        boil_off_l_per_h=3.4,
        dead_space_l=1.2,
        grain_absorption_l_per_kg=0.8,
        basket_kg=1.9,
        probe_delay_s=12.0,
        chill=ChillWay.IN_LINE,
        drive=HeaterDrive.SSR,
        has_pump=True,
        has_main_contactor=True,
        probes=(Probe(name=MASH, source="28A1B2C3040506B4", role=ProbeRole.CONTROL, offset_c=-0.2),),
        inputs=BoardInput.FOAM | BoardInput.CONFIRM,
        safety=Safety(limit_c=102.0),
        supply=Supply(circuit="kitchen", max_w=3600.0),
    ),
    profile=Profile(
        name="Pale ale",
        water=Water(fill_l=24.0, sparge_l=6.0, grain_kg=5.2),
        steps=(
            HeatStep(name="Strike", to_c=69.0, ready=True),
            AskStep(name="Dough in", what=AskKind.DOUGH_IN, text="Stir well"),
            RestStep(name="Mash", at_c=66.0, for_min=60.0, pump_after_min=10.0),
            BoilStep(
                name="Boil",
                for_min=60.0,
                additions=(Addition(name="Goldings", kind=AdditionKind.HOPS, grams=30.0, before_end_min=60.0),),
                sanitise_last_min=10.0,
            ),
            HopStandStep(name="Stand", at_c=80.0, for_min=20.0, pump=True),
            ChillStep(name="Chill", way=ChillWay.IN_LINE, to_c=19.0, water_c=12.0),
            CirculateStep(name="Clean", at_c=60.0, for_min=20.0),
        ),
        ready_at="07:00",
    ),
    ready_at_utc_s=1_760_000_400.0,
)


def header(batch: str = "copper-20251009t060000", kettle: str = "copper") -> BatchHeader:
    return BatchHeader(
        batch=BatchId(batch),
        kettle=KettleId(kettle),
        plan=PLAN,
        started_utc_s=1_760_000_000.25,
        program="0.1.0",
        python="3.11.7",
    )


def inputs_at(n: int) -> Inputs:
    """An ordinary second of a rest, with stamps to the millisecond."""
    return Inputs(
        now_s=n + 0.004,
        at_utc_s=1_760_000_000.25 + n,
        readings=(
            Reading(probe=MASH, value_c=20 + (n % 1280) / 16, age_s=0.81),
            Reading(probe=MASH, value_c=20 + (n % 1279) / 16, age_s=0.31),
        ),
        health=BoardHealth(
            linked=True,
            age_s=0.012,
            board=BoardState(
                acted_on=184_460 + 1000 * n,
                heater_permille=350,
                heater_on_ms=90_210 + 350 * n,
                pump_on=True,
                main_contactor_closed=True,
                lease_left_s=2.41,
            ),
        ),
        heater_limit_fraction=1.0,
    )


def entry(
    n: int, *, urgent: bool = False, batch: str = "copper-20251009t060000", events: tuple[Event, ...] = ()
) -> TickEntry:
    return TickEntry(batch=BatchId(batch), n=n, inputs=inputs_at(n), events=events, urgent=urgent)


def step_begun(index: int) -> Event:
    return Event(code=EventCode.STEP_BEGUN, values=(("index", index), ("target_c", 66.0), ("name", "Mash ½ 'n' more")))
